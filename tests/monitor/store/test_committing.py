"""The thread that commits: what it survives."""

import sqlite3
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from monitor.model import Arrival
from monitor.store import committing
from monitor.store.connection import FILE_NAME, connect_writer
from monitor.store.opening import open_reader, open_store
from monitor.store.records import Committed, SiteConversion
from monitor.store.writer import Writer, WriterStart


@pytest.fixture(autouse=True)
def _impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(committing, "FIRST_RETRY_S", 0.02)
    monkeypatch.setattr(committing, "LONGEST_RETRY_S", 0.05)
    monkeypatch.setattr(committing, "TIDY_RETRY_S", 0.05)


def until(condition: Callable[[], bool], limit_s: float = 10.0) -> None:
    """Wait for something that another thread brings about."""
    end = time.monotonic() + limit_s
    while not condition():
        assert time.monotonic() < end, "did not happen in time"
        time.sleep(0.005)


class Disk:
    """A disk that can be full: SQLite may have no more pages than it has, until `free`."""

    def __init__(self) -> None:
        self.is_full = False

    def connect(self, file: Path) -> sqlite3.Connection:
        """Open the file on this disk."""
        connection = connect_writer(file)
        if self.is_full:
            connection.execute("PRAGMA max_page_count = 1")  # SQLite takes the present size instead
        return connection


def start(directory: Path, disk: Disk, commits: list[Committed]) -> Writer:
    """Start a writer on a new database."""
    open_store(directory).release()
    return Writer(WriterStart(directory / FILE_NAME, 0, ()), commits.append, commit_every_s=0.0, connect=disk.connect)


def test_a_full_disk_keeps_everything_waiting_and_recovers(
    directory: Path, make_arrival: Callable[..., Arrival]
) -> None:
    """While SQLite says full nothing is acknowledged or lost; once there is room all is stored, without a restart."""
    disk, commits = Disk(), []
    disk.is_full = True
    writer = start(directory, disk, commits)
    firing = writer.begin_firing(1_764_000_000.0, "k", "").id
    for number in range(300):
        writer.submit_scan(firing, make_arrival(number))
    until(lambda: writer.status().failed_commits > 1)

    during = writer.status()
    acknowledged = max((committed.row for committed in commits), default=0)
    disk.is_full = False
    recovered = writer.flush(10.0)

    assert during.error is not None
    assert "the disk is full; free some space" in during.error
    assert during.waiting > 0
    assert acknowledged < 300
    assert recovered
    assert writer.status().error is None
    assert commits[-1].row == 300
    assert writer.close() == 0
    reader = open_reader(directory)
    assert [stored.row for stored in reader.scans_in_arrival_order(firing)] == list(range(1, 301))
    reader.close()


def fill_up(filler: Path) -> None:
    """Write until nothing more goes in."""
    with filler.open("wb", buffering=0) as file:
        while True:
            file.write(bytes(4096))


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """Mount a file system of 2 MiB."""
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", str(tmp_path)], capture_output=True, text=True, check=False
    )
    if mounted.returncode != 0:
        pytest.skip(f"cannot mount a small file system here: {mounted.stderr.strip() or 'not permitted'}")
    yield tmp_path
    subprocess.run(["umount", str(tmp_path)], check=True)


def test_a_file_system_that_fills_up_is_survived(small_disk: Path, make_arrival: Callable[..., Arrival]) -> None:
    """A real file system without room: COMMIT fails, scans wait, and are all there once somebody made room."""
    commits: list[Committed] = []
    directory = small_disk / "kiln"
    writer = start(directory, Disk(), commits)
    firing = writer.begin_firing(1_764_000_000.0, "k", "").id
    assert writer.flush(10.0)
    filler = small_disk / "filler"
    with pytest.raises(OSError, match="No space left"):
        fill_up(filler)
    for number in range(300):
        writer.submit_scan(firing, make_arrival(number))
    until(lambda: writer.status().failed_commits > 1)

    waiting = writer.status().waiting
    filler.unlink()

    assert waiting > 0
    assert writer.flush(10.0)
    assert writer.status().error is None
    assert writer.close() == 0
    reader = open_reader(directory)
    assert [stored.row for stored in reader.scans_in_arrival_order(firing)] == list(range(1, 301))
    reader.close()


def test_a_conversion_that_fails_stops_sealing_only(
    directory: Path, make_arrival: Callable[..., Arrival], begin: float, conversion: SiteConversion
) -> None:
    """Scans go on being stored, the error is shown, and sealing goes on once it is put right."""

    def broken(_: object) -> object:
        raise ZeroDivisionError("no")

    commits: list[Committed] = []
    writer = start(directory, Disk(), commits)
    firing = writer.begin_firing(begin, "k", "").id
    writer.use_conversion(firing, SiteConversion("broken", ("shed-1/t1",), broken))  # type: ignore[arg-type]
    for number in range(4):
        writer.submit_scan(firing, make_arrival(number, clock=begin + 1800.0 * number))
    until(lambda: writer.status().error is not None)

    during = writer.status().error
    writer.submit_scan(firing, make_arrival(5, clock=begin + 9000.0))
    assert writer.flush(10.0)
    sealed_before = writer.status().sealed_blocks
    writer.use_conversion(firing, conversion)
    until(lambda: writer.status().sealed_blocks == 2)
    until(lambda: writer.status().error is None)

    assert during == "blocks cannot be sealed: ZeroDivisionError: no"
    assert commits[-1].row == 5
    assert sealed_before == 0
    assert writer.close() == 0


def test_a_failing_callback_is_shown_and_stops_nothing(directory: Path, make_arrival: Callable[..., Arrival]) -> None:
    """What was committed stays committed, and the thread lives."""
    calls: list[Committed] = []

    def fail_once(committed: Committed) -> None:
        calls.append(committed)
        if len(calls) == 1:
            raise RuntimeError("loop is closed")

    open_store(directory).release()
    writer = Writer(WriterStart(directory / FILE_NAME, 0, ()), fail_once, commit_every_s=0.0)
    firing = writer.begin_firing(1_764_000_000.0, "k", "").id
    until(lambda: writer.status().error is not None)
    shown = writer.status().error
    writer.submit_scan(firing, make_arrival(0))

    assert writer.flush(10.0)
    assert shown == "RuntimeError: loop is closed"
    assert writer.status().error is None
    assert writer.close() == 0


def test_commits_come_together_but_an_urgent_record_comes_at_once(
    directory: Path, make_arrival: Callable[..., Arrival]
) -> None:
    """Scans within the interval share a commit; the end of a firing does not wait for it."""
    commits: list[Committed] = []
    open_store(directory).release()
    writer = Writer(WriterStart(directory / FILE_NAME, 0, ()), commits.append, commit_every_s=60.0)
    firing = writer.begin_firing(1_764_000_000.0, "k", "").id
    assert writer.flush(10.0)
    for number in range(10):
        writer.submit_scan(firing, make_arrival(number))
    before = len(commits)
    writer.end_firing(firing, 1_764_000_100.0)
    until(lambda: commits[-1].row == 10)

    assert before == 1
    assert len(commits) == 2
    assert writer.close() == 0


def test_the_thread_is_one_and_ends(directory: Path) -> None:
    """After close no thread of the store is left, and the status says that it ended."""
    open_store(directory).release()
    writer = Writer(WriterStart(directory / FILE_NAME, 0, ()), lambda _: None)

    assert [t.name for t in threading.enumerate()].count("store-writer") == 1
    writer.close()
    assert "store-writer" not in [t.name for t in threading.enumerate()]
    assert writer.status().error == "the writer has ended"
