"""The service's hand on the store: firings, what goes in, what is known to be kept, and a full disk survived.

Lives in the event loop; the store's writer works in a thread of its own and is never waited for, except by those who
were promised that something is kept. Where the disk is full at the start, everything is held in memory, within bounds,
until the store opens.
"""

import asyncio
import shutil
from collections import deque
from collections.abc import Awaitable, Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path
from typing import TypeVar

from monitor.exits import NOT_AVAILABLE, CommandError
from monitor.model import Entry, Finding
from monitor.pipeline import Accepted, Outcome
from monitor.store.errors import StoreDamagedError, StoreError, StoreUnavailableError
from monitor.store.opening import Store, open_store, set_aside
from monitor.store.reader import Reader
from monitor.store.records import Committed, Firing, SiteConversion, StateSnapshot, StoredScan
from monitor.store.writer import Writer

LEAST_FREE_BYTES = 2**20
HELD_OUTCOMES = 4 * 3600
"""Outcomes held while the store cannot open: four hours of one node at 1 Hz."""
COMMIT_LIMIT_S = 5.0

T = TypeVar("T")


class Recorder:
    """Keeps one service's firings in one data directory.

    `on_commit`, if set, is called in the event loop with each newly committed row. `firing` is the open one; `error`
    tells why nothing can be kept now; `set_aside_at` where a damaged database was moved.
    """

    def __init__(
        self,
        directory: Path,
        *,
        kiln: str,
        site_text: str,
        conversion: SiteConversion,
    ) -> None:
        self.on_commit: Callable[[int], None] | None = None
        self.firing: Firing | None = None
        self.set_aside_at: Path | None = None
        self.newest_clock = 0.0
        self.held_dropped = 0
        self._directory = directory
        self._kiln = kiln
        self._site_text = site_text
        self._conversion = conversion
        self._loop = asyncio.get_running_loop()
        self._store: Store | None = None
        self._writer: Writer | None = None
        self._reader: Reader | None = None
        self._reading = ThreadPoolExecutor(1, thread_name_prefix="history")
        self._opening_error: str | None = None
        self._held: deque[Outcome] = deque()
        self._promises: deque[tuple[int, asyncio.Future[None]]] = deque()
        self._ticket_on_disk = 0

    def open(self, stamp: str) -> None:
        """Open the data directory; a damaged database is moved aside under `stamp`, a full disk is waited out.

        Raises:
            CommandError: the directory is in use, cannot be written, or belongs to a newer version.
        """
        try:
            self._use(self._opened(stamp))
        except StoreUnavailableError as error:
            if not self._disk_is_full():
                raise CommandError(NOT_AVAILABLE, str(error)) from error
            self._opening_error = f"{error}; going on from memory"
        except StoreError as error:
            raise CommandError(NOT_AVAILABLE, str(error)) from error

    def _opened(self, stamp: str) -> Store:
        try:
            return open_store(self._directory)
        except StoreDamagedError:
            self.set_aside_at = set_aside(self._directory, stamp)
            return open_store(self._directory)

    def _use(self, store: Store) -> None:
        try:
            self._reader = store.reader()
        except BaseException:
            store.release()
            raise
        self._store = store
        self._writer = store.start_writer(self._committed_in_thread)
        self._opening_error = None
        self.newest_clock = store.newest_clock
        self.firing = store.open_firing
        if self.firing is not None:
            self._writer.use_conversion(self.firing.id, self._conversion)

    def _disk_is_full(self) -> bool:
        existing = next(p for p in (self._directory, *self._directory.absolute().parents) if p.exists())
        return shutil.disk_usage(existing).free < LEAST_FREE_BYTES

    def retry(self, stamp: str, judged_again: Callable[[list[Outcome]], list[Outcome]] = list) -> int:
        """Try again to open a store that could not be opened for want of space, and hand over what was held.

        Where a firing is open in it, what was held goes through `judged_again` first: it follows upon what is stored.
        Return the newest row of what was handed over, or 0.
        """
        if self._writer is not None or not self._opening_error:
            return 0
        try:
            self._use(self._opened(stamp))
        except StoreError as error:
            self._opening_error = f"{error}; going on from memory"
            return 0
        held, self._held = list(self._held), deque()
        if self.firing is not None:
            held = judged_again(held)
        return max([self.record(outcome) for outcome in held], default=0)

    @property
    def error(self) -> str | None:
        """Why nothing can be kept now, None while all is well."""
        if self._writer is None:
            return self._opening_error or "the store is not open"
        return self._writer.status().error

    def counts(self) -> dict[str, int]:
        """Return what the store had to give up or try again, by kind."""
        if self._writer is None:
            return {"held_dropped": self.held_dropped}
        status = self._writer.status()
        return {
            "held_dropped": self.held_dropped,
            "dropped_scans": status.dropped_scans,
            "dropped_records": status.dropped_records,
            "failed_commits": status.failed_commits,
            "sealed_blocks": status.sealed_blocks,
        }

    def saved_state(self) -> StateSnapshot | None:
        """Return the newest state kept for the open firing."""
        return None if self._reader is None or self.firing is None else self._reader.snapshot(self.firing.id)

    def scans_after(self, row: int) -> Iterator[StoredScan]:
        """Yield the open firing's stored scans beyond `row`, in order of arrival; damaged blocks are passed over."""
        if self._reader is None or self.firing is None:
            return iter(())
        return self._reader.scans_in_arrival_order(self.firing.id, after_row=row, on_damage=lambda _: None)

    def stored_findings(self) -> list[Finding]:
        """Return the open firing's findings as they became known."""
        return [] if self._reader is None or self.firing is None else self._reader.findings(self.firing.id)

    def stored_entries(self) -> list[Entry]:
        """Return what people told in the open firing, in the order in which it was told."""
        return [] if self._reader is None or self.firing is None else self._reader.entries(self.firing.id)

    def begin_firing(self, begun: float) -> Firing | None:
        """Begin a firing at epoch seconds `begun`; None where nothing can be kept."""
        if self._writer is None:
            return None
        self.firing = self._writer.begin_firing(begun, self._kiln, self._site_text)
        self._writer.use_conversion(self.firing.id, self._conversion)
        return self.firing

    def end_firing(self, ended: float) -> Firing | None:
        """End the open firing at epoch seconds `ended` and return it; None where none is open."""
        if self._writer is None or self.firing is None:
            return None
        closed = self._writer.end_firing(self.firing.id, ended)
        self.firing = None
        return closed

    def record(self, outcome: Outcome) -> int:
        """Hand over what followed from some events; the first scan begins a firing. Return the newest row, or 0."""
        if self._writer is None:
            if outcome.accepted or outcome.findings or outcome.alarm_changes or outcome.entries:
                self._hold(outcome)
            return 0
        row = 0
        for accepted in outcome.accepted:
            row = self._record_scan(self._writer, accepted)
        firing = "" if self.firing is None else self.firing.id
        for finding in outcome.findings:
            self._writer.submit_finding(firing, finding)
        for entry in outcome.entries:
            self._writer.submit_entry(firing, entry)
        for change in outcome.alarm_changes:
            self._writer.submit_alarm_change(firing, change)
        return row

    def _record_scan(self, writer: Writer, accepted: Accepted) -> int:
        if self.firing is None:
            self.begin_firing(accepted.arrival.scan.time)
        assert self.firing is not None
        return writer.submit_scan(self.firing.id, accepted.arrival, late=accepted.is_late)

    def _hold(self, outcome: Outcome) -> None:
        if len(self._held) >= HELD_OUTCOMES:
            self._held.popleft()
            self.held_dropped += 1
        self._held.append(outcome)

    def keep_state(self, clock: float, state: bytes) -> None:
        """Hand over the pipeline's state after all that was recorded so far."""
        if self._writer is not None and self.firing is not None:
            self._writer.submit_snapshot(self.firing.id, clock, state)

    async def kept(self) -> bool:
        """Wait until everything handed over so far is on disk; False where that takes too long."""
        if self._writer is None:
            return False
        ticket = self._writer.newest_ticket
        if ticket <= self._ticket_on_disk:
            return True
        promise = self._loop.create_future()
        self._promises.append((ticket, promise))
        try:
            async with asyncio.timeout(COMMIT_LIMIT_S):
                await promise
        except TimeoutError:
            return False
        return True

    def _committed_in_thread(self, committed: Committed) -> None:
        with suppress(RuntimeError):  # the loop may have ended: nobody waits any more
            self._loop.call_soon_threadsafe(self._committed, committed)

    def _committed(self, committed: Committed) -> None:
        self._ticket_on_disk = committed.ticket
        while self._promises and self._promises[0][0] <= committed.ticket:
            _, promise = self._promises.popleft()
            if not promise.done():
                promise.set_result(None)
        if self.on_commit is not None:
            self.on_commit(committed.row)

    def read(self, question: Callable[[Reader], T]) -> Awaitable[T]:
        """Ask the store something in its reading thread.

        Raises:
            StoreUnavailableError: the store is not open.
        """
        reader = self._reader
        if reader is None:
            raise StoreUnavailableError(self.error or "the store is not open")
        return self._loop.run_in_executor(self._reading, question, reader)

    @property
    def conversion(self) -> SiteConversion:
        """How stored scans become temperatures for charts."""
        return self._conversion

    def close(self) -> int:
        """Store what waits and let go of the directory; return how many records could not be stored."""
        self._reading.shutdown(wait=True, cancel_futures=True)
        lost = len(self._held)
        if self._reader is not None:
            self._reader.close()
        if self._writer is not None:
            lost += self._writer.close()
        if self._store is not None:
            self._store.release()
        return lost
