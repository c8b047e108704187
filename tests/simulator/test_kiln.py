"""One kiln, stepped by hand."""

import copy
from dataclasses import replace

import numpy as np
import pytest
from msgspec import structs

from simulator.kiln import Hands, Kiln, Ledger
from simulator.physics.fuel import fresh_charge
from simulator.spec.kiln_file import load_kiln

SET = Hands(primary=0.4, secondary=0.4)
MIDDLE = 2


def _fire(kiln: Kiln, *, hours: float, step_s: float, wet_kg: float, hands: Hands, side_kg: float = 0.0) -> None:
    """Throw `wet_kg` every ten minutes, and `side_kg` into the middle; doors are open for the step that begins."""
    for number in range(round(hours * 3600.0 / step_s)):
        stoked = number * step_s % 600.0 == 0.0
        if stoked:
            kiln.stoke(fresh_charge(wet_kg, moisture=0.15, thickness_m=0.05))
        ports = ()
        if stoked and side_kg > 0.0:
            kiln.stoke(fresh_charge(side_kg, moisture=0.15, thickness_m=0.02), MIDDLE)
            ports = (0.0, 0.0, 0.4)
        kiln.step(step_s, structs.replace(hands, door=0.4 if stoked else 0.0, ports=ports), 15.0)


def spent_j(kiln: Kiln) -> float:
    """Return all heat that left the kiln."""
    ledger = kiln.state.ledger
    return sum(getattr(ledger, name) for name in Ledger.__slots__ if name != "wood_j")


@pytest.fixture
def kiln() -> Kiln:
    """Return a cold kiln."""
    return Kiln(load_kiln("demo"), 15.0)


@pytest.mark.parametrize("step_s", [5.0, 30.0])
def test_energy_balance_closes(kiln: Kiln, step_s: float) -> None:
    """Heat of wood = water of wood and ware + unburnt + chimney + shell + door + ports + stored, to a billionth."""
    at_start_j = kiln.stored_j()
    _fire(kiln, hours=8.0, step_s=step_s, wet_kg=3.0, hands=SET, side_kg=0.4)

    assert spent_j(kiln) + kiln.stored_j() - at_start_j == pytest.approx(kiln.state.ledger.wood_j, rel=1e-9)
    assert all(getattr(kiln.state.ledger, name) > 0.0 for name in Ledger.__slots__)


def test_coarse_and_fine_steps_tell_the_same_story(kiln: Kiln) -> None:
    """After eight hours of fire the ware differs by less than 3 % of its rise between 5 s and 30 s steps."""
    coarse = Kiln(kiln.spec, 15.0)
    _fire(kiln, hours=8.0, step_s=5.0, wet_kg=3.0, hands=SET)
    for number in range(960):
        if number % 20 == 0:
            coarse.stoke(fresh_charge(3.0, moisture=0.15, thickness_m=0.05))
        coarse.step(30.0, Hands(door=0.4 / 6.0 if number % 20 == 0 else 0.0, primary=0.4, secondary=0.4), 15.0)

    rise_c = kiln.state.ware_c - 15.0
    assert float(np.max(np.abs(coarse.state.ware_c - kiln.state.ware_c) / rise_c)) < 0.03


def test_fire_heats_from_the_firebox_to_the_flue(kiln: Kiln) -> None:
    """In the first hours every zone is cooler than the one before it."""
    _fire(kiln, hours=4.0, step_s=30.0, wet_kg=2.0, hands=SET)

    assert np.all(np.diff(kiln.state.ware_c) < 0.0)


def test_open_door_cools_the_gas_at_once(kiln: Kiln) -> None:
    """Cold air through the stoke door takes the firebox gas down within a step."""
    _fire(kiln, hours=4.0, step_s=30.0, wet_kg=3.0, hands=SET)
    for _ in range(20):
        kiln.step(5.0, SET, 15.0)
    before_c = float(kiln.state.gas_c[0])
    kiln.step(5.0, Hands(door=1.0, primary=0.4, secondary=0.4), 15.0)

    assert float(kiln.state.gas_c[0]) < before_c - 20.0


