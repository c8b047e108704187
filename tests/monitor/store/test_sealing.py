"""From the tail to blocks."""

import sqlite3
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from monitor.store import sealing
from monitor.store import statements as sql
from monitor.store.codec import decode
from monitor.store.connection import connect_writer, transaction
from monitor.store.heads import decode_heads
from monitor.store.records import SiteConversion
from monitor.store.scan_columns import TailRow, columns_of, scans_of
from monitor.store.schema import migrate
from monitor.store.sealing import Sealer, rebuild_heads, stale_blocks
from monitor.store.tail import rows_of_firing

OPEN = frozenset({"f"})


@pytest.fixture
def connection(tmp_path: Path) -> Iterator[sqlite3.Connection]:
    """Return a new database."""
    opened = connect_writer(tmp_path / "x.sqlite3")
    migrate(opened)
    yield opened
    opened.close()


def fill(connection: sqlite3.Connection, rows: list[TailRow], firing: str = "f") -> None:
    """Put rows into the tail."""
    values = [(r.row, firing, r.node, r.boot, r.seq, r.time, r.clock, int(r.late), r.cells) for r in rows]
    with transaction(connection):
        connection.executemany(sql.ADD_SCAN, values)


def blocks(connection: sqlite3.Connection) -> list[tuple[object, ...]]:
    """Return what each block is said to hold."""
    return connection.execute("SELECT node, scans, first_row, last_row FROM block ORDER BY id").fetchall()


def test_an_hour_of_the_clock_becomes_a_block(
    connection: sqlite3.Connection, make_row: Callable[..., TailRow], begin: float, conversion: SiteConversion
) -> None:
    """Once the clock has passed the hour its scans leave the tail for one block, and come out of it the same."""
    rows = [make_row(number, clock=begin + 36.0 * number) for number in range(150)]
    fill(connection, rows)
    sealer = Sealer(connection)

    assert sealer.due(OPEN) == ("f", "shed-1")
    sealer.seal(connection, "f", "shed-1", conversion)

    assert sealer.due(OPEN) is None
    assert blocks(connection) == [("shed-1", 100, 1, 100)]
    assert [row.row for row in rows_of_firing(connection, "f", 0, -1)] == list(range(101, 151))
    (payload,) = connection.execute("SELECT payload FROM block").fetchone()
    assert list(scans_of(decode(payload))) == list(scans_of(columns_of(rows[:100])))


def test_nothing_is_due_within_the_hour(
    connection: sqlite3.Connection, make_row: Callable[..., TailRow], begin: float
) -> None:
    """Scans of the running hour stay in the tail, until the clock of any node passes it."""
    sealer = Sealer(connection)
    sealer.count("f", "shed-1", begin + 3599.9)

    assert sealer.due(OPEN) is None
    sealer.count("f", "shed-2", begin + 3600.0)
    assert sealer.due(OPEN) == ("f", "shed-1")


def test_an_ended_firing_is_sealed_whole(
    connection: sqlite3.Connection, make_row: Callable[..., TailRow], conversion: SiteConversion
) -> None:
    """Of a firing that is not open even the running hour is due."""
    fill(connection, [make_row(number) for number in range(5)], firing="old")
    sealer = Sealer(connection)

    assert sealer.due(OPEN) == ("old", "shed-1")
    sealer.seal(connection, "old", "shed-1", conversion)

    assert sealer.is_tail_empty
    assert sealer.due(OPEN) is None


def test_a_fast_node_gets_smaller_blocks(
    connection: sqlite3.Connection,
    make_row: Callable[..., TailRow],
    conversion: SiteConversion,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """More scans than a block may hold are sealed before the hour is over."""
    monkeypatch.setattr(sealing, "MOST_SCANS", 40)
    fill(connection, [make_row(number) for number in range(90)])
    sealer = Sealer(connection)

    while (due := sealer.due(OPEN)) is not None:
        sealer.seal(connection, *due, conversion)

    assert [row[1] for row in blocks(connection)] == [40, 40]
    assert len(rows_of_firing(connection, "f", 0, -1)) == 10


def test_sealing_what_is_gone_does_nothing(connection: sqlite3.Connection, begin: float) -> None:
    """A part of the tail without rows is forgotten."""
    sealer = Sealer(connection)
    sealer.count("f", "shed-1", begin)

    sealer.seal(connection, "f", "shed-1", None)

    assert sealer.is_tail_empty
    assert blocks(connection) == []


def test_a_failed_sealing_leaves_the_tail(connection: sqlite3.Connection, make_row: Callable[..., TailRow]) -> None:
    """Where the block cannot be written no scan leaves the tail."""
    fill(connection, [make_row(number) for number in range(2000)])
    (pages,) = connection.execute("PRAGMA page_count").fetchone()
    connection.execute(f"PRAGMA max_page_count = {pages}")

    with pytest.raises(sqlite3.OperationalError, match="full"):
        Sealer(connection).seal(connection, "f", "shed-1", None)

    assert len(rows_of_firing(connection, "f", 0, -1)) == 2000
    assert blocks(connection) == []


def test_heads_follow_the_conversion(
    connection: sqlite3.Connection, make_row: Callable[..., TailRow], conversion: SiteConversion
) -> None:
    """After a correction was put right, heads made by the old one are found and built anew from the raw emf."""
    fill(connection, [make_row(number) for number in range(120)])
    Sealer(connection).seal(connection, "f", "shed-1", conversion)

    def warmer(block: object) -> object:
        found = conversion.convert(block)  # type: ignore[arg-type]
        return replace(found, celsius=found.celsius + 7.0)

    corrected = SiteConversion("corrected", conversion.inputs, warmer)  # type: ignore[arg-type]
    (before,) = connection.execute("SELECT heads FROM block").fetchone()

    assert stale_blocks(connection, "f", conversion.key) == []
    (block,) = stale_blocks(connection, "f", corrected.key)
    assert rebuild_heads(connection, block, corrected)

    (after,) = connection.execute("SELECT heads FROM block").fetchone()
    assert np.array_equal(decode_heads(after).low, decode_heads(before).low + 7.0)
    assert stale_blocks(connection, "f", corrected.key) == []


def test_heads_of_a_damaged_block_stay(
    connection: sqlite3.Connection, make_row: Callable[..., TailRow], conversion: SiteConversion
) -> None:
    """A block whose scans cannot be read keeps the heads it has."""
    fill(connection, [make_row(number) for number in range(20)])
    Sealer(connection).seal(connection, "f", "shed-1", None)
    connection.execute("UPDATE block SET payload = X'00'")

    assert not rebuild_heads(connection, 1, conversion)
    assert stale_blocks(connection, "f", conversion.key) == [1]
