"""Versions of the tables."""

import sqlite3

import pytest

from monitor.store import schema
from monitor.store.errors import StoreTooNewError, StoreUnavailableError


@pytest.fixture
def connection() -> sqlite3.Connection:
    """Return a database of nothing, in memory."""
    return sqlite3.connect(":memory:", isolation_level=None)


def test_a_new_file_gets_all_tables(connection: sqlite3.Connection) -> None:
    """Migration brings version 0 to the newest and marks the file as ours."""
    schema.check_ours(connection, "x")
    schema.migrate(connection)

    tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")}
    assert tables == {"firing", "tail", "block", "finding", "alarm_change", "snapshot", "entry"}
    assert schema.schema_version(connection) == len(schema.SCRIPTS)
    schema.check_ours(connection, "x")


def test_migrating_twice_changes_nothing(connection: sqlite3.Connection) -> None:
    """A file of the newest version is left alone."""
    schema.migrate(connection)
    before = connection.total_changes

    schema.migrate(connection)

    assert connection.total_changes == before


def test_a_newer_version_is_refused_by_name(connection: sqlite3.Connection) -> None:
    """The message says which versions meet and what to do."""
    schema.migrate(connection)
    connection.execute("PRAGMA user_version = 99")

    with pytest.raises(StoreTooNewError, match=r"kiln\.db has schema version 99, this program knows up to 2.*install"):
        schema.check_ours(connection, "kiln.db")


def test_a_file_of_version_1_is_brought_on_with_all_that_is_in_it(
    connection: sqlite3.Connection, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the first released version stored stays, and entries have their table."""
    with monkeypatch.context() as first:
        first.setattr(schema, "SCRIPTS", schema.SCRIPTS[:1])
        schema.migrate(connection)
    connection.execute("INSERT INTO firing VALUES ('20251124T1600Z', 1.0, NULL, 'k', '')")
    schema.migrate(connection)

    assert schema.schema_version(connection) == len(schema.SCRIPTS)
    assert connection.execute("SELECT id FROM firing").fetchall() == [("20251124T1600Z",)]
    assert connection.execute("SELECT count(*) FROM entry").fetchone() == (0,)


def test_another_programs_database_is_refused(connection: sqlite3.Connection) -> None:
    """A file with tables and without our mark is not written to."""
    connection.execute("CREATE TABLE recipe (name TEXT)")

    with pytest.raises(StoreUnavailableError, match="some other program"):
        schema.check_ours(connection, "kiln.db")


def test_a_failing_script_changes_nothing(connection: sqlite3.Connection, monkeypatch: pytest.MonkeyPatch) -> None:
    """Migration is all or nothing: the version and the tables stay as they were."""
    schema.migrate(connection)
    monkeypatch.setattr(schema, "SCRIPTS", (*schema.SCRIPTS, ("CREATE TABLE more (x) STRICT", "NONSENSE")))

    with pytest.raises(sqlite3.OperationalError):
        schema.migrate(connection)
    assert schema.schema_version(connection) == 2
    assert connection.execute("SELECT count(*) FROM sqlite_schema WHERE name = 'more'").fetchone() == (0,)
    assert not connection.in_transaction