def test_inlets_set_for_some_air_let_that_air_in(kiln: Kiln) -> None:
    """Over a clean grate the setting gives the air asked for, but for the leaks."""
    _fire(kiln, hours=6.0, step_s=30.0, wet_kg=3.0, hands=SET)
    kiln.state.bed.char_kg = 0.0
    inlets = kiln.inlets_for(0.05, 15.0)
    kiln.step(5.0, Hands(primary=inlets, secondary=inlets), 15.0)

    assert 0.02 < inlets < 1.0
    assert float(kiln.state.air_kg_s[0]) == pytest.approx(0.05, rel=0.1)


def test_choked_bed_takes_the_air_away(kiln: Kiln) -> None:
    """The same openings pass less air when the embers lie deep."""
    kiln.step(5.0, SET, 15.0)
    clean_kg_s = float(kiln.state.air_kg_s[0])
    kiln.state.bed.char_kg = 40.0
    kiln.step(5.0, SET, 15.0)

    assert float(kiln.state.air_kg_s[0]) < 0.7 * clean_kg_s


def test_primary_air_feeds_the_embers_and_secondary_does_not() -> None:
    """The same area under the grate burns char; above it, hardly any."""
    left_kg = []
    for hands in (Hands(primary=0.4, secondary=0.0), Hands(primary=0.0, secondary=0.6)):
        kiln = Kiln(load_kiln("demo"), 15.0)
        kiln.state.bed.char_kg = 5.0
        for _ in range(60):
            kiln.step(5.0, hands, 15.0)
        left_kg.append(kiln.state.bed.char_kg)

    assert left_kg[0] < 4.9
    assert left_kg[1] == 5.0


def test_over_fed_kiln_gets_colder_and_raking_brings_it_back(kiln: Kiln) -> None:
    """Twice the wood on a choking bed with the air left as it was: less heat, more smoke; raked, more heat."""
    _fire(kiln, hours=6.0, step_s=30.0, wet_kg=4.0, hands=Hands(primary=0.3, secondary=0.1))
    fed = copy.deepcopy(kiln)
    fed.state.bed.char_kg = 35.0
    raked = copy.deepcopy(fed)
    raked.rake()
    for each in (kiln, fed, raked):
        _fire(each, hours=0.5, step_s=5.0, wet_kg=8.0 if each is fed else 4.0, hands=Hands(primary=0.3, secondary=0.1))

    assert fed.state.gas_c[0] < kiln.state.gas_c[0]
    assert fed.state.gas_c[0] < raked.state.gas_c[0]
    assert fed.state.ledger.unburnt_j > raked.state.ledger.unburnt_j


def test_open_side_port_lets_cold_air_into_its_zone(kiln: Kiln) -> None:
    """More air from there on, none of it before; that zone's gas is colder at once."""
    _fire(kiln, hours=6.0, step_s=30.0, wet_kg=4.0, hands=SET)
    shut = copy.deepcopy(kiln)
    shut.step(5.0, SET, 15.0)
    kiln.step(5.0, structs.replace(SET, ports=(0.0, 0.0, 1.0)), 15.0)

    more_kg_s = kiln.state.air_kg_s - shut.state.air_kg_s
    assert np.all(more_kg_s[:MIDDLE] < 0.0)
    assert np.all(more_kg_s[MIDDLE:] > 0.0)
    assert kiln.state.gas_c[MIDDLE] < shut.state.gas_c[MIDDLE] - 3.0
    assert kiln.state.ledger.ports_j > shut.state.ledger.ports_j


def test_side_stoke_is_burnt_in_its_zone_and_asks_for_air_from_there_on() -> None:
    """Demand before it is none; char lies in a heap and burns away."""
    kiln = Kiln(load_kiln("demo"), 15.0)
    for each in (kiln.state.gas_c, kiln.state.face_c, kiln.state.ware_c):
        each[:] = 1100.0
    kiln.state.wall_c[:] = np.where(kiln.state.wall_c > 0.0, 900.0, 0.0)
    kiln.stoke(fresh_charge(1.0, moisture=0.15, thickness_m=0.02), MIDDLE)
    for _ in range(12):
        kiln.step(5.0, SET, 15.0)
    heap_kg, demand_kg_s = kiln.state.heaps_kg.copy(), kiln.state.demand_kg_s
    for _ in range(240):
        kiln.step(5.0, SET, 15.0)

    assert demand_kg_s[1] == 0.0
    assert np.all(demand_kg_s[MIDDLE:] > 0.001)
    assert heap_kg[MIDDLE] > 0.02
    assert kiln.state.heaps_kg[MIDDLE] < heap_kg[MIDDLE] / 2.0
    assert kiln.state.bed.char_kg == 0.0


