"""What the writer's thread does between commits: seal blocks, build heads anew, give space back.

One small step at a time, each its own transaction, so that a commit never waits for more than one block.
"""

import sqlite3
import threading
from collections import deque
from collections.abc import Iterable

from monitor.store.records import Firing, SiteConversion
from monitor.store.sealing import Sealer, rebuild_heads, stale_blocks


class Tidier:
    """Knows what is to be tidied; `use_conversion`, `add_firing` and `end_firing` may be called from any thread."""

    def __init__(self, firings: Iterable[Firing]) -> None:
        self._lock = threading.Lock()
        self._open = {firing.id for firing in firings if firing.ended is None}
        self._conversion: SiteConversion | None = None
        self._to_check: str | None = None
        self._stale: deque[int] = deque()
        self._has_space_to_give = False
        self.sealed_blocks = 0

    def add_firing(self, firing: str) -> None:
        """Take note of a new firing: its last hour stays in the tail."""
        with self._lock:
            self._open.add(firing)

    def end_firing(self, firing: str) -> None:
        """Take note of a firing's end: all of its tail is to be sealed."""
        with self._lock:
            self._open.discard(firing)

    def use_conversion(self, firing: str, conversion: SiteConversion) -> None:
        """Build heads by `conversion` from now on, and those of `firing` anew where another made them."""
        with self._lock:
            self._conversion = conversion
            self._to_check = firing

    def step(self, connection: sqlite3.Connection, sealer: Sealer) -> bool:
        """Do one step; False where nothing was left to do."""
        with self._lock:
            conversion, to_check, open_firings = self._conversion, self._to_check, frozenset(self._open)
            self._to_check = None
        if conversion is not None and to_check is not None:
            self._stale = deque(stale_blocks(connection, to_check, conversion.key))
        if (part := sealer.due(open_firings)) is not None:
            sealer.seal(connection, *part, conversion)
            self.sealed_blocks += 1
            self._has_space_to_give = True
            return True
        if self._stale and conversion is not None:
            rebuild_heads(connection, self._stale.popleft(), conversion)
            return True
        if self._has_space_to_give:
            self._has_space_to_give = False
            give_space_back(connection, is_resting=sealer.is_tail_empty)
        return False


def give_space_back(connection: sqlite3.Connection, *, is_resting: bool) -> None:
    """Bring the write-ahead log into the file and empty it, unless a reader needs it; at rest also free unused pages.

    While a firing runs, pages that sealing leaves are used again by the next hour's scans.
    """
    if is_resting:
        connection.executescript("PRAGMA incremental_vacuum")  # `execute` would take one step: one page
    (patience_ms,) = connection.execute("PRAGMA busy_timeout").fetchone()
    connection.execute("PRAGMA busy_timeout = 0")
    try:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
    finally:
        connection.execute(f"PRAGMA busy_timeout = {patience_ms}")
