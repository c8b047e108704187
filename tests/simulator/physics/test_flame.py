"""Where fuel gas and heaps of char burn."""

import pytest

from simulator.physics.flame import Flame, Hearths, lit_share, spread_flame
from simulator.physics.fuel import CHAR_AIR_KG_KG, FuelGas

NONE = FuelGas()
MIXING = [0.8, 0.5, 0.5]


def _burn(
    gas: list[FuelGas], air_kg: list[float], *, gas_c: float = 1100.0, mixing: list[float] = MIXING, embers: bool = True
) -> Flame:
    zones = len(air_kg)
    return spread_flame(gas, air_kg, Hearths(mixing, [gas_c] * zones, [0.0] * zones, has_embers=embers), 5.0)


@pytest.mark.parametrize(("gas_c", "share"), [(20.0, 0.0), (-300.0, 0.0), (600.0, 0.5), (1200.0, 1.0), (1500.0, 1.0)])
def test_gas_lights_by_itself_only_where_it_is_hot(gas_c: float, share: float) -> None:
    """Cold gas does not light, hot gas does."""
    assert lit_share(gas_c) == pytest.approx(share, abs=1e-5)


@pytest.mark.parametrize("air_kg", [[10.0, 0.1, 0.1], [1.0, 0.0, 0.0], [0.0, 0.0, 0.0]])
def test_heat_is_released_or_leaves_unburnt(air_kg: list[float]) -> None:
    """No heat is lost or made, and no more air is taken than came."""
    flame = _burn([FuelGas(5e6, 1.5, 0.3), NONE, NONE], air_kg)

    assert sum(flame.gas_j) + flame.unburnt.heat_j == pytest.approx(5e6)
    assert flame.air_left_kg == pytest.approx(sum(air_kg) - (1.5 - flame.unburnt.air_kg))
    assert flame.air_left_kg >= 0.0


def test_short_air_makes_the_flame_long() -> None:
    """With too little air in the firebox a larger share burns behind, where air leaks in, and smoke leaves."""
    gas = [FuelGas(5e6, 1.5, 0.3), NONE, NONE]
    rich, lean = _burn(gas, [0.5, 0.3, 0.3]), _burn(gas, [5.0, 0.3, 0.3])

    assert rich.gas_j[2] / sum(rich.gas_j) > lean.gas_j[2] / sum(lean.gas_j)
    assert rich.unburnt.heat_j > lean.unburnt.heat_j


def test_embers_light_the_gas_in_a_cold_firebox() -> None:
    """Without a glowing bed the gas of a cold kiln leaves as smoke."""
    lit, unlit = (
        _burn([FuelGas(1e6, 0.3, 0.1), NONE, NONE], [0.3, 0.0, 0.0], gas_c=100.0, embers=e) for e in (True, False)
    )

    assert lit.gas_j[0] == pytest.approx(0.8e6)
    assert unlit.unburnt.heat_j == pytest.approx(1e6, rel=1e-3)


def test_plenty_of_air_lets_less_gas_go_by() -> None:
    """With just enough air the firebox misses a fifth; with twice as much a fifth of a fifth."""
    enough, twice = (_burn([FuelGas(1e6, 0.3, 0.1), NONE], [air_kg, 0.0], mixing=[0.8, 0.0]) for air_kg in (0.3, 0.6))

    assert enough.unburnt.heat_j == pytest.approx(0.2e6)
    assert twice.unburnt.heat_j == pytest.approx(0.04e6)


def test_gas_of_a_side_stoke_burns_there_and_behind_never_before() -> None:
    """Released in the middle zone, it takes the air that the firebox left."""
    flame = _burn([NONE, FuelGas(1e6, 0.3, 0.1), NONE], [0.5, 0.0, 0.0])

    assert flame.gas_j[0] == 0.0
    assert flame.gas_j[1] > flame.gas_j[2] > 0.0


def test_heap_of_char_takes_its_air_where_it_lies() -> None:
    """Char burnt and air spent go together; a cold heap keeps."""
    hot, cold = (
        spread_flame([NONE, NONE], [0.5, 0.0], Hearths([0.5, 0.5], [c, c], [0.0, 0.4], has_embers=True), 5.0)
        for c in (1000.0, 100.0)
    )

    assert hot.char_kg[0] == 0.0
    assert 0.0 < hot.char_kg[1] < 0.4
    assert hot.air_left_kg == pytest.approx(0.5 - hot.char_kg[1] * CHAR_AIR_KG_KG)
    assert cold.char_kg == pytest.approx([0.0, 0.0], abs=1e-6)


def test_no_gas_gives_no_heat() -> None:
    """An empty firebox burns nothing."""
    assert _burn([NONE, NONE, NONE], [1.0, 0.0, 0.0]).gas_j == [0.0, 0.0, 0.0]
