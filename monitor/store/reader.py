"""Reading what is stored, on a connection of its own, also while another process writes.

Every read is one short transaction: a long one would keep the write-ahead log from being emptied.
"""

import sqlite3
import threading
from collections.abc import Callable, Iterator
from heapq import merge
from pathlib import Path

from monitor.model import Entry, Finding, Scan
from monitor.store.cells import decode_cells, readings_of
from monitor.store.codec import decode
from monitor.store.connection import explained, transaction
from monitor.store.errors import BlockDamageError, DamagedBlockError
from monitor.store.history import Charts
from monitor.store.records import Envelope, Firing, JournalLine, SiteConversion, StateSnapshot, StoredScan
from monitor.store.scan_columns import ScanColumns, TailRow, rows_between, scans_of
from monitor.store.statements import decode_entry, decode_finding, decode_journal_line
from monitor.store.tail import rows_of_firing

ROWS_A_READ = 1000

OnDamage = Callable[[DamagedBlockError], None]


class Reader:
    """Reads one database; may be used by any thread, one at a time."""

    def __init__(self, file: Path, connection: sqlite3.Connection) -> None:
        self._file = file
        self._connection = connection
        self._lock = threading.Lock()
        self._charts = Charts()

    def close(self) -> None:
        """Close the connection."""
        with self._lock:
            self._connection.close()

    def firings(self) -> list[Firing]:
        """Return all firings, oldest first."""
        rows = self._rows("SELECT id, begun, ended, kiln, site FROM firing ORDER BY begun, id")
        return [Firing(*row) for row in rows]

    def findings(self, firing: str) -> list[Finding]:
        """Return the findings of a firing as they became known."""
        rows = self._rows("SELECT record FROM finding WHERE firing = ? ORDER BY id", firing)
        return [decode_finding(row[0]) for row in rows]

    def entries(self, firing: str) -> list[Entry]:
        """Return what people told in a firing, in the order in which it was told."""
        if not self._rows("SELECT 1 FROM sqlite_schema WHERE name = 'entry'"):
            return []  # a file of version 1 that no service has opened since
        rows = self._rows("SELECT record FROM entry WHERE firing = ? ORDER BY id", firing)
        return [decode_entry(row[0]) for row in rows]

    def alarm_changes(self, firing: str) -> list[JournalLine]:
        """Return the alarm journal of a firing as it was written; that of "" is what happened between firings."""
        rows = self._rows("SELECT record FROM alarm_change WHERE firing = ? ORDER BY id", firing)
        return [decode_journal_line(row[0]) for row in rows]

    def snapshot(self, firing: str) -> StateSnapshot | None:
        """Return the newest stored state of the pipeline in a firing."""
        rows = self._rows("SELECT row, clock, state FROM snapshot WHERE firing = ?", firing)
        return StateSnapshot(*rows[0]) if rows else None

    def span(self, firing: str) -> tuple[float, float] | None:
        """Return the times of the earliest and the latest scan of a firing, epoch seconds; None without scans."""
        rows = self._rows(
            "SELECT min(early), max(late) FROM (SELECT min(first_time) AS early, max(last_time) AS late FROM block"
            " WHERE firing = ?1 UNION ALL SELECT min(time), max(time) FROM tail WHERE firing = ?1)",
            firing,
        )
        begin, end = rows[0]
        return None if begin is None else (begin, end)

    def scan_count(self, firing: str) -> int:
        """Return how many scans of a firing are stored."""
        rows = self._rows(
            "SELECT (SELECT coalesce(sum(scans), 0) FROM block WHERE firing = ?1)"
            " + (SELECT count(*) FROM tail WHERE firing = ?1)",
            firing,
        )
        return int(rows[0][0])

    def scans_in_arrival_order(
        self, firing: str, *, after_row: int = 0, on_damage: OnDamage | None = None
    ) -> Iterator[StoredScan]:
        """Yield the scans of a firing beyond a row, in order of arrival, late ones where they came.

        A damaged block raises DamagedBlockError, or is passed over and told to `on_damage` where that is given.
        """
        decoded: dict[int, ScanColumns | DamagedBlockError] = {}
        told: set[int] = set()
        while True:
            horizon, blocks, tail = self._stretch(firing, after_row, decoded)
            if horizon is None:
                return
            parts = [iter([_stored(row) for row in tail])]
            for block in blocks:
                found = decoded[block]
                if isinstance(found, ScanColumns):
                    parts.append(scans_of(rows_between(found, after_row, horizon)))
                elif on_damage is None:
                    raise found
                elif block not in told:
                    told.add(block)
                    on_damage(found)
            yield from merge(*parts, key=lambda stored: stored.row)
            decoded = {block: decoded[block] for block in blocks}
            after_row = horizon

    def history(self, firing: str, begin: float, end: float, columns: int, conversion: SiteConversion) -> Envelope:
        """Return lowest and highest temperature per sensor in at most so many columns of time; late scans in place.

        Columns of a minute and more are whole minutes, read from the heads of blocks and rounded outwards to 1/16 degC.

        Raises:
            ValueError: the time asked for is empty, or no column is allowed.
        """
        with self._lock, explained(self._file):
            return self._charts.envelope(self._connection, firing, (begin, end, columns), conversion)

    def _rows(self, query: str, *values: str) -> list[tuple]:  # type: ignore[type-arg]
        with self._lock, explained(self._file):
            return self._connection.execute(query, values).fetchall()

    def _stretch(
        self, firing: str, after_row: int, decoded: dict[int, ScanColumns | DamagedBlockError]
    ) -> tuple[int | None, list[int], list[TailRow]]:
        """Return the row up to which all scans are at hand, the blocks (put into `decoded`) and the tail up to it."""
        with self._lock, explained(self._file), transaction(self._connection, "DEFERRED"):
            first = self._connection.execute(
                "SELECT min(last_row) FROM block WHERE firing = ? AND last_row > ?", (firing, after_row)
            ).fetchone()[0]
            if first is None:
                tail = rows_of_firing(self._connection, firing, after_row, ROWS_A_READ)
                return (tail[-1].row if tail else None), [], tail
            tail = rows_of_firing(self._connection, firing, after_row, -1, upto_row=first)
            blocks = self._connection.execute(
                "SELECT id, node, first_row, last_row FROM block WHERE firing = ? AND last_row > ? AND first_row <= ?",
                (firing, after_row, first),
            ).fetchall()
            for block in blocks:
                if block[0] not in decoded:
                    decoded[block[0]] = _decoded(self._connection, *block)
            return first, [block[0] for block in blocks], tail


def _decoded(
    connection: sqlite3.Connection, block: int, node: str, first_row: int, last_row: int
) -> ScanColumns | DamagedBlockError:
    (payload,) = connection.execute("SELECT payload FROM block WHERE id = ?", (block,)).fetchone()
    where = f"{node}, rows {first_row} to {last_row}"
    try:
        columns = decode(payload)
    except BlockDamageError as error:
        return DamagedBlockError(block, where, str(error))
    if (columns.node, columns.row[0], columns.row[-1]) != (node, first_row, last_row):
        return DamagedBlockError(block, where, f"it holds {columns.node}, rows {columns.row[0]} to {columns.row[-1]}")
    return columns


def _stored(row: TailRow) -> StoredScan:
    scan = Scan(row.node, row.time, readings_of(decode_cells(row.cells)), boot=row.boot, seq=row.seq)
    return StoredScan(row.row, scan, row.clock, row.late)
