"""The heat balances of all zones together."""

import numpy as np
import pytest

from simulator.physics.zones import GAS_J_KGK, Drive, ZoneParts, balance_zones, build_network, conductances

PARTS = ZoneParts(
    wall_m2=np.array([4.0, 3.0, 2.0]),
    ware_m2=np.array([1.0, 9.0, 1.0]),
    gas_emissivity=np.array([0.3, 0.2, 0.1]),
    convection_w_m2k=np.array([12.0, 15.0, 20.0]),
    wall_sees_ware_m2=np.array([1.0, 2.0, 0.5]),
    neighbour_m2=np.array([0.5, 1.0]),
)
NETWORK = build_network(PARTS)
HOT = np.array([1200.0, 1100.0, 900.0])
HELD_W_K = np.array([100.0, 80.0, 50.0, 2e4, 6e4, 1.2e4])


def _balance(
    state_c: np.ndarray, *, heat_w: list[float], held_c: np.ndarray, outside_c: float = 15.0
) -> tuple[np.ndarray, Drive]:
    """Return the solution for heat in the gas, walls and wares that stood at `held_c` (6,), and what drove it."""
    drive = Drive(
        flow_kg_s=np.array([0.08, 0.081, 0.083]),
        outside_c=outside_c,
        held_w_k=HELD_W_K,
        heat_w=np.concatenate([heat_w, HELD_W_K * held_c]),
    )
    return balance_zones(NETWORK, conductances(NETWORK, state_c), drive), drive


def test_all_heat_goes_into_wall_and_ware_or_up_the_chimney() -> None:
    """Sum over all zones: released = wall + ware + what the gas carries out, to rounding."""
    held_c = np.concatenate([HOT - 80.0, HOT - 50.0])
    solved, drive = _balance(np.concatenate([HOT, held_c]), heat_w=[150e3, 20e3, 5e3], held_c=held_c)

    taken_w = float(HELD_W_K @ (solved[3:] - held_c))
    chimney_w = drive.flow_kg_s[-1] * GAS_J_KGK * (solved[2] - 15.0)
    assert taken_w + chimney_w == pytest.approx(175e3, rel=1e-9)


def test_kiln_without_fire_stays_as_warm_as_its_shed() -> None:
    """Everything at one temperature and no heat: nothing changes."""
    solved, _ = _balance(np.full(9, 15.0), heat_w=[0.0] * 3, held_c=np.full(6, 15.0))

    np.testing.assert_allclose(solved, 15.0, rtol=1e-9)


def test_gas_passes_its_heat_on_downstream() -> None:
    """Heat in the firebox alone warms every zone behind it, less and less."""
    solved, _ = _balance(np.full(9, 15.0), heat_w=[1e5, 0.0, 0.0], held_c=np.full(6, 15.0))

    assert solved[0] > solved[1] > solved[2] > 15.0


def test_cold_air_that_joins_cools_the_gas() -> None:
    """By hand, without any exchange: what leaves a zone is the mixture of what came."""
    still = build_network(ZoneParts(**{name: np.zeros_like(getattr(PARTS, name)) for name in ZoneParts.__slots__}))
    drive = Drive(
        flow_kg_s=np.array([0.1, 0.2, 0.2]),
        outside_c=15.0,
        held_w_k=HELD_W_K,
        heat_w=np.concatenate([[0.1 * GAS_J_KGK * 1000.0, 0.0, 0.0], np.zeros(6)]),
    )
    solved = balance_zones(still, conductances(still, np.full(9, 15.0)), drive)

    np.testing.assert_allclose(solved[:3], [1015.0, 515.0, 515.0])


def test_exchange_of_radiation_grows_with_the_cube_of_temperature() -> None:
    """Between black surfaces near T the conductance per m2 is 4 sigma T^3: 227 W/(m2 K) at 1000 K, times 0.8 here."""
    links_w_k = conductances(NETWORK, np.full(9, 1000.0 - 273.15))

    expected = 0.8 * 4.0 * 5.670374e-8 * 1000.0**3
    np.testing.assert_allclose(links_w_k[6:9], expected * PARTS.wall_sees_ware_m2, rtol=1e-6)
    np.testing.assert_allclose(links_w_k[9:], expected * PARTS.neighbour_m2, rtol=1e-6)


def test_hot_gas_gives_most_of_its_heat_by_radiation() -> None:
    """In high fire gas radiation is several times convection, in the preheat less (any book on furnaces)."""
    for celsius, low, high in ((1250.0, 4.0, 12.0), (200.0, 0.1, 0.6)):
        ratio = conductances(NETWORK, np.full(9, celsius))[:6] / NETWORK.convection_w_k[:6] - 1.0

        assert low < ratio[1] < high
