"""When a fault is on."""

import numpy as np
import pytest

from simulator.probe.moments import moments_of
from simulator.script.mishaps import Mishap
from simulator.script.probe_faults import ProbeFault
from simulator.script.spells import Spell

CLOCK_S = np.arange(0.0, 7200.0, 60.0)
SPELL = Spell(ProbeFault.STEP, 0.5, 0.5, size=-15.0, sensor="back")


def test_fault_is_on_from_its_begin_to_before_its_end() -> None:
    """Half an hour to an hour; the size comes along."""
    (moment,) = moments_of((SPELL,), "back", CLOCK_S)

    assert CLOCK_S[moment.on].tolist() == list(range(1800, 3600, 60))
    assert moment.size == -15.0


def test_only_the_named_sensor_is_touched_but_a_bus_touches_all() -> None:
    """Mishaps of the crew are none of a probe's."""
    spells = (SPELL, Spell(ProbeFault.DEAD_BUS, 0.0, 1.0), Spell(Mishap.DOZE, 0.0, 1.0))

    assert [m.what for m in moments_of(spells, "back", CLOCK_S)] == [ProbeFault.STEP, ProbeFault.DEAD_BUS]
    assert [m.what for m in moments_of(spells, "front", CLOCK_S)] == [ProbeFault.DEAD_BUS]


def test_presence_comes_and_goes_to_first_order() -> None:
    """1 - exp(-t / tau) while it is on, exp(-t / tau) of what was reached afterwards."""
    (moment,) = moments_of((SPELL,), "back", CLOCK_S)
    share = moment.presence(600.0)

    assert share[CLOCK_S == 1800.0] == 0.0
    assert float(share[CLOCK_S == 2400.0][0]) == pytest.approx(1.0 - np.exp(-1.0))
    assert float(share[CLOCK_S == 4200.0][0]) == pytest.approx((1.0 - np.exp(-3.0)) * np.exp(-1.0))
