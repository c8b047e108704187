"""Opening a data directory, and what can be wrong with it."""

import os
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from monitor.model import Arrival
from monitor.store.connection import FILE_NAME
from monitor.store.errors import StoreDamagedError, StoreInUseError, StoreTooNewError, StoreUnavailableError
from monitor.store.opening import Store, open_reader, open_store, set_aside


def test_a_missing_directory_is_made(directory: Path) -> None:
    """A first start needs no preparation."""
    store = open_store(directory / "deep")

    assert (store.open_firing, store.newest_clock) == (None, 0.0)
    store.release()


def test_a_restart_goes_on_in_the_open_firing(directory: Path, make_arrival: Callable[..., Arrival]) -> None:
    """The newest firing without an end is open, rows go on, and the clock stored last is known."""
    store = open_store(directory)
    writer = store.start_writer(lambda _: None)
    ended = writer.begin_firing(1_700_000_000.0, "k", "")
    writer.end_firing(ended.id, 1_700_003_600.0)
    firing = writer.begin_firing(1_764_000_000.0, "demo-kiln", "[kiln]")
    assert writer.submit_scan(firing.id, make_arrival(0)) == 1
    assert writer.close() == 0
    store.release()

    again = open_store(directory)
    writer = again.start_writer(lambda _: None)

    assert again.open_firing == firing
    assert again.newest_clock == make_arrival(0).clock
    assert writer.submit_scan(firing.id, make_arrival(1)) == 2
    assert writer.close() == 0
    again.release()


def test_a_second_process_is_refused_by_name(store: Store, directory: Path) -> None:
    """Another process gets the owner's number and what to do; reading stays possible."""
    code = (
        f"from pathlib import Path\nfrom monitor.store.opening import open_store\nopen_store(Path({str(directory)!r}))"
    )

    ended = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)

    assert ended.returncode != 0
    assert f"StoreInUseError: data directory {directory} is in use by process {os.getpid()}" in ended.stderr
    open_reader(directory).close()


def test_the_same_process_is_refused_too(store: Store, directory: Path) -> None:
    """The lock holds against a second opening anywhere."""
    with pytest.raises(StoreInUseError):
        open_store(directory)


def test_released_means_free(directory: Path) -> None:
    """After release the directory can be opened again."""
    open_store(directory).release()

    open_store(directory).release()


def test_a_file_in_place_of_the_directory_is_named(tmp_path: Path) -> None:
    """The message names the directory and what to do."""
    path = tmp_path / "file"
    path.write_text("x")

    with pytest.raises(StoreUnavailableError, match=f"data directory {path} cannot be written"):
        open_store(path)


@pytest.mark.skipif(os.getuid() == 0, reason="root may write everywhere")
def test_a_directory_without_permission_is_named(tmp_path: Path) -> None:
    """A read-only directory is refused with words."""
    tmp_path.chmod(0o500)

    with pytest.raises(StoreUnavailableError, match="Permission denied"):
        open_store(tmp_path)
    tmp_path.chmod(0o700)


def test_a_newer_schema_is_refused_for_writing_and_reading(directory: Path) -> None:
    """An older program keeps its hands off, and gives the lock back."""
    open_store(directory).release()
    connection = sqlite3.connect(directory / FILE_NAME)
    connection.execute("PRAGMA user_version = 99")
    connection.close()

    for opening in (open_store, open_reader, open_store):
        with pytest.raises(StoreTooNewError, match="schema version 99"):
            opening(directory)


def damaged(directory: Path, make_arrival: Callable[..., Arrival], intact_pages: int) -> None:
    """Store 200 scans and a large state; overwrite all pages but so many (of 1,024 bytes; all but the last for -1)."""
    store = open_store(directory)
    writer = store.start_writer(lambda _: None)
    firing = writer.begin_firing(1_764_000_000.0, "k", "")
    for number in range(200):
        writer.submit_scan(firing.id, make_arrival(number))
    assert writer.flush(10.0)
    writer.submit_snapshot(firing.id, 1_764_000_200.0, bytes(50_000))
    writer.close()
    store.release()
    file = directory / FILE_NAME
    content = bytearray(file.read_bytes())
    intact = 1024 * intact_pages if intact_pages > 0 else len(content) + 1024 * intact_pages
    content[intact:] = b"\xa5" * (len(content) - intact)
    file.write_bytes(bytes(content))


@pytest.mark.parametrize("intact_pages", [2, -1])
def test_a_damaged_database_is_moved_aside_and_a_new_one_begins(
    directory: Path, make_arrival: Callable[..., Arrival], intact_pages: int
) -> None:
    """Damage of much or of one page has its own error; set aside, the old file is kept and a new store opens."""
    damaged(directory, make_arrival, intact_pages)
    with pytest.raises(StoreDamagedError, match="moved aside or restored"):
        open_store(directory)

    aside = set_aside(directory, "20261124T2236Z")
    store = open_store(directory)

    assert (aside / FILE_NAME).stat().st_size > 2048
    assert store.open_firing is None
    store.release()


def test_damage_far_inside_is_only_found_by_reading_all(directory: Path, make_arrival: Callable[..., Arrival]) -> None:
    """Without verifying, one broken page does not keep the store from opening."""
    damaged(directory, make_arrival, -1)

    open_store(directory, verify=False).release()
    with pytest.raises(StoreDamagedError):
        open_store(directory)


def test_setting_aside_needs_the_lock_and_a_free_name(store: Store, directory: Path) -> None:
    """Nothing is moved under a running writer, nor over what was set aside before."""
    with pytest.raises(StoreInUseError):
        set_aside(directory, "x")
    store.release()
    (directory / "damaged-x").mkdir()
    with pytest.raises(StoreUnavailableError, match="cannot be moved: File exists"):
        set_aside(directory, "x")
    store._lock = os.open(directory / "lock", os.O_RDONLY)


def test_reading_without_a_database_is_told(tmp_path: Path) -> None:
    """A wrong directory is named."""
    with pytest.raises(StoreUnavailableError, match="does not exist; name the data directory"):
        open_reader(tmp_path)


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """Mount a file system of 1 MiB."""
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(tmp_path)], capture_output=True, text=True, check=False
    )
    if mounted.returncode != 0:
        pytest.skip(f"cannot mount a small file system here: {mounted.stderr.strip() or 'not permitted'}")
    yield tmp_path
    subprocess.run(["umount", str(tmp_path)], check=True)


def test_a_full_disk_at_start_is_told_apart_from_damage(small_disk: Path) -> None:
    """Where not even the database can be opened the error is "unavailable", so that the wiring goes on from memory."""
    directory = small_disk / "kiln"
    open_store(directory).release()
    with pytest.raises(OSError, match="No space left"):
        (small_disk / "filler").write_bytes(bytes(2**21))

    with pytest.raises(StoreUnavailableError):
        open_store(directory)
    (small_disk / "filler").unlink()
    open_store(directory).release()
