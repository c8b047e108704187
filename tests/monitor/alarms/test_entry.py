"""An entry of the book as the alarm that others see."""

import msgspec
import pytest

from monitor.alarms.entry import Entry, OpenCause, alarm_of
from monitor.alarms.state import State


@pytest.mark.parametrize(
    ("state", "active", "acked"),
    [
        (State.NORMAL, False, True),
        (State.SUPPRESSED, True, False),
        (State.UNACKED, True, False),
        (State.ACKED, True, True),
        (State.CLEARED, False, False),
        (State.LATCHED, True, False),
        (State.SHELVED, False, True),
    ],
)
def test_each_state_shows_as_active_and_acked(state: State, active: bool, acked: bool) -> None:
    """The two flags that others read follow from the state."""
    alarm = alarm_of(Entry(key="fall", row="r", subject=None, priority=1, state=state))

    assert (alarm.active, alarm.acked) == (active, acked)


def test_alarm_carries_what_the_entry_knows() -> None:
    """Every field of the alarm is the entry's own."""
    entry = Entry(
        key="sensor:front", row="sensor-failed", subject="front", priority=1, no_data=True, since=5.0, cleared=6.0,
        acked_at=7.0, acked_by="Ana", state=State.SHELVED, shelved_until=8.0, shelved_by="Rui", shelved_why="new wire",
        suppressed_by="node:n", sensor="front", text="open",
    )  # fmt: skip

    alarm = alarm_of(entry)
    assert (alarm.key, alarm.row, alarm.priority, alarm.no_data) == ("sensor:front", "sensor-failed", 1, True)
    assert (alarm.since, alarm.cleared, alarm.acked_at, alarm.acked_by) == (5.0, 6.0, 7.0, "Ana")
    assert (alarm.shelved_by, alarm.shelved_why) == ("Rui", "new wire")
    assert (alarm.shelved_until, alarm.suppressed_by, alarm.sensor, alarm.text) == (8.0, "node:n", "front", "open")


def test_entry_survives_json() -> None:
    """An entry with an open cause is the same after saving and reading."""
    entry = Entry(key="fall", row="r", subject=None, priority=1, state=State.ACKED)
    entry.open["open"] = OpenCause(1.5, "text", "front")

    assert msgspec.json.decode(msgspec.json.encode(entry), type=Entry) == entry


def test_entries_do_not_share_their_causes() -> None:
    """What opens in one entry is not open in another."""
    one, other = (Entry(key=k, row="r", subject=None, priority=1) for k in "ab")
    one.open[""] = OpenCause(0.0, "", None)

    assert other.open == {}
