"""Connections to the one SQLite file, and its error codes in the store's own words."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import quote

from monitor.store.errors import StoreDamagedError, StoreError, StoreUnavailableError
from monitor.store.schema import PAGE_BYTES

FILE_NAME = "nightstoke.sqlite3"
CACHE_KIB = 1024
"""Page cache of one connection, KiB."""
WAL_LIMIT_BYTES = 16 * 2**20
CHECKPOINT_PAGES = 4000
BUSY_S = 2.0

_DAMAGED = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)
_PRIMARY = 0xFF
"""Extended result codes of SQLite carry the primary code in the lowest byte."""


def connect_writer(file: Path) -> sqlite3.Connection:
    """Open the file for writing: write-ahead log, every commit synced."""
    connection = sqlite3.connect(file, timeout=BUSY_S, isolation_level=None)
    try:
        connection.execute(f"PRAGMA page_size = {PAGE_BYTES}")
        connection.execute("PRAGMA auto_vacuum = INCREMENTAL")
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute(f"PRAGMA journal_size_limit = {WAL_LIMIT_BYTES}")
        connection.execute(f"PRAGMA wal_autocheckpoint = {CHECKPOINT_PAGES}")
        connection.execute(f"PRAGMA cache_size = -{CACHE_KIB}")
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def connect_reader(file: Path) -> sqlite3.Connection:
    """Open the file for reading only; it may be written meanwhile, by another process too."""
    address = f"file:{quote(str(file.resolve()))}?mode=ro"
    connection = sqlite3.connect(address, uri=True, timeout=BUSY_S, isolation_level=None, check_same_thread=False)
    connection.execute(f"PRAGMA cache_size = -{CACHE_KIB}")
    return connection


@contextmanager
def transaction(connection: sqlite3.Connection, kind: str = "IMMEDIATE") -> Iterator[None]:
    """Run the body in one transaction: committed at its end, rolled back on any error, of COMMIT too."""
    connection.execute(f"BEGIN {kind}")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


@contextmanager
def explained(file: Path) -> Iterator[None]:
    """Turn SQLite's errors in the body into errors of the store that name the file and what to do."""
    try:
        yield
    except sqlite3.Error as error:
        raise store_error(file, error) from error


def store_error(file: Path, error: sqlite3.Error) -> StoreError:
    """Return the store's own error for one of SQLite."""
    code = getattr(error, "sqlite_errorcode", 0) & _PRIMARY
    name = getattr(error, "sqlite_errorname", type(error).__name__)
    if code in _DAMAGED:
        return StoreDamagedError(f"{file} is damaged ({name}: {error}); it must be moved aside or restored")
    if code == sqlite3.SQLITE_FULL:
        return StoreUnavailableError(f"{file}: the disk is full; free some space ({name}: {error})")
    return StoreUnavailableError(
        f"{file} cannot be used ({name}: {error}); check that the disk has room and the permissions allow it"
    )
