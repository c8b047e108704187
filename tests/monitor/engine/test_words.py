"""The sentences of stall, fall and reduction."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from monitor.engine.inferred import Hint
from monitor.engine.setup import EngineSetup
from monitor.engine.told import Change
from monitor.engine.words import fall_findings, inferred_findings, reduction_findings, stall_findings
from monitor.model import Finding, FindingKind, FindingState

KNOWN_AT = np.array([2000.0])


def _nothing(kiln: int, sensor: int) -> str:
    """Know no cause."""
    return ""


def _change(*, begins: bool, measure: float = 0.0) -> Change:
    return Change(
        begun=np.array([begins]),
        ended=np.array([not begins]),
        sensor=np.array([1]),
        onset=np.array([1100.0]),
        ended_at=np.array([1900.0]),
        measure=np.array([measure]),
    )


def test_a_fall_says_which_zone_and_how_far(make_setup: Callable[..., EngineSetup]) -> None:
    """The begin names sensor and depth, the end repeats the sensor and has no measure."""
    setup = make_setup(["middle", "front"])
    ((kiln, begin),) = fall_findings(setup, _change(begins=True, measure=12.3456), KNOWN_AT, _nothing)
    ((_, end),) = fall_findings(setup, _change(begins=False), KNOWN_AT, _nothing)

    assert (kiln, begin.kind, begin.state, begin.sensor) == (0, FindingKind.FALL, FindingState.BEGIN, "front")
    assert (begin.time, begin.onset, begin.measure) == (2000.0, 1100.0, 12.35)
    assert begin.text == "front has fallen 12 degrees below its highest of the last 30 minutes."
    assert (end.state, end.sensor, end.onset, end.measure) == (FindingState.END, "front", 1900.0, None)
    assert end.text == "The chamber falls no longer."


def test_a_stall_says_how_fast_and_for_how_long(make_setup: Callable[..., EngineSetup]) -> None:
    """A small climb is told as a climb, a loss as a loss, with the minutes since the onset."""
    setup = make_setup(["middle", "front"])
    ((_, climbs),) = stall_findings(setup, _change(begins=True, measure=3.1), KNOWN_AT, _nothing)
    ((_, loses),) = stall_findings(setup, _change(begins=True, measure=-7.6), KNOWN_AT, _nothing)
    ((_, end),) = stall_findings(setup, _change(begins=False), KNOWN_AT, _nothing)

    assert climbs.text == "front climbs only 3 degrees an hour, for about 15 minutes now."
    assert loses.text == "front loses 8 degrees an hour, for about 15 minutes now."
    assert (end.text, end.onset) == ("front stalls no longer.", 1900.0)


def test_a_measured_reduction_says_how_much_air_there_is(make_setup: Callable[..., EngineSetup]) -> None:
    """The ratio at the probe, and no doubt about it."""
    ((_, finding),) = reduction_findings(make_setup(["middle", "back"]), _change(begins=True, measure=0.874), KNOWN_AT)

    assert finding.text == "back measures 0.87 of the air that the fuel asks for: the kiln reduces."
    assert (finding.confidence, finding.measure) == (None, 0.874)


def test_an_inferred_reduction_says_so_first_and_how_sure() -> None:
    """No sensor, no measure; an end has no confidence, and says what ended it."""

    def told(*, begins: bool, shown: bool) -> Finding:
        change = replace(_change(begins=begins, measure=np.nan), sensor=np.array([-1]))
        hint = Hint(change, np.array([0.8349]), np.array([shown]), np.zeros((1, 3)))
        ((_, finding),) = inferred_findings(hint, change, KNOWN_AT)
        return finding

    begin, spare, lost = told(begins=True, shown=False), told(begins=False, shown=True), told(begins=False, shown=False)

    assert (begin.kind, begin.sensor, begin.measure, begin.confidence) == (FindingKind.REDUCTION, None, None, 0.83)
    assert (
        begin.text
        == "Inferred, not measured: the temperatures swing between stokes as where air is short: it may reduce."
    )
    assert spare.text == "Inferred, not measured: the temperatures swing between stokes as with air to spare."
    assert lost.text == "Inferred, not measured: nothing tells any longer whether the kiln reduces."
    assert (spare.confidence, spare.onset) == (None, 1900.0)


def test_nothing_decided_says_nothing(make_setup: Callable[..., EngineSetup]) -> None:
    """Without a begin or an end there is no finding."""
    still = _change(begins=True)
    quiet = Change(np.array([False]), np.array([False]), still.sensor, still.onset, still.ended_at, still.measure)

    assert fall_findings(make_setup(["middle", "front"]), quiet, KNOWN_AT, _nothing) == []
    assert stall_findings(make_setup(["middle", "front"]), quiet, KNOWN_AT, _nothing) == []


def test_what_speaks_for_a_cause_follows_at_the_begin_only(make_setup: Callable[..., EngineSetup]) -> None:
    """It is asked for the kiln and the sensor that are told of."""
    setup = make_setup(["middle", "front"])

    def why(kiln: int, sensor: int) -> str:
        return f"Kiln {kiln}, sensor {sensor}."

    for findings in (fall_findings, stall_findings):
        ((_, begin),) = findings(setup, _change(begins=True, measure=3.0), KNOWN_AT, why)
        ((_, end),) = findings(setup, _change(begins=False), KNOWN_AT, why)
        assert begin.text.endswith(" Kiln 0, sensor 1.")
        assert "Kiln" not in end.text
