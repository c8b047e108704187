"""True sensor faults: which word, which sensor, from when to when."""

from dataclasses import dataclass, replace

import numpy as np
import pytest

from monitor.model import FloatArray, SensorFault
from simulator.probe.sensor_truth import TrueFault, true_sensor_faults
from simulator.script.probe_faults import FROM_THE_START, TOLD_AS, ProbeFault
from simulator.script.spells import Spell
from simulator.spec.kiln_file import load_kiln

SPEC = replace(load_kiln("demo"), shed_c=20.0, shed_swing_c=0.0)
IDS = [s.id for s in SPEC.sensors]
LIT = 1_764_000_000
MINUTES = 20 * 60
CLOCK_S = 60.0 * np.arange(1, MINUTES + 1)


@dataclass(frozen=True)
class _Happened:
    junction_c: FloatArray
    ware_c: FloatArray
    air_kg_s: FloatArray
    demand_kg_s: FloatArray


def _happened(*, from_c: float = 300.0, to_c: float = 1250.0, ratio: float = 0.9) -> _Happened:
    """Return twenty hours of an even climb, everywhere alike."""
    climb = np.linspace(from_c, to_c, MINUTES)[:, None]
    zones = (MINUTES, len(SPEC.zones))
    air = np.full(zones, 0.05)
    return _Happened(climb + np.zeros((MINUTES, len(IDS))), climb + np.zeros(zones), air, air / ratio)


def _faults(*spells: Spell, happened: _Happened | None = None) -> list[TrueFault]:
    return true_sensor_faults(SPEC, spells, happened or _happened(), clock_s=CLOCK_S, lit=LIT)


LASTING = [
    f
    for f, word in TOLD_AS.items()
    if word not in (None, SensorFault.DRIFT, SensorFault.COLD_JUNCTION)
    and f not in FROM_THE_START | {ProbeFault.SWAPPED, ProbeFault.DEAD_BUS}
]


@pytest.mark.parametrize("what", LASTING)
def test_most_faults_are_true_while_their_spell_lasts(what: ProbeFault) -> None:
    """One event from begin to end, of the named sensor, in the word of findings."""
    assert _faults(Spell(what, 5.0, 2.0, sensor="middle")) == [TrueFault("middle", TOLD_AS[what], 5.0, 7.0, what)]


def test_good_probes_have_no_faults() -> None:
    """Age and tolerance are normal."""
    assert _faults() == []


def test_every_fault_is_judged() -> None:
    """None is forgotten; short gaps alone are nothing to tell."""
    assert set(TOLD_AS) == set(ProbeFault)
    assert [f for f, word in TOLD_AS.items() if word is None] == [ProbeFault.CONVERTER_RESET]
    assert _faults(Spell(ProbeFault.CONVERTER_RESET, 5.0, 2.0, size=10.0, sensor="middle")) == []


def test_dead_bus_is_missing_at_every_sensor() -> None:
    """F23: all inputs of the node."""
    found = _faults(Spell(ProbeFault.DEAD_BUS, 5.0, 2.0))

    assert sorted(f.sensor for f in found) == sorted(IDS)
    assert {(f.fault, f.begin_h, f.end_h) for f in found} == {(SensorFault.MISSING, 5.0, 7.0)}


def test_swapped_is_true_of_both() -> None:
    """F11: front and middle."""
    found = _faults(Spell(ProbeFault.SWAPPED, 5.0, 2.0, sensor="front"))

    assert [(f.sensor, f.fault) for f in found] == [("front", SensorFault.SWAPPED), ("middle", SensorFault.SWAPPED)]


def test_step_of_15_degc_is_a_drift_once_it_shows_10() -> None:
    """F13: -15 degC told at 1000 degC are -10 at 667, which the climb reaches after 7.73 h."""
    (found,) = _faults(Spell(ProbeFault.STEP, 2.0, 30.0, size=-15.0, sensor="back"))

    assert (found.sensor, found.fault) == ("back", SensorFault.DRIFT)
    assert found.begin_h == pytest.approx((666.7 - 300.0) / 950.0 * 20.0, abs=0.1)
    assert found.end_h == 20.0


def test_step_of_5_degc_is_no_fault() -> None:
    """An offset of a few degrees is normal."""
    assert _faults(Spell(ProbeFault.STEP, 2.0, 18.0, size=-5.0, sensor="back")) == []


