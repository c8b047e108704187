"""The probe's lag against the closed form of a first-order response."""

import numpy as np
import pytest

from simulator.probes import build_probes, follow, lag_s
from simulator.sensor_spec import SensorSpec


def _sensor(sheath_mm: float, sees_ware: float = 0.5) -> SensorSpec:
    return SensorSpec("a", "t1", "K", "front", sheath_mm, 0.0, sees_ware)


def test_small_step_is_followed_to_first_order() -> None:
    """1 - exp(-t / tau) within half a percent, for a step so small that radiation stays linear."""
    probes = build_probes([_sensor(6.0)], ["front"])
    tau_s = float(lag_s(probes, 800.0)[0])
    junction_c = np.array([800.0])
    for _ in range(10):
        warm = np.array([801.0])
        junction_c = follow(probes, junction_c, tau_s / 10.0, gas_c=warm, face_c=warm, ware_c=warm)

    assert float(junction_c[0]) - 800.0 == pytest.approx(1.0 - np.exp(-1.0), rel=0.005)


def test_lag_does_not_depend_on_the_step() -> None:
    """One step of a minute lands where sixty of a second do."""
    probes = build_probes([_sensor(12.0)], ["front"])
    around = {"gas_c": np.array([601.0]), "face_c": np.array([601.0]), "ware_c": np.array([601.0])}
    once = follow(probes, np.array([600.0]), 60.0, **around)
    often = np.array([600.0])
    for _ in range(60):
        often = follow(probes, often, 1.0, **around)

    np.testing.assert_allclose(once, often, atol=2e-3)


def test_thick_sheath_lags_more_and_a_hot_kiln_quickens_it() -> None:
    """Tens of seconds to minutes in the preheat, seconds to tens of seconds in high fire."""
    probes = build_probes([_sensor(6.0), _sensor(18.0)], ["front"])
    preheat_s, high_fire_s = lag_s(probes, 200.0), lag_s(probes, 1250.0)

    assert np.all(np.diff(preheat_s) > 0.0)
    assert np.all(high_fire_s < preheat_s / 3.0)
    assert 30.0 < preheat_s[0] < 300.0
    assert 3.0 < high_fire_s[0] < 60.0


def test_probe_settles_between_gas_and_what_it_sees() -> None:
    """At rest nearer the ware and wall than the gas when hot; half ware, half wall by its setting."""
    probes = build_probes([_sensor(6.0, sees_ware=0.25)], ["front"])
    junction_c = np.array([1000.0])
    for _ in range(200):
        junction_c = follow(
            probes, junction_c, 10.0, gas_c=np.array([1100.0]), face_c=np.array([1000.0]), ware_c=np.array([960.0])
        )

    assert 990.0 < float(junction_c[0]) < 1045.0


def test_probes_stand_in_the_zones_of_their_places() -> None:
    """Each probe follows its own zone."""
    sensors = [_sensor(6.0), SensorSpec("b", "t2", "K", "flue", 6.0, 0.0, 0.5)]
    probes = build_probes(sensors, ["firebox", "front", "flue"])

    assert probes.zone.tolist() == [1, 2]
