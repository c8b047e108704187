"""Faults that show in the numbers, through the whole engine: told, left out of the fire's findings, handed over."""

import re
from collections.abc import Callable

import numpy as np
import pytest

from monitor.engine.electric import rests
from monitor.engine.engine import Engine
from monitor.engine.faults import is_calm, look_at, new_faults, pass_over
from monitor.engine.jumps import is_under_way
from monitor.engine.setup import EngineSetup
from monitor.model import Finding, FindingKind, FloatArray, SensorFault, Slots

MakeSlots = Callable[..., Slots]
PLACES = ["firebox", "front", "middle", "back"]
PLAN = "[plan]\npoints = [[0, 500], [10, 900]]\n"


def _kiln(slots: int) -> FloatArray:
    noise = np.random.default_rng(6).normal(0.0, 0.2, (slots, 4))
    return np.array([620.0, 560.0, 540.0, 520.0]) + (40.0 / 720.0) * np.arange(slots)[:, None] + noise


def _told(engine: Engine, slots: Slots) -> list[Finding]:
    return [finding for _, finding in engine.judge(slots)]


def _as_lines(findings: list[Finding], start: float) -> list[tuple[float, str, str | None, str]]:
    return [((f.time - start) // 60.0, f.state.value, f.sensor, f.fault.value if f.fault else "") for f in findings]


def test_a_shorted_guide_is_told_hands_over_and_makes_no_fall(
    make_engine: Callable[..., Engine], make_slots: MakeSlots, start: float
) -> None:
    """The guide reads its head for an hour: one finding, no fall, no stall; the next sensor guides meanwhile."""
    celsius = _kiln(3 * 720)
    celsius[720:1440, 2] = 55.0
    engine = make_engine(PLACES, PLAN)
    first = _told(engine, make_slots(celsius[:1400]))
    guide_meanwhile = engine.guide()
    rest = _told(engine, make_slots(celsius[1400:], begin=start + 1400 * 5.0))

    assert _as_lines(first + rest, start) == [(60.0, "begin", "middle", "short"), (120.0, "end", "middle", "short")]
    assert guide_meanwhile == "front"
    assert engine.guide() == "middle"
    assert "shorted" in first[0].text


def test_a_step_is_told_as_drift_and_begins_a_new_history(
    make_engine: Callable[..., Engine], make_slots: MakeSlots, start: float
) -> None:
    """15 degC at once at the middle: no fall; it no longer guides where another can, and keeps a climb of its own."""
    celsius = _kiln(3 * 720)
    celsius[720:, 2] -= 15.0
    engine = make_engine(PLACES, PLAN)
    told = _told(engine, make_slots(celsius))
    climb = {c.sensor: c.climb_c_per_h for c in engine.climbs()}["middle"]

    assert _as_lines(told, start) == [(61.0, "begin", "middle", "drift")]
    assert re.search(r"-1[456] degrees", told[0].text)
    assert engine.guide() == "front"
    assert climb == pytest.approx(40.0, abs=3.0)


def test_a_pulled_probe_makes_no_fall(make_engine: Callable[..., Engine], make_slots: MakeSlots, start: float) -> None:
    """The middle is pulled out of a kiln that is hardly warm: told as drift, and the fire goes on."""
    celsius = 0.15 * _kiln(2 * 720) + 20.0
    age_s = 5.0 * np.arange(720)
    celsius[720:, 2] = 25.0 + (celsius[719, 2] - 25.0) * np.exp(-age_s / 30.0)
    engine = make_engine(PLACES, PLAN)
    told = _told(engine, make_slots(celsius))

    assert _as_lines(told, start) == [(62.0, "begin", "middle", "drift")]
    assert engine.guide() == "front"


def test_spikes_leave_climb_and_level_alone(
    make_engine: Callable[..., Engine], make_slots: MakeSlots, start: float
) -> None:
    """Every tenth slot holds a spike: the finding comes, the climb stays what it is without."""
    celsius = _kiln(2 * 720)
    spiky = make_slots(celsius + 25.0 * (np.arange(len(celsius)) % 10 == 0)[:, None])
    spiky.emf_max_volts[::10] += 5.0e-3
    engine, clean = make_engine(PLACES, PLAN), make_engine(PLACES, PLAN)
    told = _told(engine, spiky)
    clean.judge(make_slots(celsius))

    assert {(f.sensor, f.fault) for f in told} == {(p, SensorFault.SPIKES) for p in PLACES}
    spoilt = {f.sensor for f in told if f.kind is not FindingKind.SENSOR}
    assert not spoilt


def test_plain_slots_are_passed_over(make_setup: Callable[..., EngineSetup], make_slots: MakeSlots) -> None:
    """Noise alone is nothing odd, and nothing is under way."""
    faults = new_faults((1, 4))
    assert not is_calm(faults)
    _, odd = look_at(faults, make_setup(PLACES), make_slots(_kiln(720)))
    pass_over(faults, 720)
    arrays = faults.arrays()

    assert not odd.any()
    assert is_calm(faults)
    assert (arrays["jumps.run"] == 720).all()
    assert rests(faults.electric)
    assert not is_under_way(faults.jumps)
    assert not faults.is_blind.any()
    assert not faults.is_doubtful.any()
