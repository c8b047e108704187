"""Records on their way to disk: bounded, in order, and whatever had to be dropped is counted.

The meeting point of those who submit and the one thread that commits. While the disk takes everything this holds
about a second. While it does not, up to four hours of scans wait; beyond that the oldest scan goes, since the newest
tell what the kiln does now.
"""

import threading
import time
from collections import deque
from dataclasses import dataclass
from itertools import islice
from typing import Any

LONGEST_WAIT_S = 4 * 3600.0
"""Record time that waiting scans may span, seconds."""
MOST_BYTES = 24 * 2**20
"""Bytes of waiting scans beyond which the oldest goes, too: the whole service has 80 MB."""
MOST_RECORDS = 20_000
"""Waiting records other than scans."""
SCAN_OVERHEAD_BYTES = 500
"""What a waiting scan takes beside its cells; a test measures it."""


@dataclass(frozen=True, slots=True)
class Pending:
    """One statement to execute; `ticket` rises from record to record, `row` is 0 for anything but a scan.

    Of records with the same `replaces` only the newest is kept.
    """

    ticket: int
    statement: str
    values: tuple[Any, ...]
    row: int = 0
    clock: float = 0.0
    size: int = 0
    replaces: str | None = None


class Backlog:
    """A queue that many threads fill and one empties. What was taken still waits here until `forget`."""

    def __init__(self) -> None:
        self._wake = threading.Condition()
        self._scans: deque[Pending] = deque()
        self._records: deque[Pending] = deque()
        self._bytes = 0
        self._ticket = 0
        self._urgent_ticket = 0
        self._done_ticket = 0
        self._stopping = False
        self._is_nudged = False
        self.dropped_scans = 0
        self.dropped_records = 0

    def __len__(self) -> int:
        return len(self._scans) + len(self._records)

    def add_scan(self, statement: str, values: tuple[Any, ...], *, row: int, clock: float, size: int) -> int:
        """Add a scan at the end, return its ticket; the oldest go where a bound is passed."""
        with self._wake:
            self._ticket += 1
            self._scans.append(Pending(self._ticket, statement, values, row, clock, size))
            self._bytes += size + SCAN_OVERHEAD_BYTES
            self._trim()
            self._wake.notify_all()
            return self._ticket

    def add_record(
        self, statement: str, values: tuple[Any, ...], *, is_urgent: bool = False, replaces: str | None = None
    ) -> int:
        """Add any other record at the end, return its ticket; an urgent one takes all before it along at once."""
        with self._wake:
            self._ticket += 1
            if replaces is not None:
                self._records = deque(r for r in self._records if r.replaces != replaces)
            self._records.append(Pending(self._ticket, statement, values, replaces=replaces))
            if is_urgent:
                self._urgent_ticket = self._ticket
            self._trim()
            self._wake.notify_all()
            return self._ticket

    def take(self, most_scans: int) -> list[Pending]:
        """Return the oldest records in order, at most so many scans; they stay until `forget`."""
        with self._wake:
            scans = list(islice(self._scans, most_scans))
            is_all = len(scans) == len(self._scans)
            limit = self._ticket + 1 if is_all else self._scans[len(scans)].ticket
            records = [r for r in self._records if r.ticket < limit]
        return sorted(scans + records, key=lambda pending: pending.ticket)

    @property
    def newest_ticket(self) -> int:
        """The ticket of the record that came last, 0 before the first."""
        return self._ticket

    def forget(self, ticket: int) -> None:
        """Let go of everything up to a ticket: it is on disk."""
        with self._wake:
            while self._scans and self._scans[0].ticket <= ticket:
                self._bytes -= self._scans.popleft().size + SCAN_OVERHEAD_BYTES
            while self._records and self._records[0].ticket <= ticket:
                self._records.popleft()
            self._done_ticket = ticket
            self._wake.notify_all()

    def wait_for_work(self, commit_at: float, tidy_at: float) -> bool:
        """Wait until a commit or tidying is due (seconds of `time.monotonic`), or a nudge; return whether to stop."""
        with self._wake:
            while not (self._stopping or self._is_nudged):
                now = time.monotonic()
                waits = len(self) > 0
                if now >= tidy_at or (waits and (now >= commit_at or self._urgent_ticket > self._done_ticket)):
                    break
                left_s = min(tidy_at, commit_at if waits else tidy_at) - now
                self._wake.wait(min(left_s, threading.TIMEOUT_MAX))
            self._is_nudged = False
            return self._stopping

    def nudge(self) -> None:
        """Have the thread look again at what is due."""
        with self._wake:
            self._is_nudged = True
            self._wake.notify_all()

    def pause(self, seconds: float) -> None:
        """Wait so long, or until told to stop."""
        with self._wake:
            self._wake.wait_for(lambda: self._stopping, seconds)

    def flush(self, timeout_s: float) -> bool:
        """Have everything added so far committed at once, wait for it; False where that took too long."""
        with self._wake:
            ticket = self._urgent_ticket = self._ticket
            self._wake.notify_all()
            return self._wake.wait_for(lambda: self._done_ticket >= ticket, timeout_s)

    def stop(self) -> None:
        """Tell the thread that commits to end."""
        with self._wake:
            self._stopping = True
            self._wake.notify_all()

    def _trim(self) -> None:
        while len(self._scans) > 1 and (
            self._scans[-1].clock - self._scans[0].clock > LONGEST_WAIT_S or self._bytes > MOST_BYTES
        ):
            self._bytes -= self._scans.popleft().size + SCAN_OVERHEAD_BYTES
            self.dropped_scans += 1
        while len(self._records) > MOST_RECORDS:
            self._records.popleft()
            self.dropped_records += 1
