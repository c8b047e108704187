"""The probe's lag against the closed form of a first-order response, its stem against that of a rod."""

import numpy as np
import pytest

from monitor.model import FloatArray
from simulator.probe.probes import Around, Probes, build_probes, follow, lag_s, stem_share, transfer_at
from simulator.spec.sensor_spec import SensorSpec


def _sensor(sheath_mm: float, sees_ware: float = 0.5, immersion_mm: float = 300.0) -> SensorSpec:
    return SensorSpec("a", "t1", "K", "front", sheath_mm, sees_ware, immersion_mm)


def _around(celsius: float, outside_c: float | None = None) -> Around:
    level = np.array([celsius])
    return Around(gas_c=level, face_c=level, ware_c=level, outside_c=celsius if outside_c is None else outside_c)


def _settled(probes: Probes, around: Around, junction_c: FloatArray) -> FloatArray:
    for _ in range(300):
        junction_c = follow(probes, junction_c, 10.0, around)
    return junction_c


def test_small_step_is_followed_to_first_order() -> None:
    """1 - exp(-t / tau) within half a percent, for a step so small that radiation stays linear."""
    probes = build_probes([_sensor(6.0)], ["front"])
    tau_s = float(lag_s(probes, 800.0)[0])
    junction_c = np.array([800.0])
    for _ in range(10):
        junction_c = follow(probes, junction_c, tau_s / 10.0, _around(801.0))

    assert float(junction_c[0]) - 800.0 == pytest.approx(1.0 - np.exp(-1.0), rel=0.005)


def test_lag_does_not_depend_on_the_step() -> None:
    """One step of a minute lands where sixty of a second do."""
    probes = build_probes([_sensor(12.0)], ["front"])
    once = follow(probes, np.array([600.0]), 60.0, _around(601.0))
    often = np.array([600.0])
    for _ in range(60):
        often = follow(probes, often, 1.0, _around(601.0))

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
    around = Around(gas_c=np.array([1100.0]), face_c=np.array([1000.0]), ware_c=np.array([960.0]), outside_c=20.0)

    assert 990.0 < float(_settled(probes, around, np.array([1000.0]))[0]) < 1045.0


def test_stem_is_a_rod_with_an_insulated_end() -> None:
    """The tip stays behind by 1 / cosh(m L), m = (4 h / (k d))^0.5: fins in any book on heat transfer.

    12 mm thick, 50 mm long, k 12 W/(m K), h 144 W/(m2 K): m = (4 x 144 / (12 x 0.012))^0.5 = 63.2 / m, m L = 3.162,
    1 / cosh = 0.0845.
    """
    probes = build_probes([_sensor(12.0, immersion_mm=50.0)], ["front"])

    assert float(stem_share(probes, np.array([144.0]))[0]) == pytest.approx(0.0845, abs=0.0001)


def test_short_immersion_pulls_the_junction_towards_the_wall() -> None:
    """At rest at 600 degC beside 20 degC: short by the rod's share of the way to the wall's mean of 310 degC."""
    probes = build_probes([_sensor(12.0, immersion_mm=mm) for mm in (30.0, 50.0, 150.0)], ["front"])
    short_c = 600.0 - _settled(probes, _around(600.0, outside_c=20.0), np.full(3, 600.0))
    transfer = transfer_at(probes, 600.0 - 0.5 * short_c)  # taken half way between probe and kiln
    expected_c = stem_share(probes, transfer) * 290.0

    np.testing.assert_allclose(short_c, expected_c, rtol=0.001)
    assert short_c[0] > 50.0
    assert short_c[2] < 0.1


def test_hot_kiln_forgives_a_short_probe() -> None:
    """The same 50 mm are a few percent short at 600 degC and hardly anything at 1250."""
    probes = build_probes([_sensor(12.0, immersion_mm=50.0)], ["front"])
    shares = [float(stem_share(probes, transfer_at(probes, c))[0]) for c in (200.0, 600.0, 1250.0)]

    assert shares[0] > 0.2 > shares[1] > 0.05
    assert shares[2] < 0.01


def test_probes_stand_in_the_zones_of_their_names() -> None:
    """Each probe follows its own zone."""
    sensors = [_sensor(6.0), SensorSpec("b", "t2", "K", "flue", 6.0, 0.5)]
    probes = build_probes(sensors, ["firebox", "front", "flue"])

    assert probes.zone.tolist() == [1, 2]
