"""The table of thresholds: what the definitions of findings fix, in the units that the detectors count in."""

import pytest

from monitor.engine import limits
from monitor.model import SLOT_S


@pytest.mark.parametrize(
    ("told_min", "defined_min"),
    [
        (limits.FALL_LOOKBACK_BEATS * limits.BEAT_S / 60.0, 30.0),
        (limits.FALL_BREAK_S / 60.0, 10.0),
        (limits.STALL_BREAK_S / 60.0, 5.0),
        ((limits.SLOW_WINDOW_POINTS - 1) * limits.SLOW_STEP_BEATS * limits.BEAT_S / 60.0, 90.0),
        ((limits.SLOW_POINTS - 1) * limits.SLOW_STEP_BEATS * limits.BEAT_S / 60.0, 180.0),
    ],
)
def test_windows_are_as_long_as_the_definitions_say(told_min: float, defined_min: float) -> None:
    """Windows counted in beats and seconds are the minutes of the definitions of fall and stall."""
    assert told_min == defined_min


def test_beats_are_whole_slots() -> None:
    """A beat holds a whole number of slots, so that beats close on the grid of record time."""
    assert limits.SLOTS_PER_BEAT * SLOT_S == limits.BEAT_S


def test_definitions_keep_their_numbers() -> None:
    """The degrees of the definitions of fall and stall stand in the table unchanged."""
    assert (limits.FALL_DEPTH_C, limits.STALL_CLIMB_C_PER_H, limits.STALL_PLAN_C_PER_H) == (10.0, 5.0, 20.0)
    assert (limits.STALL_ABOVE_PLAN_C, limits.SLOW_PLAN_C_PER_H, limits.SLOW_SHARE) == (10.0, 8.0, 0.25)


def test_an_intermittent_break_is_forgotten_before_it_could_chatter() -> None:
    """The memory of breaks spans the clean time after which a fault ends."""
    assert limits.FAULT_MEMORY_SLOTS * SLOT_S == limits.FAULT_CLEAN_S
