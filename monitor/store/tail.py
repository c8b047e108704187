"""Rows of the tail, the scans not yet sealed: how they are read from the database."""

import sqlite3
from collections.abc import Iterator

from monitor.store.scan_columns import TailRow

TAIL_COLUMNS = "row, node, boot, seq, time, clock, late, cells"


def tail_row(row: tuple[int, str, str | None, int | None, float, float, int, bytes]) -> TailRow:
    """Return one row, selected as `TAIL_COLUMNS`."""
    number, node, boot, seq, time, clock, late, cells = row
    return TailRow(number, node, boot, seq, time, clock, bool(late), cells)


def rows_of_node(connection: sqlite3.Connection, firing: str, node: str, most: int) -> Iterator[TailRow]:
    """Yield the oldest rows of one node in order of arrival, at most so many."""
    found = connection.execute(
        f"SELECT {TAIL_COLUMNS} FROM tail WHERE firing = ? AND node = ? ORDER BY row LIMIT ?",  # noqa: S608
        (firing, node, most),
    )
    return map(tail_row, found)


def rows_of_firing(
    connection: sqlite3.Connection, firing: str, after_row: int, most: int, *, upto_row: int = 2**62
) -> list[TailRow]:
    """Return rows of all nodes in order of arrival, from beyond a row up to another, at most so many (-1: all)."""
    found = connection.execute(
        f"SELECT {TAIL_COLUMNS} FROM tail WHERE firing = ? AND row > ? AND row <= ? ORDER BY row LIMIT ?",  # noqa: S608
        (firing, after_row, upto_row, most),
    )
    return [tail_row(row) for row in found]