def test_flame_reaches_as_far_as_gas_burns(kiln: Kiln) -> None:
    """With little air in a hot kiln it is long and smokes; with plenty it ends near the firebox."""
    _fire(kiln, hours=10.0, step_s=30.0, wet_kg=6.0, hands=SET)
    reached, smoke_w = [], []
    for hands in (Hands(primary=0.05, secondary=0.05), Hands(primary=1.0, secondary=1.0)):
        each = copy.deepcopy(kiln)
        each.stoke(fresh_charge(8.0, moisture=0.15, thickness_m=0.05))
        for _ in range(12):
            each.step(5.0, hands, 15.0)
        reached.append(each.state.flame_end)
        smoke_w.append(each.state.unburnt_w)

    assert reached[0] > reached[1]
    assert smoke_w[0] > 10.0 * smoke_w[1]


def test_water_in_the_ware_slows_its_climb() -> None:
    """The same fire on wet and on fired ware: the wet middle zone is behind, most while it dries."""
    spec = load_kiln("demo")
    fired = replace(spec, zones=tuple(replace(z, pore_water_kg=0.0, clay_kg=0.0, quartz_kg=0.0) for z in spec.zones))
    behind_c = []
    kilns = [Kiln(spec, 15.0), Kiln(fired, 15.0)]
    for _ in range(28):
        for each in kilns:
            _fire(each, hours=0.5, step_s=30.0, wet_kg=4.0, hands=SET)
        behind_c.append(float(kilns[1].state.ware_c[MIDDLE] - kilns[0].state.ware_c[MIDDLE]))

    assert max(behind_c) > 15.0
    assert kilns[0].state.ledger.dried_j > 3 * 8.0 * 2.4e6
    assert kilns[1].state.ledger.dried_j == 0.0


def test_all_air_that_wood_asks_for_is_that_of_the_handbook(kiln: Kiln) -> None:
    """Kubler, Wood and Fiber Science (heat.csv): 5.91 kg of air a kg of dry wood, char still to burn left out."""
    asked_kg = 0.0
    for number in range(3600):
        if number % 120 == 0:
            kiln.stoke(fresh_charge(4.0, moisture=0.2, thickness_m=0.04))
        kiln.step(5.0, SET, 15.0)
        asked_kg += float(kiln.state.demand_kg_s[-1]) * 5.0
    state = kiln.state
    dry_kg = 30 * 3.2 - sum(c.wood_kg for c in state.charges[0])

    assert asked_kg + 10.5 * state.bed.char_kg == pytest.approx(5.91 * dry_kg, rel=1e-9)


def test_long_kiln_with_five_chamber_zones_fires_like_any() -> None:
    """Two more middle zones, no side ports: heat comes through to the last, and the energy closes."""
    spec = load_kiln("demo")
    front, middle, back = spec.zones[1:4]
    more = tuple(replace(middle, name=f"middle-{n}") for n in (2, 3))
    long = replace(
        spec,
        zones=(spec.zones[0], front, middle, *more, back, *spec.zones[4:]),
        walls=(*spec.walls[:3], spec.walls[2], spec.walls[2], *spec.walls[3:]),
        port_m2=(0.0,) * 8,
        air=replace(spec.air, chimney_m=2.0 * spec.air.chimney_m),
    )
    kiln = Kiln(long, 15.0)
    at_start_j = kiln.stored_j()
    _fire(kiln, hours=8.0, step_s=30.0, wet_kg=5.0, hands=SET)

    assert kiln.state.ware_c.shape == (8,)
    assert np.all(np.diff(kiln.state.ware_c) < 0.0)
    assert kiln.state.ware_c[5] > 60.0
    assert spent_j(kiln) + kiln.stored_j() - at_start_j == pytest.approx(kiln.state.ledger.wood_j, rel=1e-9)
