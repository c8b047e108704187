"""Connections and errors in words."""

import sqlite3
from pathlib import Path

import pytest

from monitor.store.connection import connect_reader, connect_writer, explained, transaction
from monitor.store.errors import StoreDamagedError, StoreUnavailableError


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """Return a database with one table of one column."""
    path = tmp_path / "some #1?.sqlite3"
    connection = connect_writer(path)
    connection.execute("CREATE TABLE note (text TEXT)")
    connection.close()
    return path


def test_a_writer_syncs_each_commit_to_a_log_of_bounded_size(file: Path) -> None:
    """Write-ahead log, synchronous FULL (2), log limit 16 MiB."""
    connection = connect_writer(file)

    asked = [connection.execute(f"PRAGMA {name}").fetchone()[0] for name in ("journal_mode", "synchronous")]
    assert asked == ["wal", 2]
    assert connection.execute("PRAGMA journal_size_limit").fetchone() == (16 * 2**20,)
    assert connection.execute("PRAGMA auto_vacuum").fetchone() == (2,)
    connection.close()


def test_a_reader_cannot_write(file: Path) -> None:
    """Odd characters in the name do no harm, and the file is read-only."""
    reader = connect_reader(file)

    with pytest.raises(sqlite3.OperationalError, match="readonly"):
        reader.execute("INSERT INTO note VALUES ('x')")
    reader.close()


def test_a_failed_transaction_leaves_nothing(file: Path) -> None:
    """Whatever fails in the body, nothing of it is stored."""
    connection = connect_writer(file)

    def write_and_fail() -> None:
        with transaction(connection):
            connection.execute("INSERT INTO note VALUES ('x')")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        write_and_fail()

    assert not connection.in_transaction
    assert connection.execute("SELECT count(*) FROM note").fetchone() == (0,)
    connection.close()


def test_a_full_disk_is_said(file: Path) -> None:
    """SQLITE_FULL, provoked by a limit of pages, becomes words with the file and what to do."""
    connection = connect_writer(file)
    connection.execute("PRAGMA max_page_count = 5")

    def write_much() -> None:
        with explained(file), transaction(connection):
            connection.execute("INSERT INTO note VALUES (?)", ("x" * 100_000,))

    with pytest.raises(StoreUnavailableError, match=r"some #1\?.*the disk is full; free some space"):
        write_much()
    connection.close()


def test_no_database_is_damage(tmp_path: Path) -> None:
    """A file of something else is said to be damaged."""
    path = tmp_path / "x.sqlite3"
    path.write_bytes(b"this is no database, but long enough to be read as one" * 100)

    with pytest.raises(StoreDamagedError, match="moved aside"), explained(path):
        connect_writer(path)


def test_a_missing_folder_is_unavailable(tmp_path: Path) -> None:
    """What cannot be opened is told with permissions and room as the things to check."""
    with pytest.raises(StoreUnavailableError, match=r"cannot be used.*permissions"), explained(tmp_path / "no" / "x"):
        connect_writer(tmp_path / "no" / "x")
