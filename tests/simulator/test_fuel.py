"""Wood against handbook values, and its sums."""

from itertools import pairwise

import pytest

from simulator.fuel import (
    CHAR_AIR_KG_KG,
    CHAR_J_KG,
    CHAR_SHARE,
    EVAPORATION_J_KG,
    PYROLYSIS_J_KG,
    WOOD_AIR_KG_KG,
    WOOD_J_KG,
    EmberBed,
    fresh_charge,
    heat_charge,
    heating_value_j_kg,
    volatiles_of,
)


@pytest.mark.parametrize(
    ("percent", "mj_kg"),
    [(0, 18.5), (10, 16.41), (15, 15.36), (20, 14.31), (25, 13.26), (30, 12.22), (40, 10.12), (50, 8.03)],
)
def test_heating_value_falls_with_moisture_as_the_handbook_says(percent: int, mj_kg: float) -> None:
    """EN ISO 18125 form, q = q_dry (1 - 0.01 M) - 0.02443 M, printed to 0.01 MJ/kg."""
    assert heating_value_j_kg(percent / 100.0) / 1e6 == pytest.approx(mj_kg, abs=0.006)


def test_air_demand_is_the_handbook_s() -> None:
    """Kubler, Wood and Fiber Science: 6 g of air per g of oven-dry wood; computed for C50 H6 O44: 5.91."""
    assert volatiles_of(1.0).air_kg + CHAR_SHARE * CHAR_AIR_KG_KG == pytest.approx(5.91)
    assert pytest.approx(6.0, abs=0.1) == WOOD_AIR_KG_KG


def test_volatiles_and_char_together_give_the_heat_of_wood() -> None:
    """What heating the wood took comes back with its volatiles, no more and no less."""
    heat_j = volatiles_of(1.0).heat_j - PYROLYSIS_J_KG + CHAR_SHARE * CHAR_J_KG

    assert heat_j == pytest.approx(WOOD_J_KG)
    assert volatiles_of(1.0).mass_kg + CHAR_SHARE == pytest.approx(1.0)


def test_charge_dries_before_it_gives_off_gas() -> None:
    """In the first seconds heat goes into water; the burst comes later; in the end nothing is left."""
    charge = fresh_charge(3.0, moisture=0.2, thickness_m=0.04)
    given = [heat_charge(charge, 100e3, 5.0) for _ in range(1500)]

    assert given[0].water_kg * EVAPORATION_J_KG > 0.9 * given[0].taken_j
    assert max(range(1500), key=lambda n: given[n].wood_kg) > 5
    assert sum(g.water_kg for g in given) == pytest.approx(0.6)
    assert sum(g.wood_kg for g in given) == pytest.approx(2.4)
    assert charge.is_spent


def test_dry_charge_takes_exactly_the_heat_that_falls_on_it() -> None:
    """Heat taken is wood given off times its heat of pyrolysis."""
    charge = fresh_charge(2.0, moisture=0.0, thickness_m=0.05)
    given = heat_charge(charge, 50e3, 5.0)

    assert given.water_kg == 0.0
    assert given.taken_j == pytest.approx(given.wood_kg * PYROLYSIS_J_KG)


def test_thin_wood_burns_sooner() -> None:
    """Half the thickness has twice the surface, seen before char shields it."""
    thick, thin = (fresh_charge(2.0, moisture=0.0, thickness_m=m) for m in (0.08, 0.04))

    assert heat_charge(thin, 5e4, 0.01).wood_kg == pytest.approx(2.0 * heat_charge(thick, 5e4, 0.01).wood_kg, rel=1e-3)


def test_charge_flares_and_burns_on_under_its_char() -> None:
    """Of a dry charge the first tenth goes in less time than any later tenth."""
    charge = fresh_charge(2.0, moisture=0.0, thickness_m=0.05)
    left = [1.0]
    while not charge.is_spent:
        heat_charge(charge, 1e5, 1.0)
        left.append(charge.wood_kg / 2.0)
    marks = [next(n for n, share in enumerate(left) if share <= 1.0 - tenth / 10.0) for tenth in range(11)]
    times = [b - a for a, b in pairwise(marks)]

    assert times[0] < min(times[1:])


def test_long_step_gives_what_short_ones_give() -> None:
    """A step of 30 s is heated in parts: the same charge is left."""
    once, often = (fresh_charge(3.0, moisture=0.15, thickness_m=0.04) for _ in range(2))
    heat_charge(once, 2e5, 30.0)
    for _ in range(6):
        heat_charge(often, 2e5, 5.0)

    assert once.wood_kg == pytest.approx(often.wood_kg)
    assert once.water_kg == pytest.approx(often.water_kg)


def test_ember_bed_burns_with_the_air_that_reaches_it() -> None:
    """Twice the air burns twice the char; all its heat and carbon monoxide come from char spent."""
    one, two = (EmberBed(6.0, 15.0, char_kg=8.0) for _ in range(2))
    slow, fast = one.burn(0.1, 5.0), two.burn(0.2, 5.0)

    assert fast.char_kg == pytest.approx(2.0 * slow.char_kg)
    assert slow.heat_j + slow.gas.heat_j == pytest.approx(slow.char_kg * CHAR_J_KG)
    assert slow.air_kg + slow.gas.air_kg == pytest.approx(slow.char_kg * CHAR_AIR_KG_KG)
    assert one.char_kg == pytest.approx(8.0 - slow.char_kg)


def test_bed_cannot_burn_more_than_it_holds() -> None:
    """A gale through the last embers burns some of them."""
    bed = EmberBed(6.0, 15.0, char_kg=0.01)
    bed.burn(100.0, 60.0)

    assert 0.0 < bed.char_kg < 0.01


def test_deep_bed_chokes_and_raking_opens_it() -> None:
    """Over-fed, the grate closes and carbon monoxide rises; a raked bed breathes, then packs again."""
    shallow, deep = EmberBed(6.0, 15.0, char_kg=4.0), EmberBed(6.0, 15.0, char_kg=30.0)
    monoxide = [bed.burn(0.2, 5.0).gas.heat_j for bed in (shallow, deep)]
    choked = deep.openness
    deep.rake()
    raked = deep.openness
    for _ in range(240):
        deep.burn(0.0, 60.0)

    assert shallow.openness > 0.9
    assert choked < 0.2
    assert monoxide[1] > monoxide[0]
    assert raked > 0.5
    assert deep.openness == pytest.approx(choked, abs=0.01)
