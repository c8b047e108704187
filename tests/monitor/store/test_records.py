"""The store's records."""

import dataclasses

import pytest

from monitor.model import Alarm
from monitor.store import records
from monitor.store.records import ChangedAlarm, JournalLine

ALARM = Alarm("fall", "fall", 1, True, False, False, 5.0, None, None, None, None, None, "front", "falling")


@pytest.mark.parametrize("name", ["Firing", "StoredScan", "JournalLine", "StateSnapshot", "Committed", "WriterStatus"])
def test_records_cannot_be_changed(name: str) -> None:
    """What was stored stays as it was stored."""
    assert getattr(records, name).__dataclass_params__.frozen


def test_a_stored_journal_line_is_itself_a_change() -> None:
    """What is read from the journal can be written to another."""
    line = JournalLine("fall", "begin", 5.0, None, ALARM)
    change: ChangedAlarm = line

    assert dataclasses.asdict(line)["key"] == change.key
