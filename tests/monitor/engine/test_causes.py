"""What speaks for which cause: common practice, no source, case by case."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from monitor.engine.causes import Evidence, evidence_of, likely_words
from monitor.engine.climb import new_climb
from monitor.engine.reduction import new_reduction
from monitor.engine.rhythm import new_rhythm
from monitor.engine.setup import EngineSetup

USUAL = Evidence(since_s=200.0, usual_s=360.0, stokes=5, reduces=False, fire_c_per_h=-5.0, chamber_c_per_h=-4.0)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"since_s": 1140.0, "stokes": 1}, "No stoke seen for 19 minutes; 6 minutes were usual."),
        ({}, "Stoked as usual, so it is hardly the rhythm: look at embers and air before feeding more."),
        ({"stokes": 3}, "Stoked 3 times in half an hour; 6 minutes were usual."),
        ({"stokes": 9}, "Stoked 9 times in half an hour, more than usual"),
        ({"usual_s": np.nan, "reduces": True}, "The oxygen probe measures reduction: air is short."),
        ({"usual_s": np.nan, "fire_c_per_h": -90.0}, "is the stoke door or an inlet open?"),
        ({"usual_s": np.nan, "fire_c_per_h": 40.0}, "is a port open, or the damper in?"),
    ],
)
def test_the_likeliest_comes_first(change: dict[str, float], words: str) -> None:
    """Each alone."""
    assert words in likely_words(replace(USUAL, **change))


def test_more_wood_is_never_advised_where_embers_may_be_choked() -> None:
    """The classic error of the night is to feed a choked fire."""
    for stokes in (4, 5, 9):
        told = likely_words(replace(USUAL, stokes=stokes))
        assert "before feeding more" in told or "would choke them" in told


def test_no_more_than_two_facts_are_told() -> None:
    """A tired person reads two sentences."""
    told = likely_words(replace(USUAL, since_s=1140.0, reduces=True, fire_c_per_h=-90.0))

    assert (
        told == "No stoke seen for 19 minutes; 6 minutes were usual. The oxygen probe measures reduction: air is short."
    )


def test_nothing_known_says_nothing() -> None:
    """Without a rhythm, a probe or a firebox sensor there is nothing to say."""
    assert likely_words(Evidence(np.nan, np.nan, 0, reduces=False, fire_c_per_h=np.nan, chamber_c_per_h=-9.0)) == ""


def test_evidence_is_read_off_the_engines_memory(make_setup: Callable[..., EngineSetup]) -> None:
    """The last stoke, those of half an hour, the usual interval, firebox and chamber."""
    setup = make_setup(("firebox", "middle"))
    rhythm, reduction, climb = new_rhythm(1), new_reduction(setup.shape), new_climb(setup.shape)
    rhythm.onsets[0, -4:] = [5000.0, 8300.0, 8900.0, 9500.0]
    rhythm.usual_s[0], reduction.open[0] = 600.0, True
    climb.rate[0] = [-50.0, -8.0]

    found = evidence_of(setup, rhythm, reduction, climb, (0, 1), 10_000.0)
    assert found == Evidence(500.0, 600.0, 3, reduces=True, fire_c_per_h=-50.0, chamber_c_per_h=-8.0)
