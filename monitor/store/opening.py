"""Opening a data directory: its lock, its database, and what a restart must know.

One process writes to a data directory at a time; the lock is one of the system (flock) and dies with its owner.
"""

import fcntl
import os
import sqlite3
from dataclasses import dataclass
from pathlib import Path

from monitor.store.committing import OnCommit
from monitor.store.connection import FILE_NAME, connect_reader, connect_writer, explained
from monitor.store.errors import StoreDamagedError, StoreInUseError, StoreUnavailableError
from monitor.store.reader import Reader
from monitor.store.records import Firing
from monitor.store.schema import check_ours, migrate
from monitor.store.writer import COMMIT_EVERY_S, Writer, WriterStart

LOCK_NAME = "lock"


@dataclass(slots=True)
class Store:
    """An open data directory, ours to write; `open_firing` is the one to go on with, None where none is open."""

    directory: Path
    open_firing: Firing | None
    newest_clock: float
    _start: WriterStart
    _lock: int

    def start_writer(self, on_commit: OnCommit, *, commit_every_s: float = COMMIT_EVERY_S) -> Writer:
        """Start the one writer; `on_commit` is called in its thread after each commit."""
        return Writer(self._start, on_commit, commit_every_s=commit_every_s)

    def reader(self) -> Reader:
        """Return a reader of its own; close it when done."""
        return open_reader(self.directory)

    def release(self) -> None:
        """Give the data directory free; the writer must be closed before."""
        os.close(self._lock)


def open_store(directory: Path, *, verify: bool = True) -> Store:
    """Lock and open a data directory for writing, making it where it is missing; `verify` reads the whole file once.

    Raises:
        StoreInUseError: another process has it.
        StoreUnavailableError: it cannot be made, opened or written, or the file is none of ours.
        StoreTooNewError: a newer version of the program made it.
        StoreDamagedError: the file is damaged; see `set_aside`.
    """
    lock = _take_lock(directory)
    file = directory / FILE_NAME
    try:
        with explained(file):
            start, clock = _prepare(file, verify=verify)
    except BaseException:
        os.close(lock)
        raise
    open_firings = [firing for firing in start.firings if firing.ended is None]
    return Store(directory, max(open_firings, key=lambda f: f.begun, default=None), clock, start, lock)


def open_reader(directory: Path) -> Reader:
    """Open a data directory for reading, also while another process writes.

    Raises:
        StoreUnavailableError: there is no database of ours, or it cannot be read.
        StoreTooNewError: a newer version of the program made it.
        StoreDamagedError: the file is damaged.
    """
    file = directory / FILE_NAME
    if not file.exists():
        raise StoreUnavailableError(f"{file} does not exist; name the data directory that the service writes to")
    with explained(file):
        connection = connect_reader(file)
        try:
            check_ours(connection, str(file))
        except BaseException:
            connection.close()
            raise
    return Reader(file, connection)


def set_aside(directory: Path, stamp: str) -> Path:
    """Move a damaged database and its write-ahead log away under `stamp`, so that a new one can begin; return where."""
    lock = _take_lock(directory)
    try:
        aside = directory / f"damaged-{stamp}"
        aside.mkdir()
        for name in (FILE_NAME, f"{FILE_NAME}-wal", f"{FILE_NAME}-shm"):
            if (directory / name).exists():
                (directory / name).rename(aside / name)
    except OSError as error:
        raise StoreUnavailableError(f"{directory}: the damaged database cannot be moved: {error.strerror}") from error
    finally:
        os.close(lock)
    return aside


def _take_lock(directory: Path) -> int:
    try:
        directory.mkdir(parents=True, exist_ok=True)
        lock = os.open(directory / LOCK_NAME, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
    except OSError as error:
        raise StoreUnavailableError(
            f"data directory {directory} cannot be written: {error.strerror}; choose another or change its permissions"
        ) from error
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        owner = os.pread(lock, 20, 0).decode("ascii", "replace").strip() or "unknown"
        os.close(lock)
        raise StoreInUseError(
            f"data directory {directory} is in use by process {owner}; stop that one or choose another directory"
        ) from error
    try:
        os.ftruncate(lock, 0)
        os.pwrite(lock, f"{os.getpid()}\n".encode(), 0)
    except OSError:
        pass  # on a full disk the lock holds all the same, only without its owner's number
    return lock


def _prepare(file: Path, *, verify: bool) -> tuple[WriterStart, float]:
    connection = connect_writer(file)
    try:
        check_ours(connection, str(file))
        migrate(connection)
        if verify:
            _verify(connection, file)
        firings = tuple(Firing(*row) for row in connection.execute("SELECT id, begun, ended, kiln, site FROM firing"))
        newest_row, clock = connection.execute(
            "SELECT max(coalesce((SELECT max(row) FROM tail), 0), coalesce((SELECT max(last_row) FROM block), 0),"
            " coalesce((SELECT max(row) FROM snapshot), 0)),"
            " max(coalesce((SELECT max(clock) FROM tail), 0), coalesce((SELECT max(last_clock) FROM block), 0),"
            " coalesce((SELECT max(clock) FROM snapshot), 0), coalesce((SELECT max(clock) FROM entry), 0))"
        ).fetchone()
    finally:
        connection.close()
    return WriterStart(file, newest_row, firings), clock


def _verify(connection: sqlite3.Connection, file: Path) -> None:
    found = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
    if found != "ok":
        raise StoreDamagedError(f"{file} is damaged ({found}); it must be moved aside or restored")
