"""Drying, bound water and quartz: heat conserved, water gone for good, quartz turning back."""

from itertools import pairwise

import pytest

from simulator.physics.ware import (
    BOUND_WATER_C,
    CLAY_WATER_KG_KG,
    PORE_WATER_C,
    PORE_WATER_J_KG,
    QUARTZ_C,
    Ware,
    changes_of,
)

CAPACITY_J_K = 300e3


def _heat(ware: Ware, begin_c: float, joules: float, steps: int) -> tuple[list[float], float, float]:
    """Return degC after each of equal portions of heat, steam in kg and heat gone for good in J."""
    track, steam_kg, dried_j = [begin_c], 0.0, 0.0
    for _ in range(steps):
        settled = ware.settle(track[-1], joules / steps, track[-1])
        track.append(settled.celsius)
        steam_kg += settled.steam_kg
        dried_j += settled.dried_j
    return track, steam_kg, dried_j


def test_ware_without_water_takes_heat_by_its_capacity() -> None:
    """30 MJ into 300 kJ/K: 100 degC."""
    ware = Ware(CAPACITY_J_K, (), 20.0)
    track, steam_kg, dried_j = _heat(ware, 20.0, 30e6, 10)

    assert track[-1] == pytest.approx(120.0)
    assert steam_kg == dried_j == 0.0
    assert not ware.can_change
    assert not ware.is_changing(20.0, 700.0)


@pytest.mark.parametrize("steps", [1, 7, 500])
def test_heat_is_conserved_however_it_comes(steps: int) -> None:
    """Through drying, bound water and quartz: what came in is held or went with the water, and the end is one."""
    ware = Ware(CAPACITY_J_K, changes_of(8.0, 60.0, 40.0), 20.0)
    track, steam_kg, dried_j = _heat(ware, 20.0, 300e6, steps)

    held_j = CAPACITY_J_K * (track[-1] - 20.0) + ware.reversible_j(track[-1])
    assert held_j + dried_j == pytest.approx(300e6, rel=1e-12)
    assert steam_kg == pytest.approx(8.0 + 60.0 * CLAY_WATER_KG_KG)
    assert track[-1] == pytest.approx(20.0 + (300e6 - 8.0 * PORE_WATER_J_KG - 60.0 * 0.65e6 - 40.0 * 12e3) / 300e3)


def test_water_leaves_at_the_temperatures_of_the_trade() -> None:
    """From memory: free water to about 120 to 150 degC, the clay's between 450 and 600."""
    ware = Ware(CAPACITY_J_K, changes_of(8.0, 60.0, 0.0), 20.0)
    celsius = 20.0
    gone: dict[int, float] = {}
    while celsius < 650.0:
        settled = ware.settle(celsius, CAPACITY_J_K, celsius + 1.0)
        celsius = settled.celsius
        gone[int(celsius)] = gone.get(int(celsius), 0.0) + settled.steam_kg

    assert sum(kg for c, kg in gone.items() if 60 <= c <= 150) == pytest.approx(8.0)
    assert sum(kg for c, kg in gone.items() if 449 <= c <= 600) == pytest.approx(60.0 * CLAY_WATER_KG_KG)


def test_climb_slows_while_water_leaves() -> None:
    """The same heat lifts the ware half as far or less in the midst of it."""
    ware = Ware(CAPACITY_J_K, changes_of(8.0, 60.0, 0.0), 20.0)
    for low_c, high_c in (PORE_WATER_C, BOUND_WATER_C):
        middle_c = 0.5 * (low_c + high_c)

        assert ware.apparent_j_k(middle_c) > 1.9 * CAPACITY_J_K
        assert ware.apparent_j_k(low_c - 5.0) == CAPACITY_J_K


def test_dry_ware_stays_dry() -> None:
    """Cooled and heated again, it takes heat by its capacity alone; no second steam."""
    ware = Ware(CAPACITY_J_K, changes_of(8.0, 60.0, 0.0), 20.0)
    _heat(ware, 20.0, 300e6, 100)
    cooled, _, _ = _heat(ware, 700.0, -200e6, 100)
    again, steam_kg, dried_j = _heat(ware, cooled[-1], 200e6, 100)

    assert again[-1] == pytest.approx(700.0)
    assert steam_kg == dried_j == 0.0
    assert ware.apparent_j_k(100.0) == CAPACITY_J_K
    assert not ware.is_changing(100.0, 500.0)


def test_half_dry_ware_goes_on_where_it_stopped() -> None:
    """Cooled from the midst of drying, the rest of the water leaves on the way up."""
    ware = Ware(CAPACITY_J_K, changes_of(8.0, 0.0, 0.0), 20.0)
    track, first_kg, _ = _heat(ware, 20.0, 34e6, 50)
    cooled, none_kg, _ = _heat(ware, track[-1], -20e6, 50)
    _, rest_kg, _ = _heat(ware, cooled[-1], 60e6, 50)

    assert 2.0 < first_kg < 7.0
    assert none_kg == 0.0
    assert first_kg + rest_kg == pytest.approx(8.0)


def test_quartz_turns_both_ways() -> None:
    """About 573 degC (Dodd and Murfin, Dictionary of Ceramics), a small heat, given back on cooling."""
    ware = Ware(CAPACITY_J_K, changes_of(0.0, 0.0, 40.0), 500.0)
    up, _, dried_j = _heat(ware, 500.0, 40e6, 200)
    down, _, _ = _heat(ware, up[-1], -40e6, 200)

    assert 0.5 * sum(QUARTZ_C) == 573.0
    assert dried_j == 0.0
    assert down[-1] == pytest.approx(500.0)
    slowest = min(pairwise(up), key=lambda pair: pair[1] - pair[0])
    assert slowest[0] == pytest.approx(573.0, abs=2.0)
