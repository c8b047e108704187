"""The one way to write: submitting never waits, a thread of its own commits (`committing.py`)."""

import threading
from dataclasses import dataclass, replace
from pathlib import Path

from monitor.model import Arrival, Entry, Finding
from monitor.store import statements as sql
from monitor.store.backlog import Backlog
from monitor.store.committing import Committer, Connect, OnCommit
from monitor.store.connection import connect_writer
from monitor.store.records import ChangedAlarm, Firing, SiteConversion, WriterStatus
from monitor.store.tidying import Tidier

COMMIT_EVERY_S = 0.9
"""A little under a second, so that scans that come once a second are each committed as they come."""
CLOSE_S = 2.0


@dataclass(frozen=True, slots=True)
class WriterStart:
    """What the writer goes on from: the file, the highest row ever given, the firings there are."""

    file: Path
    newest_row: int
    firings: tuple[Firing, ...]


class Writer:
    """Takes records from any thread. Rows count scans, tickets rise with every record; see `Committed`."""

    def __init__(
        self,
        start: WriterStart,
        on_commit: OnCommit,
        *,
        commit_every_s: float = COMMIT_EVERY_S,
        connect: Connect = connect_writer,
    ) -> None:
        self._lock = threading.Lock()
        self._row = start.newest_row
        self._firings = {firing.id: firing for firing in start.firings}
        self._backlog = Backlog()
        self._tidier = Tidier(start.firings)
        self._committer = Committer(
            start.file, self._backlog, self._tidier, on_commit=on_commit, every_s=commit_every_s, connect=connect
        )
        self._committer.committed_row = start.newest_row
        self._committer.start()

    def begin_firing(self, begun: float, kiln: str, site: str) -> Firing:
        """Begin a firing at epoch seconds `begun`; return it with its id."""
        with self._lock:
            firing = Firing(sql.firing_id(begun, set(self._firings)), begun, None, kiln, site)
            self._firings[firing.id] = firing
            self._tidier.add_firing(firing.id)
            self._backlog.add_record(sql.ADD_FIRING, sql.firing_values(firing), is_urgent=True)
            return firing

    def end_firing(self, firing: str, ended: float) -> Firing:
        """End a firing at epoch seconds `ended`, all its scans are sealed soon after; return it.

        Raises:
            KeyError: there is no such firing.
        """
        with self._lock:
            closed = self._firings[firing] = replace(self._firings[firing], ended=ended)
            self._backlog.add_record(sql.END_FIRING, (ended, firing), is_urgent=True)
            self._tidier.end_firing(firing)
            return closed

    def use_conversion(self, firing: str, conversion: SiteConversion) -> None:
        """Build heads by `conversion` from now on, and anew where those of `firing` were made by another."""
        self._tidier.use_conversion(firing, conversion)
        self._committer.tidy_soon()

    def submit_scan(self, firing: str, arrival: Arrival, *, late: bool = False) -> int:
        """Hand over an accepted scan, its time already absolute; return its row.

        Raises:
            ValueError: the scan names an input twice.
        """
        with self._lock:
            row = self._row + 1
            values = sql.scan_values(row, firing, arrival, late=late)
            self._row = row
            self._backlog.add_scan(sql.ADD_SCAN, values, row=row, clock=arrival.clock, size=len(values[-1]))
            return row

    def submit_finding(self, firing: str, finding: Finding) -> int:
        """Hand over a finding; return its ticket. One that is stored already is not stored again."""
        return self._backlog.add_record(sql.ADD_FINDING, sql.finding_values(firing, finding))

    def submit_entry(self, firing: str, entry: Entry) -> int:
        """Hand over what somebody told, to be committed at once; return its ticket. One id is stored once a firing."""
        return self._backlog.add_record(sql.ADD_ENTRY, sql.entry_values(firing, entry), is_urgent=True)

    def submit_alarm_change(self, firing: str, change: ChangedAlarm) -> int:
        """Hand over a line of the alarm journal, to be committed at once; return its ticket.

        `firing` is "" between firings. A change that is stored already is not stored again.
        """
        return self._backlog.add_record(sql.ADD_ALARM_CHANGE, sql.alarm_change_values(firing, change), is_urgent=True)

    def submit_snapshot(self, firing: str, clock: float, state: bytes) -> int:
        """Hand over the pipeline's state after all scans submitted so far; return its ticket.

        It is committed together with those scans or after them, and takes the place of the one before.
        """
        with self._lock:
            values = (firing, self._row, clock, state)
            return self._backlog.add_record(sql.PUT_SNAPSHOT, values, replaces=f"snapshot {firing}")

    @property
    def newest_ticket(self) -> int:
        """The ticket of the record that was handed over last, of whatever kind; 0 before the first."""
        return self._backlog.newest_ticket

    def flush(self, timeout_s: float = CLOSE_S) -> bool:
        """Have everything submitted so far committed now; wait for it; False where that took too long."""
        return self._backlog.flush(timeout_s)

    def status(self) -> WriterStatus:
        """Return how the writer stands; never waits for the disk."""
        thread = self._committer
        error = thread.commit_error or thread.tidy_error
        return WriterStatus(
            error=error if thread.is_alive() else error or "the writer has ended",
            committed_row=thread.committed_row,
            waiting=len(self._backlog),
            dropped_scans=self._backlog.dropped_scans,
            dropped_records=self._backlog.dropped_records,
            failed_commits=thread.failed_commits,
            commit_s=thread.commit_s,
            sealed_blocks=self._tidier.sealed_blocks,
        )

    def close(self, timeout_s: float = CLOSE_S) -> int:
        """Commit what waits, once, and end the thread; return how many records could not be stored."""
        self._backlog.stop()
        self._committer.join(timeout_s)
        return len(self._backlog)
