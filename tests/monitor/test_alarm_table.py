"""The command `nightstoke alarm-table` prints a table that a site may use as it is."""

import argparse

import pytest

from monitor.alarm_table import run
from monitor.alarms.table import parse_table
from monitor.tables import shipped_alarms


def test_the_printed_table_is_the_shipped_one(capsys: pytest.CaptureFixture[str]) -> None:
    """To the letter, and readable."""
    assert run(argparse.Namespace()) == 0
    printed = capsys.readouterr().out

    assert printed == shipped_alarms()
    assert parse_table(printed, "own.toml").row
