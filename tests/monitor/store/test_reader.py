"""Reading, also while the store is written."""

import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from monitor.model import Arrival
from monitor.store.connection import FILE_NAME
from monitor.store.errors import DamagedBlockError, StoreDamagedError
from monitor.store.opening import Store, open_reader
from monitor.store.records import SiteConversion
from monitor.store.writer import Writer

ROOT = Path(__file__).parents[3]

EXPORT = """
import sys
from pathlib import Path
from monitor.store.opening import open_reader

reader = open_reader(Path(sys.argv[1]))
(firing,) = reader.firings()
print(*(stored.row for stored in reader.scans_in_arrival_order(firing.id)))
"""


def two_nodes(writer: Writer, make_arrival: Callable[..., Arrival], begin: float, count: int) -> str:
    """Store scans of two nodes in turn, each nine seconds of the clock; the last hour stays in the tail."""
    firing = writer.begin_firing(begin, "k", "").id
    for number in range(count):
        arrival = make_arrival(number, node=f"shed-{number % 2}", clock=begin + 9.0 * number)
        writer.submit_scan(firing, arrival, late=number % 50 == 7)
    assert writer.flush(10.0)
    settle(writer)
    return firing


def settle(writer: Writer) -> None:
    """Wait until all that is due is sealed."""
    end = time.monotonic() + 10
    while writer._committer._tidy_at != float("inf"):
        assert time.monotonic() < end, writer.status().error
        time.sleep(0.005)


def blocks(directory: Path) -> list[int]:
    """Return the numbers of all blocks."""
    connection = sqlite3.connect(directory / FILE_NAME)
    found = [row[0] for row in connection.execute("SELECT id FROM block ORDER BY id")]
    connection.close()
    return found


def flip(directory: Path, block: int, column: str = "payload", position: int = 40) -> None:
    """Flip one bit of a stored block, as a failing disk would."""
    connection = sqlite3.connect(directory / FILE_NAME)
    (stored,) = connection.execute(f"SELECT {column} FROM block WHERE id = ?", (block,)).fetchone()
    broken = bytearray(stored)
    broken[position] ^= 4
    connection.execute(f"UPDATE block SET {column} = ? WHERE id = ?", (bytes(broken), block))
    connection.commit()
    assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    connection.close()


def test_scans_of_all_nodes_come_in_order_of_arrival(
    store: Store, make_arrival: Callable[..., Arrival], begin: float
) -> None:
    """Blocks of two nodes and the tail are read as one stream, from any row on."""
    writer = store.start_writer(lambda _: None)
    firing = two_nodes(writer, make_arrival, begin, 1000)
    reader = store.reader()

    everything = list(reader.scans_in_arrival_order(firing))

    assert len(blocks(store.directory)) == 4
    assert [s.row for s in everything] == list(range(1, 1001))
    for number, stored in enumerate(everything):
        arrival = make_arrival(number, node=f"shed-{number % 2}", clock=begin + 9.0 * number)
        assert (stored.scan, stored.clock, stored.late) == (arrival.scan, arrival.clock, number % 50 == 7)
    for after in (1, 399, 400, 401, 733, 850, 999, 1000):
        assert [s.row for s in reader.scans_in_arrival_order(firing, after_row=after)] == list(range(after + 1, 1001))
    assert reader.scan_count(firing) == 1000
    assert reader.span(firing) == (begin, begin + 999)
    reader.close()
    assert writer.close() == 0


def test_reading_goes_on_while_scans_are_written_and_sealed(
    store: Store, make_arrival: Callable[..., Arrival], begin: float
) -> None:
    """A reader in the middle of the stream misses and doubles nothing when its rows are sealed meanwhile."""
    writer = store.start_writer(lambda _: None, commit_every_s=0.0)
    firing = writer.begin_firing(begin, "k", "").id
    for number in range(1500):
        writer.submit_scan(firing, make_arrival(number, clock=begin + 0.5 * number))
    assert writer.flush(10.0)
    reader = store.reader()
    stream = reader.scans_in_arrival_order(firing)

    rows = [next(stream).row for _ in range(500)]
    for number in range(1500, 3000):
        writer.submit_scan(firing, make_arrival(number, clock=begin + 4.0 * number))
    assert writer.flush(10.0)
    settle(writer)
    rows += [stored.row for stored in stream]

    assert len(blocks(store.directory)) >= 3
    assert rows == list(range(1, 3001))
    reader.close()
    assert writer.close() == 0


