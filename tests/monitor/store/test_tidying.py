"""What is done between commits."""

import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from monitor.store import statements as sql
from monitor.store.connection import connect_reader, connect_writer, transaction
from monitor.store.records import Firing, SiteConversion
from monitor.store.scan_columns import TailRow
from monitor.store.schema import migrate
from monitor.store.sealing import Sealer
from monitor.store.tidying import Tidier

FIRING = Firing("f", 0.0, None, "k", "")


@pytest.fixture
def file(tmp_path: Path, make_row: Callable[..., TailRow], begin: float) -> Path:
    """Return a database with three hours in the tail."""
    path = tmp_path / "x.sqlite3"
    connection = connect_writer(path)
    migrate(connection)
    rows = [make_row(number, clock=begin + 9.0 * number) for number in range(1200)]
    with transaction(connection):
        connection.executemany(
            sql.ADD_SCAN,
            [(r.row, "f", r.node, r.boot, r.seq, r.time, r.clock, int(r.late), r.cells) for r in rows],
        )
    connection.close()
    return path


@pytest.fixture
def connection(file: Path) -> Iterator[sqlite3.Connection]:
    """Return a writing connection to it."""
    opened = connect_writer(file)
    yield opened
    opened.close()


def test_full_hours_are_sealed_one_a_step(connection: sqlite3.Connection) -> None:
    """Each step seals one block; when all is done a step says so."""
    tidier, sealer = Tidier([FIRING]), Sealer(connection)

    steps = [tidier.step(connection, sealer) for _ in range(3)]

    assert steps == [True, True, False]
    assert tidier.sealed_blocks == 2


def test_heads_without_conversion_are_built_once_there_is_one(
    connection: sqlite3.Connection, conversion: SiteConversion
) -> None:
    """Blocks sealed under another conversion, or none, get new heads, one a step."""
    tidier, sealer = Tidier([FIRING]), Sealer(connection)
    while tidier.step(connection, sealer):
        pass

    tidier.use_conversion("f", conversion)
    steps = [tidier.step(connection, sealer) for _ in range(3)]

    assert steps == [True, True, False]
    keys = connection.execute("SELECT DISTINCT heads_key FROM block").fetchall()
    assert keys == [(conversion.key,)]


def test_the_end_of_a_firing_seals_all_and_gives_the_space_back(connection: sqlite3.Connection, file: Path) -> None:
    """After the end nothing is left in the tail, no page is free, and the log is empty."""
    tidier, sealer = Tidier([]), Sealer(connection)
    tidier.add_firing("f")
    tidier.end_firing("f")

    while tidier.step(connection, sealer):
        pass

    assert sealer.is_tail_empty
    assert connection.execute("PRAGMA freelist_count").fetchone() == (0,)
    assert file.with_name(f"{file.name}-wal").stat().st_size == 0


def test_a_reader_at_work_does_not_hold_tidying_up(connection: sqlite3.Connection, file: Path) -> None:
    """While a read transaction is open the log stays, without waiting and without an error."""
    reader = connect_reader(file)
    reader.execute("BEGIN")
    reader.execute("SELECT count(*) FROM tail").fetchone()
    tidier, sealer = Tidier([FIRING]), Sealer(connection)

    while tidier.step(connection, sealer):
        pass

    assert file.with_name(f"{file.name}-wal").stat().st_size > 0
    assert connection.execute("PRAGMA busy_timeout").fetchone()[0] > 0
    reader.close()
