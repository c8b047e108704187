"""Where fuel gas burns."""

import pytest

from simulator.flame import lit_share, spread_flame
from simulator.fuel import FuelGas

MIXING = [0.8, 0.5, 0.5]


@pytest.mark.parametrize(("gas_c", "share"), [(20.0, 0.0), (600.0, 0.5), (1200.0, 1.0)])
def test_gas_lights_by_itself_only_where_it_is_hot(gas_c: float, share: float) -> None:
    """Cold gas does not light, hot gas does."""
    assert lit_share(gas_c) == pytest.approx(share, abs=1e-5)


@pytest.mark.parametrize("air_kg", [[10.0, 0.1, 0.1], [1.0, 0.0, 0.0], [0.0, 0.0, 0.0]])
def test_heat_is_released_or_leaves_unburnt(air_kg: list[float]) -> None:
    """No heat is lost or made, and no more air is taken than came."""
    flame = spread_flame(FuelGas(5e6, 1.5, 0.3), air_kg, mixing=MIXING, gas_c=[1100.0] * 3, has_embers=True)

    assert sum(flame.heat_j) + flame.unburnt.heat_j == pytest.approx(5e6)
    assert flame.air_left_kg == pytest.approx(sum(air_kg) - (1.5 - flame.unburnt.air_kg))
    assert flame.air_left_kg >= 0.0


def test_short_air_makes_the_flame_long() -> None:
    """With too little air in the firebox a larger share burns behind, where air leaks in, and smoke leaves."""
    rich = spread_flame(FuelGas(5e6, 1.5, 0.3), [0.5, 0.3, 0.3], mixing=MIXING, gas_c=[1100.0] * 3, has_embers=True)
    lean = spread_flame(FuelGas(5e6, 1.5, 0.3), [5.0, 0.3, 0.3], mixing=MIXING, gas_c=[1100.0] * 3, has_embers=True)

    assert rich.heat_j[2] / sum(rich.heat_j) > lean.heat_j[2] / sum(lean.heat_j)
    assert rich.unburnt.heat_j > lean.unburnt.heat_j


def test_embers_light_the_gas_in_a_cold_firebox() -> None:
    """Without a glowing bed the gas of a cold kiln leaves as smoke."""
    cold = {"mixing": MIXING, "gas_c": [100.0] * 3}
    lit = spread_flame(FuelGas(1e6, 0.3, 0.1), [0.3, 0.0, 0.0], has_embers=True, **cold)
    unlit = spread_flame(FuelGas(1e6, 0.3, 0.1), [0.3, 0.0, 0.0], has_embers=False, **cold)

    assert lit.heat_j[0] == pytest.approx(0.8e6)
    assert unlit.unburnt.heat_j == pytest.approx(1e6, rel=1e-3)


def test_plenty_of_air_lets_less_gas_go_by() -> None:
    """With just enough air the firebox misses a fifth; with twice as much a fifth of a fifth."""
    enough, twice = (
        spread_flame(FuelGas(1e6, 0.3, 0.1), [air_kg, 0.0], mixing=[0.8, 0.0], gas_c=[900.0] * 2, has_embers=True)
        for air_kg in (0.3, 0.6)
    )

    assert enough.unburnt.heat_j == pytest.approx(0.2e6)
    assert twice.unburnt.heat_j == pytest.approx(0.04e6)


def test_no_gas_gives_no_heat() -> None:
    """An empty firebox burns nothing."""
    flame = spread_flame(FuelGas(), [1.0, 0.0, 0.0], mixing=MIXING, gas_c=[900.0] * 3, has_embers=True)

    assert flame.heat_j == [0.0, 0.0, 0.0]
