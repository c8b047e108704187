"""Heat work as people read it."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.heat_work.cones import CONES, END_60_C, NAMES, cone_index
from monitor.heat_work.rate import step_work
from monitor.heat_work.steady import climb_work
from monitor.heat_work.told import AboutCone, about_cone, equivalent_60_c, equivalent_uncertainty_c


@given(st.floats(560.0, 1440.0))
def test_a_climb_of_60_gives_its_own_temperature(celsius: float) -> None:
    """The definition: after 60 degC/h the equivalent is where the climb has come to."""
    assert equivalent_60_c(climb_work(np.array(celsius), 60.0)) == pytest.approx(celsius, abs=1e-6)


def _climbed(climb_c_per_h: float, to_c: float) -> np.ndarray:
    celsius = np.arange(300.0, to_c, climb_c_per_h / 60.0)
    return np.vstack([np.zeros(len(CONES)), step_work(celsius[:-1], celsius[1:], 60.0).cumsum(axis=0)])


@pytest.mark.parametrize("climb_c_per_h", [20.0, 150.0])
def test_when_a_cone_falls_the_equivalent_is_its_end_point(climb_c_per_h: float) -> None:
    """At other rates too, the moment cone N falls reads as cone N's end point at 60 degC/h, where order is kept."""
    work = _climbed(climb_c_per_h, 1340.0)
    equivalent = equivalent_60_c(work)
    for name in ("018", "015", "6", "8", "10", "11"):
        i = cone_index(name)
        moment = int(np.searchsorted(work[:, i], 1.0))
        assert equivalent[moment] == pytest.approx(END_60_C[i], abs=climb_c_per_h / 60.0 * 1.5)


@pytest.mark.parametrize("climb_c_per_h", [5.0, 20.0, 60.0, 150.0, 300.0])
def test_the_equivalent_never_falls_and_never_jumps(climb_c_per_h: float) -> None:
    """Minute by minute it grows by some degrees at most, also where 010 falls before 011, as in the table itself."""
    equivalent = equivalent_60_c(_climbed(climb_c_per_h, 1400.0))
    step = np.diff(equivalent[np.searchsorted(equivalent, 560.0) :])

    assert (step >= 0.0).all()
    assert step.max() < 3.5 * climb_c_per_h / 60.0


def test_a_soak_is_credited() -> None:
    """An hour at 1264 after 60 degC/h brings cone 10, which a climb alone brings at 1284: 36 min do."""
    work = climb_work(np.array(1264.0), 60.0)
    soaked = work + step_work(np.array(1264.0), np.array(1264.0), 36.0 * 60.0)

    assert equivalent_60_c(work) == pytest.approx(1264.0)
    assert equivalent_60_c(soaked) == pytest.approx(END_60_C[cone_index("10")], abs=0.5)


def test_a_reading_ten_degrees_high_reads_about_ten_degrees_high() -> None:
    """A degree of the sensor is a degree of the equivalent, within a fifth, on a slow climb and a fast one."""
    for climb_c_per_h in (20.0, 150.0):
        celsius = np.arange(300.0, 1260.0, climb_c_per_h / 60.0)
        right, wrong = (step_work(c[:-1], c[1:], 60.0).sum(axis=0) for c in (celsius, celsius + 10.0))
        assert equivalent_60_c(wrong) - equivalent_60_c(right) == pytest.approx(10.0, abs=2.0)


def test_before_the_first_and_after_the_last_cone_it_goes_on() -> None:
    """Below 022 and above 15 the nearest cone's own model is used."""
    low, high = equivalent_60_c(climb_work(np.array([500.0, 1460.0]), np.full(2, 60.0)))

    assert (low, high) == pytest.approx((500.0, 1460.0))


@pytest.mark.parametrize(("equivalent_c", "limit_c"), [(900.0, 25.0), (1200.0, 15.0)])
def test_the_uncertainty_adds_as_squares(equivalent_c: float, limit_c: float) -> None:
    """Model 3 degC rms, reading of cones 15 (1 and above) or 25 degC as a rectangular limit, sensor 4 degC."""
    expected = (3.0**2 + limit_c**2 / 3.0 + 4.0**2) ** 0.5

    assert equivalent_uncertainty_c(np.array(equivalent_c), 4.0) == pytest.approx(expected)


def test_the_nearest_cone_is_told_with_its_neighbours() -> None:
    """At 1270 with a sensor of 3 degC: about cone 9, between 8 and 10."""
    told = about_cone(1270.0, 3.0)

    assert (told.lowest, told.cone, told.highest) == ("8", "9", "10")
    assert told.half_width_c == pytest.approx(2.0 * (9.0 + 75.0 + 9.0) ** 0.5)


@pytest.mark.parametrize("name", NAMES)
def test_at_its_end_point_each_cone_is_the_nearest(name: str) -> None:
    """Every cone can be told."""
    assert about_cone(float(END_60_C[cone_index(name)]), 2.0).cone == name


def test_outside_the_cones_none_is_told() -> None:
    """Far below 022 and far above 15 there is no cone; at the edge only one side is open."""
    assert about_cone(400.0, 2.0) == AboutCone(None, None, None, about_cone(400.0, 2.0).half_width_c)
    assert about_cone(1600.0, 2.0).cone is None
    assert about_cone(596.0, 2.0).lowest is None
    assert about_cone(596.0, 2.0).highest == "020"
