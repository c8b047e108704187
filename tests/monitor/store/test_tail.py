"""Rows of the tail."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from monitor.store import statements as sql
from monitor.store.connection import connect_writer
from monitor.store.scan_columns import TailRow
from monitor.store.schema import migrate
from monitor.store.tail import rows_of_firing, rows_of_node


@pytest.fixture
def connection(tmp_path: Path, make_row: Callable[..., TailRow]) -> Iterator[object]:
    """Return a database with six rows of two nodes in firing f, and one in g."""
    opened = connect_writer(tmp_path / "x.sqlite3")
    migrate(opened)
    for number in range(7):
        row = make_row(number, node="ab"[number % 2], late=number == 2)
        firing = "g" if number == 6 else "f"
        opened.execute(
            sql.ADD_SCAN,
            (row.row, firing, row.node, row.boot, row.seq, row.time, row.clock, int(row.late), row.cells),
        )
    yield opened
    opened.close()


def test_rows_come_back_as_they_were(connection: object, make_row: Callable[..., TailRow]) -> None:
    """A row is the same after the way through the database."""
    rows = rows_of_firing(connection, "f", 0, -1)  # type: ignore[arg-type]

    assert rows == [make_row(number, node="ab"[number % 2], late=number == 2) for number in range(6)]


def test_rows_are_chosen_by_bounds_and_node(connection: object) -> None:
    """Beyond a row, up to another, at most so many, of one node."""
    assert [r.row for r in rows_of_firing(connection, "f", 2, 2)] == [3, 4]  # type: ignore[arg-type]
    assert [r.row for r in rows_of_firing(connection, "f", 2, -1, upto_row=4)] == [3, 4]  # type: ignore[arg-type]
    assert [r.row for r in rows_of_node(connection, "f", "b", 2)] == [2, 4]  # type: ignore[arg-type]
