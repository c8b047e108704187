"""The tables and how they came to be: one script per version, each applied once, in one transaction."""

import sqlite3

from monitor.store.errors import StoreTooNewError, StoreUnavailableError

APPLICATION_ID = 0x4E53_544B
"""Marks a SQLite file as ours ("NSTK")."""
PAGE_BYTES = 1024
"""Small pages waste little behind a block, and a commit of one scan writes little."""

VERSION_1 = (
    """
    CREATE TABLE firing (
        id TEXT PRIMARY KEY, begun REAL NOT NULL, ended REAL, kiln TEXT NOT NULL, site TEXT NOT NULL
    ) STRICT
    """,
    """
    CREATE TABLE tail (
        row INTEGER PRIMARY KEY, firing TEXT NOT NULL, node TEXT NOT NULL, boot TEXT, seq INTEGER,
        time REAL NOT NULL, clock REAL NOT NULL, late INTEGER NOT NULL, cells BLOB NOT NULL
    ) STRICT
    """,
    """
    CREATE TABLE block (
        id INTEGER PRIMARY KEY, firing TEXT NOT NULL, node TEXT NOT NULL, scans INTEGER NOT NULL,
        first_row INTEGER NOT NULL, last_row INTEGER NOT NULL, first_time REAL NOT NULL, last_time REAL NOT NULL,
        last_clock REAL NOT NULL, heads_key TEXT NOT NULL, heads BLOB NOT NULL, payload BLOB NOT NULL
    ) STRICT
    """,
    "CREATE INDEX block_by_firing ON block (firing, last_row)",
    """
    CREATE TABLE finding (
        id INTEGER PRIMARY KEY, firing TEXT NOT NULL, digest INTEGER NOT NULL, time REAL NOT NULL, record TEXT NOT NULL
    ) STRICT
    """,
    "CREATE UNIQUE INDEX finding_once ON finding (firing, digest)",
    """
    CREATE TABLE alarm_change (
        id INTEGER PRIMARY KEY, firing TEXT NOT NULL, digest INTEGER NOT NULL, time REAL NOT NULL, key TEXT NOT NULL,
        change TEXT NOT NULL, who TEXT, record TEXT NOT NULL
    ) STRICT
    """,
    "CREATE UNIQUE INDEX alarm_change_once ON alarm_change (firing, digest)",
    """
    CREATE TABLE snapshot (
        firing TEXT PRIMARY KEY, row INTEGER NOT NULL, clock REAL NOT NULL, state BLOB NOT NULL
    ) STRICT
    """,
)

VERSION_2 = (
    """
    CREATE TABLE entry (
        id INTEGER PRIMARY KEY, firing TEXT NOT NULL, name TEXT NOT NULL, clock REAL NOT NULL, record TEXT NOT NULL
    ) STRICT
    """,
    "CREATE UNIQUE INDEX entry_once ON entry (firing, name)",
)

SCRIPTS: tuple[tuple[str, ...], ...] = (VERSION_1, VERSION_2)
"""Script i brings version i to i + 1; a released one is never changed."""


def schema_version(connection: sqlite3.Connection) -> int:
    """Return the version of the schema in the file, 0 for a new one."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def check_ours(connection: sqlite3.Connection, file: str) -> None:
    """Refuse a database that a newer program or something else made.

    Raises:
        StoreTooNewError: a newer version of the program made it.
        StoreUnavailableError: it is none of ours.
    """
    version = schema_version(connection)
    mark = int(connection.execute("PRAGMA application_id").fetchone()[0])
    tables = int(connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0])
    if mark != APPLICATION_ID and (mark or version or tables):
        raise StoreUnavailableError(f"{file} is a database of some other program; choose another data directory")
    if version > len(SCRIPTS):
        raise StoreTooNewError(
            f"{file} has schema version {version}, this program knows up to {len(SCRIPTS)}: "
            "a newer version made it; install that version, or choose another data directory"
        )


def migrate(connection: sqlite3.Connection) -> None:
    """Bring the file to the newest schema; all or nothing."""
    version = schema_version(connection)
    if version == len(SCRIPTS):
        return
    if version == 0:
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.execute("BEGIN IMMEDIATE")
    try:
        for script in SCRIPTS[version:]:
            for statement in script:
                connection.execute(statement)
        connection.execute(f"PRAGMA user_version = {len(SCRIPTS)}")
        connection.execute("COMMIT")
    except sqlite3.Error:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise
