"""Wander with age, and green rot."""

import numpy as np
import pytest

from monitor.model import FloatArray
from simulator.probe.ageing import Ageing
from simulator.script.probe_faults import ProbeFault
from simulator.script.spells import Spell
from simulator.spec.kiln_file import load_kiln

SPEC = load_kiln("demo")
BACK = [s.id for s in SPEC.sensors].index("back")
MIDDLE = [s.id for s in SPEC.sensors].index("middle")
HOURS = 20
CLOCK_S = np.arange(60.0, HOURS * 3600.0 + 1.0, 60.0)


def _ageing(*spells: Spell, seed: int = 1) -> Ageing:
    return Ageing(SPEC, spells, np.random.default_rng([seed, 14]))


def _columns(level: float) -> FloatArray:
    return np.full((len(CLOCK_S), len(SPEC.sensors)), level)


def test_base_metal_wanders_degrees_over_a_firing_and_noble_metal_tenths() -> None:
    """20 h at 1200 degC in air: K a few degrees, S hardly one; under 10 degC, which would be a fault (from memory)."""
    worst = np.stack(
        [_ageing(seed=s).add(CLOCK_S, _columns(1200.0), _columns(1.5), 60.0).wander_c[-1] for s in range(30)]
    ).max(axis=0)

    assert SPEC.sensors[BACK].type == "K"
    assert 2.0 < worst[BACK] < 5.0
    assert 0.1 < worst[MIDDLE] < 0.5


def test_age_alone_never_makes_a_fault() -> None:
    """A drift is beyond 10 degC: even 20 h at 1300 degC in reduction stay under it."""
    wander_c = _ageing().add(CLOCK_S, _columns(1300.0), _columns(0.8), 60.0).wander_c

    assert np.all(wander_c[-1] * 1.3 < 10.0)
    assert wander_c[-1, BACK] > 4.0


def test_nothing_wanders_below_1000_degc() -> None:
    """A bisque firing leaves probes as they were."""
    assert not _ageing().add(CLOCK_S, _columns(990.0), _columns(1.5), 60.0).wander_c.any()


def test_reduction_ages_faster() -> None:
    """Three times for K, twice for S (from memory)."""
    lean, rich = (_ageing().add(CLOCK_S, _columns(1100.0), _columns(r), 60.0).wander_c[5] for r in (1.2, 0.8))

    assert rich[BACK] / lean[BACK] == pytest.approx(3.0, rel=0.01)
    assert rich[MIDDLE] / lean[MIDDLE] == pytest.approx(2.0, rel=0.01)


@pytest.mark.parametrize(("celsius", "ratio", "lost_c"), [(950.0, 0.8, 10.0), (950.0, 1.2, 0.0), (890.0, 0.8, 0.0)])
def test_green_rot_goes_on_in_hot_reducing_gas_only(celsius: float, ratio: float, lost_c: float) -> None:
    """F12 green rot: 2 degC/h above 900 degC in reduction for the five hours of the spell; the loss stays."""
    spell = Spell(ProbeFault.GREEN_ROT, 4.0, 5.0, size=2.0, sensor="back")
    rot_c = _ageing(spell).add(CLOCK_S, _columns(celsius), _columns(ratio), 60.0).rot_c

    assert float(rot_c[-1, BACK]) == pytest.approx(lost_c, abs=0.1)
    assert not rot_c[CLOCK_S < 4.0 * 3600.0].any()
    assert not np.delete(rot_c, BACK, axis=1).any()


def test_cutting_into_blocks_changes_no_bit() -> None:
    """Losses go on where the block before left them."""
    spell = Spell(ProbeFault.GREEN_ROT, 4.0, 5.0, size=2.0, sensor="back")
    junction_c = _columns(1000.0) + np.linspace(0.0, 250.0, len(CLOCK_S))[:, None]
    whole = _ageing(spell).add(CLOCK_S, junction_c, _columns(0.8), 60.0)
    ageing = _ageing(spell)
    rows = [slice(0, 7), slice(7, 500), slice(500, len(CLOCK_S))]
    parts = [ageing.add(CLOCK_S[r], junction_c[r], _columns(0.8)[r], 60.0) for r in rows]

    np.testing.assert_array_equal(np.concatenate([p.wander_c for p in parts]), whole.wander_c)
    np.testing.assert_array_equal(np.concatenate([p.rot_c for p in parts]), whole.rot_c)
