"""The thread that commits: takes what waits, writes it in one transaction, tidies in between.

A commit that fails leaves everything in the backlog and is tried again with growing waits on a new connection, for as
long as it takes (a full disk lets INSERT succeed and COMMIT fail, so only the end of COMMIT counts).
"""

import sqlite3
import threading
import time
from collections.abc import Callable
from pathlib import Path

from monitor.store.backlog import Backlog, Pending
from monitor.store.connection import store_error, transaction
from monitor.store.records import Committed
from monitor.store.sealing import Sealer
from monitor.store.tidying import Tidier

OnCommit = Callable[[Committed], None]
Connect = Callable[[Path], sqlite3.Connection]

MOST_SCANS_A_COMMIT = 5000
FIRST_RETRY_S = 0.5
LONGEST_RETRY_S = 10.0
TIDY_RETRY_S = 60.0


class Committer(threading.Thread):
    """Runs until the backlog says stop; then commits once more what waits, and ends."""

    def __init__(
        self, file: Path, backlog: Backlog, tidier: Tidier, *, on_commit: OnCommit, every_s: float, connect: Connect
    ) -> None:
        super().__init__(name="store-writer", daemon=True)
        self._file = file
        self._backlog = backlog
        self._tidier = tidier
        self._on_commit = on_commit
        self._every_s = every_s
        self._connect = connect
        self._connection: sqlite3.Connection | None = None
        self._sealer: Sealer | None = None
        self._commit_at = 0.0
        self._tidy_at = 0.0
        self._retry_s = FIRST_RETRY_S
        self.commit_error: str | None = None
        self.tidy_error: str | None = None
        self.failed_commits = 0
        self.committed_row = 0
        self.commit_s = 0.0

    def tidy_soon(self) -> None:
        """Have the thread look for something to tidy now."""
        self._tidy_at = 0.0
        self._backlog.nudge()

    def run(self) -> None:
        """Commit and tidy until told to stop."""
        while not self._backlog.wait_for_work(self._commit_at, self._tidy_at):
            if not self._commit():
                self._backlog.pause(self._retry_s)
                self._retry_s = min(2 * self._retry_s, LONGEST_RETRY_S)
            elif time.monotonic() >= self._tidy_at:
                self._tidy()
        while len(self._backlog) and self._commit():
            pass
        self._disconnect()

    def _commit(self) -> bool:
        """Commit what waits; return whether that went well."""
        batch = self._backlog.take(MOST_SCANS_A_COMMIT)
        if not batch:
            return True
        begun = time.monotonic()
        try:
            sealer = self._write(batch)
            self.commit_s = time.monotonic() - begun
            if self.commit_error is not None:
                self._tidy_at = 0.0  # what cured the commits has likely cured sealing too
            self.commit_error = None
            self._commit_at = begun + self._every_s
            self._retry_s = FIRST_RETRY_S
            self._settle(batch, sealer)
        except Exception as error:  # noqa: BLE001 - top of the thread: the fault is shown, and tried again
            self.commit_error = self._words(error)
            self.failed_commits += 1
            self._disconnect()
            return False
        return True

    def _write(self, batch: list[Pending]) -> Sealer:
        connection, sealer = self._connected()
        with transaction(connection):
            for pending in batch:
                connection.execute(pending.statement, pending.values)
        return sealer

    def _settle(self, batch: list[Pending], sealer: Sealer) -> None:
        for pending in batch:
            if pending.row:
                sealer.count(pending.values[1], pending.values[2], pending.clock)
                self.committed_row = pending.row
        if self.tidy_error is None:
            self._tidy_at = 0.0
        self._backlog.forget(batch[-1].ticket)
        self._on_commit(Committed(self.committed_row, batch[-1].ticket))

    def _tidy(self) -> None:
        try:
            connection, sealer = self._connected()
            has_more = self._tidier.step(connection, sealer)
            self._tidy_at = 0.0 if has_more else float("inf")
            self.tidy_error = None
        except Exception as error:  # noqa: BLE001 - top of the thread: the fault is shown, and tried again
            self.tidy_error = f"blocks cannot be sealed: {self._words(error)}"
            self._tidy_at = time.monotonic() + TIDY_RETRY_S
            self._disconnect()

    def _connected(self) -> tuple[sqlite3.Connection, Sealer]:
        if self._connection is None or self._sealer is None:
            self._connection = self._connect(self._file)
            self._sealer = Sealer(self._connection)
        return self._connection, self._sealer

    def _disconnect(self) -> None:
        connection, self._connection, self._sealer = self._connection, None, None
        if connection is not None:
            connection.close()

    def _words(self, error: Exception) -> str:
        if isinstance(error, sqlite3.Error):
            return str(store_error(self._file, error))
        return f"{type(error).__name__}: {error}"
