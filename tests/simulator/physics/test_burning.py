"""What charges give off, zone by zone."""

import pytest

from simulator.physics.burning import OWN_FLAME_W_M2, Surroundings, flux_on_wood, heat_wood
from simulator.physics.fuel import CHAR_SHARE, EVAPORATION_J_KG, PYROLYSIS_J_KG, fresh_charge, volatiles_of

HOT = Surroundings([1200.0] * 3, [1150.0] * 3, [1100.0] * 3, embers=1.0)
COLD = Surroundings([100.0] * 3, [90.0] * 3, [80.0] * 3, embers=0.5)


def test_what_a_charge_gives_off_stays_in_its_zone() -> None:
    """Gas, steam, char and the heat they took: of the middle zone alone, and they add up."""
    charges = ([], [fresh_charge(1.0, moisture=0.2, thickness_m=0.03)], [])
    released = heat_wood(charges, HOT, 5.0)
    wood_kg = released.char_kg[1] / CHAR_SHARE

    assert wood_kg > 0.0
    assert released.gas[1].heat_j == pytest.approx(volatiles_of(wood_kg).heat_j)
    assert released.demand_kg == [0.0, released.gas[1].air_kg, 0.0]
    assert released.taken_j[1] == pytest.approx(released.steam_kg[1] * EVAPORATION_J_KG + wood_kg * PYROLYSIS_J_KG)
    assert released.steam_kg[0] == released.char_kg[2] == released.taken_j[0] == 0.0


def test_spent_charges_are_taken_away() -> None:
    """In the end the list is empty."""
    charges = ([fresh_charge(0.2, moisture=0.1, thickness_m=0.02)], [], [])
    for _ in range(400):
        heat_wood(charges, HOT, 5.0)

    assert charges == ([], [], [])


def test_fire_is_kept_alight_in_the_firebox_only() -> None:
    """In a cold kiln wood in the firebox burns by its own flame; in the chamber it lies as it is."""
    assert flux_on_wood(0, COLD) >= OWN_FLAME_W_M2
    assert flux_on_wood(1, COLD) == pytest.approx(0.0, abs=1.0)


def test_red_hot_surroundings_set_wood_off_by_radiation() -> None:
    """At 1100 to 1150 degC some 200 kW/m2 fall on it (sigma T^4: 202 and 232 kW/m2)."""
    assert 180e3 < flux_on_wood(1, HOT) < 240e3


def test_glowing_bed_heats_wood_more_than_a_bare_grate() -> None:
    """In a firebox that is not yet hot itself."""
    warm = {"gas_c": [600.0], "face_c": [500.0], "ware_c": [500.0]}

    assert flux_on_wood(0, Surroundings(**warm, embers=1.0)) > flux_on_wood(0, Surroundings(**warm, embers=0.0))
