"""Records and sentences of stokes and rhythm."""

from collections.abc import Callable

import numpy as np

from monitor.engine.rhythm import Drift
from monitor.engine.setup import EngineSetup
from monitor.engine.stoke_state import Stoke
from monitor.engine.stoke_words import rhythm_findings, stoke_findings

KNOWN = np.array([1000.0])


def test_a_dip_at_the_firebox_names_sensor_depth_and_door(make_setup: Callable[..., EngineSetup]) -> None:
    """The depth with four digits in degC."""
    ((kiln, finding),) = stoke_findings(make_setup(("firebox",)), [Stoke(0, 0, 10.12345, 900.0, 30.0)], KNOWN)

    assert (kiln, finding.time, finding.onset, finding.sensor, finding.door) == (0, 1000.0, 900.0, "firebox", "front")
    assert (finding.measure, finding.unit) == (10.12, "Cel")
    assert finding.text == "Stoked: firebox dipped by 10 degrees."


def test_without_a_firebox_sensor_the_door_is_unknown(make_setup: Callable[..., EngineSetup]) -> None:
    """The chamber shows that there was a stoke, not where."""
    ((_, finding),) = stoke_findings(make_setup(("front",)), [Stoke(0, 0, np.nan, 900.0, 30.0)], KNOWN)

    assert (finding.door, finding.measure, finding.unit) == (None, None, None)
    assert "chamber" in finding.text


def test_a_stoke_says_how_sure_it_is_unless_somebody_told_of_it(make_setup: Callable[..., EngineSetup]) -> None:
    """By its log odds, never surer than 98 in 100; a person's or a switch's word is not weighed."""
    odds = [np.nan, -1.0, 0.0, 2.0, 4.0, 30.0]
    stokes = [Stoke(0, 0, 5.0, 900.0 + 100.0 * i, 30.0, one) for i, one in enumerate(odds)]
    told = [finding.confidence for _, finding in stoke_findings(make_setup(("firebox",)), stokes, KNOWN)]

    assert told == [None, 0.21, 0.43, 0.85, 0.98, 0.98]


def test_a_stoke_found_late_says_so(make_setup: Callable[..., EngineSetup]) -> None:
    """It names no sensor."""
    late = Stoke(0, -1, np.nan, 700.0, 2.0, is_late=True)
    ((_, finding),) = stoke_findings(make_setup(("firebox",)), [late], KNOWN)

    assert (finding.sensor, finding.door) == (None, "front")
    assert "between" in finding.text


def test_a_drift_says_both_intervals_and_its_end_too() -> None:
    """Minutes and ratio at the begin; the usual rhythm, or no rhythm at all, at the end."""
    begin, end, lull = (
        f
        for _, f in rhythm_findings(
            [
                Drift(0, 100.0, 405.0, 1.35, begins=True),
                Drift(0, 800.0, 306.0, 1.02, begins=False),
                Drift(0, 900.0, np.nan, np.nan, begins=False),
            ],
            KNOWN,
        )
    )

    assert begin.text == "The last five stokes came every 6.8 minutes, 5.0 was usual."
    assert (begin.state.value, begin.measure, begin.unit, begin.ratio) == ("begin", 6.75, "min", 1.35)
    assert (end.state.value, end.text) == ("end", "The stokes come in their usual rhythm again.")
    assert (lull.measure, lull.unit, lull.ratio) == (None, None, None)
