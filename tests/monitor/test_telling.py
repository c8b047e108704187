"""What a panel tells, as an entry."""

import pytest

from monitor.model import EntryKind
from monitor.telling import Told, entry_of

CLOCK, BEGUN = 1_764_003_600.0, 1_764_000_000.0


@pytest.mark.parametrize(
    ("ago_s", "speed", "time"), [(0, 1, CLOCK), (60, 1, CLOCK - 60), (60, 30, CLOCK - 1800), (9999, 1, BEGUN)]
)
def test_it_was_done_as_long_ago_as_people_waited(ago_s: float, speed: float, time: float) -> None:
    """In the kiln's time, and never before the firing began."""
    entry = entry_of(Told("a", EntryKind.STOKED, "front", ago_s, "Ana"), CLOCK, BEGUN, speed)

    assert (entry.clock, entry.time, entry.what, entry.door, entry.who) == (CLOCK, time, "stoked", "front", "Ana")


@pytest.mark.parametrize(("note", "what"), [("phase/closed-up", "closed-up"), ("phase/still-fired", "answered")])
def test_to_answer_that_the_kiln_is_closed_up_is_to_tell_it(note: str, what: str) -> None:
    """Any other answer stays one."""
    entry = entry_of(Told("a", EntryKind.ANSWERED, note=note), CLOCK, BEGUN, 1.0)

    assert (entry.what, entry.note) == (what, None if what == "closed-up" else note)