def test_another_process_exports_while_this_one_writes(
    store: Store, make_arrival: Callable[..., Arrival], begin: float
) -> None:
    """An export of its own process reads every row committed before it began, in order, and holds nobody up."""
    writer = store.start_writer(lambda _: None, commit_every_s=0.0)
    firing = writer.begin_firing(begin, "k", "").id
    for number in range(300):
        writer.submit_scan(firing, make_arrival(number, clock=begin + 30.0 * number))
    assert writer.flush(10.0)

    export = subprocess.Popen(
        [sys.executable, "-c", EXPORT, str(store.directory)], stdout=subprocess.PIPE, text=True, cwd=ROOT
    )
    number = 300
    while export.poll() is None:
        writer.submit_scan(firing, make_arrival(number, clock=begin + 30.0 * number))
        number += 1
        assert writer.flush(2.0)
    out, _ = export.communicate()

    rows = [int(word) for word in out.split()]
    assert export.returncode == 0
    assert len(rows) >= 300
    assert rows == list(range(1, len(rows) + 1))
    assert writer.status().failed_commits == 0
    assert writer.close() == 0


def test_a_damaged_block_is_named_and_the_others_are_read(
    store: Store, make_arrival: Callable[..., Arrival], begin: float
) -> None:
    """A flipped bit that SQLite's own check misses is found by the block's CRC; reading can pass over it."""
    writer = store.start_writer(lambda _: None)
    firing = two_nodes(writer, make_arrival, begin, 1000)
    broken = blocks(store.directory)[1]
    flip(store.directory, broken)
    reader = store.reader()
    told: list[DamagedBlockError] = []

    with pytest.raises(DamagedBlockError, match=rf"block {broken} \(shed-\d, rows \d+ to \d+\) is damaged: .* CRC"):
        list(reader.scans_in_arrival_order(firing))
    rows = [s.row for s in reader.scans_in_arrival_order(firing, on_damage=told.append)]

    assert [error.block for error in told] == [broken]
    assert rows == sorted(rows)
    assert len(rows) == 800
    reader.close()
    assert writer.close() == 0


def test_a_block_under_a_false_name_is_damage(store: Store, make_arrival: Callable[..., Arrival], begin: float) -> None:
    """Changed numbers beside the block are found by comparing them with what is in it."""
    writer = store.start_writer(lambda _: None)
    firing = two_nodes(writer, make_arrival, begin, 900)
    connection = sqlite3.connect(store.directory / FILE_NAME)
    connection.execute("UPDATE block SET first_row = 2 WHERE first_row = 1")
    connection.commit()
    connection.close()
    reader = store.reader()

    with pytest.raises(DamagedBlockError, match="it holds shed-0, rows 1 to 399"):
        list(reader.scans_in_arrival_order(firing))
    reader.close()
    assert writer.close() == 0


def test_nothing_stored_is_nothing_read(store: Store, conversion: SiteConversion) -> None:
    """An unknown firing has no scans, no span, no findings, no state."""
    reader = store.reader()

    assert list(reader.scans_in_arrival_order("x")) == []
    assert reader.span("x") is None
    assert reader.scan_count("x") == 0
    assert reader.findings("x") == reader.alarm_changes("x") == reader.firings() == []
    assert reader.snapshot("x") is None
    reader.close()


def test_a_file_from_before_entries_holds_none(store: Store) -> None:
    """An export of a file of version 1, before any service of this version has opened it."""
    with sqlite3.connect(store.directory / FILE_NAME) as connection:
        connection.execute("DROP TABLE entry")
    reader = store.reader()

    assert reader.entries("20251124T1600Z") == []
    reader.close()


def test_errors_of_sqlite_are_told_in_the_stores_words(store: Store) -> None:
    """A file that is overwritten while it is open is told as damage."""
    reader = store.reader()
    for name in (FILE_NAME, f"{FILE_NAME}-wal"):
        path = store.directory / name
        if path.exists():
            path.write_bytes(b"\xa5" * 8192)

    with pytest.raises(StoreDamagedError):
        reader.firings()
    reader.close()


def test_two_readers_do_not_disturb_each_other(
    store: Store, make_arrival: Callable[..., Arrival], begin: float
) -> None:
    """Two streams of one reader, taken in turn, are each complete."""
    writer = store.start_writer(lambda _: None)
    firing = two_nodes(writer, make_arrival, begin, 900)
    reader = open_reader(store.directory)

    pairs = list(zip(reader.scans_in_arrival_order(firing), reader.scans_in_arrival_order(firing), strict=True))

    assert [a.row for a, _ in pairs] == [b.row for _, b in pairs] == list(range(1, 901))
    reader.close()
    assert writer.close() == 0