def test_green_rot_is_a_drift_from_10_degc_on_and_for_good() -> None:
    """F12: from 900 degC (12.63 h) at 2 degC/h told at 1000 degC; off by 10 degC where 2 (h - 12.63) T / 1000 is 10."""
    (found,) = _faults(Spell(ProbeFault.GREEN_ROT, 0.0, 17.5, size=2.0, sensor="back"))
    hot_h = (900.0 - 300.0) / 950.0 * 20.0
    lost_c = 2.0 * (found.begin_h - hot_h) * (300.0 + 47.5 * found.begin_h) / 1000.0

    assert found.fault is SensorFault.DRIFT
    assert lost_c == pytest.approx(10.0, abs=0.2)
    assert found.end_h == 20.0


def test_green_rot_waits_for_reduction() -> None:
    """In lean gas nothing rots."""
    spell = Spell(ProbeFault.GREEN_ROT, 0.0, 17.5, size=2.0, sensor="back")

    assert _faults(spell, happened=_happened(ratio=1.2)) == []


@pytest.mark.parametrize(
    ("what", "size"),
    [
        (ProbeFault.SOAKED, 0.2),
        (ProbeFault.COPPER, 1.0),
        (ProbeFault.CABLE_REVERSED, 1.0),
        (ProbeFault.PULLED_OUT, 1.0),
    ],
)
def test_what_misleads_by_more_than_10_degc_is_a_drift(what: ProbeFault, size: float) -> None:
    """F04, F06, F07, F14: from and to where it leads that far astray, never beyond the spell by much."""
    (found,) = _faults(Spell(what, 12.0, 6.0, size=size, sensor="back"))

    assert found.fault is SensorFault.DRIFT
    assert 12.0 <= found.begin_h < 15.5
    assert found.begin_h < found.end_h <= 18.2


@pytest.mark.parametrize(("size", "count"), [(5.0, 1), (-5.0, 1), (1.0, 0)])
def test_cold_junction_off_counts_beyond_2_degc(size: float, count: int) -> None:
    """F16: 5 degC is a fault, 1 is what chips do."""
    found = _faults(Spell(ProbeFault.COLD_OFF, 5.0, 2.0, size=size, sensor="back"))

    assert [(f.fault, round(f.begin_h, 1), round(f.end_h, 1)) for f in found] == [
        (SensorFault.COLD_JUNCTION, 5.0, 7.0)
    ] * count


def test_flame_at_the_head_is_told_by_the_cold_junction() -> None:
    """F15: from where the converter is 2 degC warmer until it has cooled."""
    (found,) = _faults(Spell(ProbeFault.HEAD_FLAME, 5.0, 0.5, size=90.0, sensor="back"))

    assert found.fault is SensorFault.COLD_JUNCTION
    assert 5.0 <= found.begin_h < 5.1
    assert 5.7 < found.end_h < 6.0


def test_wrong_letter_is_true_all_the_time_and_soon_out_of_range() -> None:
    """F09: K called S ends where its emf and 0.13 mV (S at 23 degC) are the last of S, 18.69 mV (printed tables).

    That emf is 18.56 + 0.92 mV (K at 23 degC) against 0 degC: 474 degC.
    """
    letter, beyond = _faults(Spell(ProbeFault.LETTER, 0.0, 30.0, sensor="back"))

    assert (letter.fault, letter.begin_h, letter.end_h) == (SensorFault.LETTER, 0.0, 20.0)
    assert (beyond.fault, beyond.cause) == (SensorFault.RANGE, ProbeFault.LETTER)
    assert beyond.begin_h == pytest.approx((474.0 - 300.0) / 950.0 * 20.0, abs=0.1)


def test_kiln_too_hot_for_a_letter_is_out_of_range_without_a_cause() -> None:
    """Type K ends at 1372 degC: three probes of that letter, on the way from 1300 to 1400."""
    found = _faults(happened=_happened(from_c=1300.0, to_c=1400.0))

    assert sorted(f.sensor for f in found) == sorted(s.id for s in SPEC.sensors if s.type == "K")
    assert all((f.fault, f.cause) == (SensorFault.RANGE, None) for f in found)
    assert all(f.begin_h == pytest.approx(14.4, abs=0.05) for f in found)
