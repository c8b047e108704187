"""The heat balances of all zones together."""

import numpy as np
import pytest

from simulator.zones import GAS_J_KGK, Drive, Exchange, ZoneParts, balance_zones, exchange

PARTS = ZoneParts(
    wall_m2=np.array([4.0, 3.0, 2.0]),
    ware_m2=np.array([1.0, 9.0, 1.0]),
    ware_j_k=np.array([1e5, 3e5, 6e4]),
    gas_emissivity=np.array([0.3, 0.2, 0.1]),
    convection_w_m2k=np.array([12.0, 15.0, 20.0]),
    wall_sees_ware_m2=np.array([1.0, 2.0, 0.5]),
    neighbour_m2=np.array([0.5, 1.0]),
)
HOT = np.array([1200.0, 1100.0, 900.0])


def _drive(**changes: object) -> Drive:
    settings: dict[str, object] = {
        "heat_w": np.array([150e3, 20e3, 5e3]),
        "flow_kg_s": np.array([0.08, 0.081, 0.083]),
        "ware_w": np.array([-3e3, 0.0, 0.0]),
        "outside_c": 15.0,
        "wall_rest_c": HOT - 80.0,
        "wall_rise_k_w": np.array([0.01, 0.012, 0.02]),
        "ware_old_c": HOT - 50.0,
        "ware_rise_k_w": 5.0 / PARTS.ware_j_k,
    }
    return Drive(**(settings | changes))  # type: ignore[arg-type]


def test_all_heat_goes_into_wall_and_ware_or_up_the_chimney() -> None:
    """Sum over all zones: released = wall + ware + what the gas carries out, to rounding."""
    drive = _drive()
    gas_c, face_c, ware_c = balance_zones(exchange(PARTS, HOT, HOT - 80.0, HOT - 50.0), drive)

    wall_w = float(((face_c - drive.wall_rest_c) / drive.wall_rise_k_w).sum())
    ware_w = float(((ware_c - drive.ware_old_c) / drive.ware_rise_k_w).sum())
    chimney_w = drive.flow_kg_s[-1] * GAS_J_KGK * (gas_c[-1] - 15.0)
    released_w = float(drive.heat_w.sum() + drive.ware_w.sum())
    assert wall_w + ware_w + chimney_w == pytest.approx(released_w, rel=1e-9)


def test_kiln_without_fire_stays_as_warm_as_its_shed() -> None:
    """Everything at one temperature and no heat: nothing changes."""
    level = np.full(3, 15.0)
    drive = _drive(heat_w=np.zeros(3), ware_w=np.zeros(3), wall_rest_c=level, ware_old_c=level)
    gas_c, face_c, ware_c = balance_zones(exchange(PARTS, level, level, level), drive)

    for celsius in (gas_c, face_c, ware_c):
        np.testing.assert_allclose(celsius, level, rtol=1e-9)


def test_gas_passes_its_heat_on_downstream() -> None:
    """Heat in the firebox alone warms every zone behind it, less and less."""
    level = np.full(3, 15.0)
    drive = _drive(heat_w=np.array([1e5, 0.0, 0.0]), ware_w=np.zeros(3), wall_rest_c=level, ware_old_c=level)
    gas_c, _, _ = balance_zones(exchange(PARTS, level, level, level), drive)

    assert gas_c[0] > gas_c[1] > gas_c[2] > 15.0


def test_exchange_of_radiation_grows_with_the_cube_of_temperature() -> None:
    """Between black surfaces near T the conductance per m2 is 4 sigma T^3: 205 W/(m2 K) at 1000 K, times 0.8 here."""
    level = np.full(3, 1000.0 - 273.15)
    between: Exchange = exchange(PARTS, level, level, level)

    expected = 0.8 * 4.0 * 5.670374e-8 * 1000.0**3
    np.testing.assert_allclose(between.wall_ware, expected * PARTS.wall_sees_ware_m2, rtol=1e-6)
    np.testing.assert_allclose(between.ware_ware, expected * PARTS.neighbour_m2, rtol=1e-6)
