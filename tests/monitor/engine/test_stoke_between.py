"""Stokes found between two others."""

import numpy as np
import pytest

from monitor.engine.stoke_between import find_between
from monitor.engine.stoke_times import Times, new_times

AT = 300
INTERVAL_S = 300.0


@pytest.fixture
def times() -> Times:
    """Return a settled rhythm of 5 min."""
    times = new_times(1)
    times.count[0], times.interval_s[0] = 20.0, INTERVAL_S
    return times


def _found(evidence: float, ago_s: float) -> np.ndarray:
    found = np.full(320, -4.5)
    found[AT - round(ago_s / 5.0)] = evidence
    return found


@pytest.mark.parametrize(
    ("evidence", "ago_s", "since_s", "is_there"),
    [
        (2.0, 300.0, 600.0, True),  # weak, but just where one was due
        (2.0, 310.0, 590.0, True),
        (0.5, 300.0, 600.0, False),  # nothing of its own: never made up
        (2.0, 180.0, 600.0, False),  # fits no rhythm
        (9.0, 200.0, 600.0, True),  # strong enough to be off the rhythm
        (9.0, 50.0, 600.0, False),  # charges closer than 75 s are one stoke
        (9.0, 150.0, 300.0, False),  # no room for one
        (2.0, 300.0, 900.0, True),  # two were missed, one of them is seen
        (9.0, 300.0, 1500.0, False),  # too long a gap to know the rhythm in it
        (9.0, 300.0, float("nan"), False),  # the first stoke has none before it
    ],
)
def test_a_stoke_between_needs_evidence_room_and_rhythm(
    times: Times, evidence: float, ago_s: float, since_s: float, is_there: bool
) -> None:
    """Each case alone: what was seen `ago_s` before the newest stoke, `since_s` after the one before."""
    place = find_between(times, 0, _found(evidence, ago_s), AT, since_s)

    assert place == (AT - round(ago_s / 5.0) if is_there else None)


def test_an_unsettled_rhythm_and_a_short_history_find_nothing(times: Times) -> None:
    """With five stokes told, or with the interval beyond what is kept, nothing is found."""
    few = new_times(1)
    few.count[0], few.interval_s[0] = 5.0, INTERVAL_S

    assert find_between(few, 0, _found(9.0, 300.0), AT, 600.0) is None
    assert find_between(times, 0, np.full(320, 9.0), 10, 600.0) is None
