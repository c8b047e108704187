"""Sensor faults become spans: of one word at one sensor one at a time, and a silence is every sensor's."""

from dataclasses import replace

import pytest

from monitor.model import FindingKind, SensorFault
from simulator.firing import Firing
from simulator.script.line_faults import LineFault
from simulator.script.mishaps import Mishap
from simulator.script.probe_faults import ProbeFault
from simulator.script.scenarios import find_scenario
from simulator.script.spells import Spell
from simulator.spec.kiln_file import load_kiln
from simulator.truth.minutes import minute_means
from simulator.truth.sensors import true_sensors
from simulator.truth.spans import TrueSpan

SPEC = load_kiln("demo")
IDS = sorted(s.id for s in SPEC.sensors)


def _faults(*spells: Spell) -> list[TrueSpan]:
    """Return the sensor faults of two hours of preheat with `spells`."""
    scenario = replace(find_scenario("steady"), spells=spells)
    firing = Firing(SPEC, scenario, seed=1, lit=1_764_000_000)
    return true_sensors(firing, minute_means(firing.run(1440)), seed=1)


def test_probe_fault_is_told_with_its_cause() -> None:
    """A hot wire is open, from first to last."""
    (span,) = _faults(Spell(ProbeFault.HOT_WIRE, 0.5, 0.5, sensor="middle"))

    assert (span.kind, span.sensor, span.fault) == (FindingKind.SENSOR, "middle", SensorFault.OPEN)
    assert span.cause == "hot-wire"
    assert (span.begin_h, span.end_h) == pytest.approx((0.5, 1.0), abs=1.0 / 60.0)


def test_silence_is_missing_for_every_sensor() -> None:
    """Half an hour without a line."""
    spans = _faults(Spell(LineFault.OUTAGE, 0.5, 0.5))

    assert [s.sensor for s in spans] == IDS
    assert {(s.fault, s.cause, s.begin_h, s.end_h) for s in spans} == {(SensorFault.MISSING, "silence", 0.5, 1.0)}


def test_two_reasons_for_one_word_are_one_span() -> None:
    """No fresh result from 0.4 to 0.8 h, and an outage from 0.6 to 1 h; later another of its own."""
    own = [
        s
        for s in _faults(
            Spell(ProbeFault.NO_RESULT, 0.4, 0.4, sensor="middle"),
            Spell(LineFault.OUTAGE, 0.6, 0.4),
            Spell(LineFault.OUTAGE, 1.5, 0.2),
        )
        if s.sensor == "middle"
    ]

    assert [round(h, 2) for s in own for h in (s.begin_h, s.end_h)] == pytest.approx([0.4, 1.0, 1.5, 1.7], abs=0.02)


def test_different_words_at_one_sensor_may_overlap() -> None:
    """Open and missing at once."""
    spans = _faults(Spell(ProbeFault.OPEN, 0.4, 0.4, sensor="middle"), Spell(LineFault.OUTAGE, 0.6, 0.4))

    assert sorted(s.fault for s in spans if s.sensor == "middle") == ["missing", "open"]


def test_mishap_of_the_crew_is_no_sensor_fault() -> None:
    """A dozing watch leaves the probes well."""
    assert _faults(Spell(Mishap.DOZE, 0.5, 1.0)) == []
