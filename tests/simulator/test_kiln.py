"""One kiln, stepped by hand."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.fuel import fresh_charge
from simulator.kiln import Hands, Kiln
from simulator.kiln_file import load_kiln


def _fire(kiln: Kiln, *, hours: float, step_s: float, wet_kg: float, hands: Hands) -> None:
    """Throw `wet_kg` every ten minutes, the door open for the step that begins with it."""
    for number in range(round(hours * 3600.0 / step_s)):
        stoked = number * step_s % 600.0 == 0.0
        if stoked:
            kiln.stoke(fresh_charge(wet_kg, moisture=0.15, thickness_m=0.05))
        kiln.step(step_s, replace(hands, door=0.4 if stoked else 0.0), 15.0)


@pytest.fixture
def kiln() -> Kiln:
    """Return a cold kiln."""
    return Kiln(load_kiln("demo"), 15.0)


@pytest.mark.parametrize("step_s", [5.0, 30.0])
def test_energy_balance_closes(kiln: Kiln, step_s: float) -> None:
    """Heat of the wood = evaporated + unburnt + chimney + shell + door + stored, to a billionth."""
    at_start_j = kiln.stored_j()
    _fire(kiln, hours=8.0, step_s=step_s, wet_kg=3.0, hands=Hands(primary=0.4, secondary=0.4))

    ledger = kiln.state.ledger
    spent_j = ledger.evaporated_j + ledger.unburnt_j + ledger.chimney_j + ledger.shell_j + ledger.door_j
    assert spent_j + kiln.stored_j() - at_start_j == pytest.approx(ledger.wood_j, rel=1e-9)
    assert min(ledger.unburnt_j, ledger.chimney_j, ledger.shell_j, ledger.door_j) > 0.0


def test_coarse_and_fine_steps_tell_the_same_story(kiln: Kiln) -> None:
    """After eight hours of fire the ware differs by less than 3 % of its rise between 5 s and 30 s steps."""
    coarse = Kiln(kiln.spec, 15.0)
    _fire(kiln, hours=8.0, step_s=5.0, wet_kg=3.0, hands=Hands(primary=0.4, secondary=0.4))
    for number in range(960):
        if number % 20 == 0:
            coarse.stoke(fresh_charge(3.0, moisture=0.15, thickness_m=0.05))
        coarse.step(30.0, Hands(door=0.4 / 6.0 if number % 20 == 0 else 0.0, primary=0.4, secondary=0.4), 15.0)

    rise_c = kiln.state.ware_c - 15.0
    assert float(np.max(np.abs(coarse.state.ware_c - kiln.state.ware_c) / rise_c)) < 0.03


def test_fire_heats_from_the_firebox_to_the_flue(kiln: Kiln) -> None:
    """In the first hours every zone is cooler than the one before it."""
    _fire(kiln, hours=4.0, step_s=30.0, wet_kg=2.0, hands=Hands(primary=0.4, secondary=0.4))

    assert np.all(np.diff(kiln.state.ware_c) < 0.0)


def test_open_door_cools_the_gas_at_once(kiln: Kiln) -> None:
    """Cold air through the stoke door takes the firebox gas down within a step."""
    _fire(kiln, hours=4.0, step_s=30.0, wet_kg=3.0, hands=Hands(primary=0.4, secondary=0.4))
    for _ in range(20):
        kiln.step(5.0, Hands(primary=0.4, secondary=0.4), 15.0)
    before_c = float(kiln.state.gas_c[0])
    kiln.step(5.0, Hands(door=1.0, primary=0.4, secondary=0.4), 15.0)

    assert float(kiln.state.gas_c[0]) < before_c - 20.0


def test_inlets_set_for_some_air_let_that_air_in(kiln: Kiln) -> None:
    """Over a clean grate the setting gives the air asked for, but for the leaks."""
    _fire(kiln, hours=6.0, step_s=30.0, wet_kg=3.0, hands=Hands(primary=0.4, secondary=0.4))
    kiln.state.bed.char_kg = 0.0
    inlets = kiln.inlets_for(0.05, 15.0)
    kiln.step(5.0, Hands(primary=inlets, secondary=inlets), 15.0)

    assert 0.02 < inlets < 1.0
    assert float(kiln.state.air_kg_s[0]) == pytest.approx(0.05, rel=0.1)


def test_choked_bed_takes_the_air_away(kiln: Kiln) -> None:
    """The same openings pass less air when the embers lie deep."""
    kiln.step(5.0, Hands(primary=0.4, secondary=0.4), 15.0)
    clean_kg_s = float(kiln.state.air_kg_s[0])
    kiln.state.bed.char_kg = 40.0
    kiln.step(5.0, Hands(primary=0.4, secondary=0.4), 15.0)

    assert float(kiln.state.air_kg_s[0]) < 0.7 * clean_kg_s
