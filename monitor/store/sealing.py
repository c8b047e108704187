"""Sealing: about an hour of one node's scans leaves the tail for one compressed block, in one transaction.

An hour is one of the arrival clock, so a block is complete once the clock has passed it: what comes later, however old
its own time, belongs to a later block.
"""

import sqlite3
from dataclasses import dataclass
from itertools import chain, takewhile

from monitor.store.codec import decode, encode
from monitor.store.connection import transaction
from monitor.store.errors import BlockDamageError
from monitor.store.heads import build_heads, encode_heads
from monitor.store.records import SiteConversion
from monitor.store.scan_columns import ScanColumns, columns_of, scan_block_of
from monitor.store.tail import rows_of_node

HOUR_S = 3600.0
MOST_SCANS = 4096
"""Scans in one block at most, so that a fast node's block stays small in memory."""


@dataclass(slots=True)
class TailPart:
    """What the tail holds of one node in one firing: the hour of its oldest scan, and how many scans."""

    hour: int
    scans: int


class Sealer:
    """Keeps count of the tail and seals what is due; used by the writer's thread alone."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._parts: dict[tuple[str, str], TailPart] = {}
        self._hour = 0
        rows = connection.execute(
            "SELECT firing, node, min(clock), count(*), max(clock) FROM tail GROUP BY firing, node"
        )
        for firing, node, oldest, count, newest in rows:
            self._parts[firing, node] = TailPart(hour_of(oldest), count)
            self._hour = max(self._hour, hour_of(newest))

    def count(self, firing: str, node: str, clock: float) -> None:
        """Take note of a scan that was committed to the tail."""
        self._hour = max(self._hour, hour_of(clock))
        part = self._parts.setdefault((firing, node), TailPart(hour_of(clock), 0))
        part.scans += 1

    @property
    def is_tail_empty(self) -> bool:
        """Whether every scan is sealed."""
        return not self._parts

    def due(self, open_firings: frozenset[str]) -> tuple[str, str] | None:
        """Return the firing and node of a block that should be sealed now, if any."""
        for (firing, node), part in self._parts.items():
            if part.hour < self._hour or part.scans >= MOST_SCANS or firing not in open_firings:
                return firing, node
        return None

    def seal(self, connection: sqlite3.Connection, firing: str, node: str, conversion: SiteConversion | None) -> None:
        """Seal the oldest scans of one node: those of one hour of the clock."""
        rows = rows_of_node(connection, firing, node, MOST_SCANS)
        first = next(rows, None)
        if first is None:
            self._parts.pop((firing, node), None)
            return
        hour = hour_of(first.clock)
        columns = columns_of(chain([first], takewhile(lambda row: hour_of(row.clock) == hour, rows)))
        with transaction(connection):
            _insert(connection, firing, columns, conversion)
            connection.execute(
                "DELETE FROM tail WHERE firing = ? AND node = ? AND row <= ?", (firing, node, int(columns.row[-1]))
            )
        self._recount(connection, firing, node)

    def _recount(self, connection: sqlite3.Connection, firing: str, node: str) -> None:
        oldest, count = connection.execute(
            "SELECT min(clock), count(*) FROM tail WHERE firing = ? AND node = ?", (firing, node)
        ).fetchone()
        if count:
            self._parts[firing, node] = TailPart(hour_of(oldest), count)
        else:
            self._parts.pop((firing, node), None)


def stale_blocks(connection: sqlite3.Connection, firing: str, key: str) -> list[int]:
    """Return the blocks of a firing whose heads another conversion made, oldest first."""
    found = connection.execute("SELECT id FROM block WHERE firing = ? AND heads_key != ? ORDER BY id", (firing, key))
    return [row[0] for row in found]


def rebuild_heads(connection: sqlite3.Connection, block: int, conversion: SiteConversion) -> bool:
    """Derive one block's heads anew from its raw emf; False where the block is damaged and keeps what it has."""
    (payload,) = connection.execute("SELECT payload FROM block WHERE id = ?", (block,)).fetchone()
    try:
        heads = _heads(decode(payload), conversion)
    except BlockDamageError:
        return False
    with transaction(connection):
        connection.execute("UPDATE block SET heads_key = ?, heads = ? WHERE id = ?", (conversion.key, heads, block))
    return True


def hour_of(clock: float) -> int:
    """Return the hour of the epoch in which the clock stands."""
    return int(clock // HOUR_S)


def _insert(
    connection: sqlite3.Connection, firing: str, columns: ScanColumns, conversion: SiteConversion | None
) -> None:
    heads = b"" if conversion is None else _heads(columns, conversion)
    connection.execute(
        "INSERT INTO block (firing, node, scans, first_row, last_row, first_time, last_time, last_clock, heads_key,"
        " heads, payload) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            firing,
            columns.node,
            len(columns),
            int(columns.row[0]),
            int(columns.row[-1]),
            float(columns.time.min()),
            float(columns.time.max()),
            float(columns.clock[-1]),
            "" if conversion is None else conversion.key,
            heads,
            encode(columns),
        ),
    )


def _heads(columns: ScanColumns, conversion: SiteConversion) -> bytes:
    temperatures = conversion.convert(scan_block_of(columns, conversion.inputs))
    return encode_heads(build_heads(temperatures.time, temperatures.celsius))
