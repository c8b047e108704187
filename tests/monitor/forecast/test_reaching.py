"""When a course reaches a temperature or a cone, against straight lines and the closed form of a steady climb."""

import numpy as np
import pytest

from monitor.forecast.reaching import AHEAD_H, EARLY, LATE, LIKELY, hours_to_cone, hours_to_temperature, paths
from monitor.heat_work.cones import NAMES, cone_index
from monitor.heat_work.steady import climb_work, time_to_cone_s

NONE = np.zeros_like(AHEAD_H)


def test_a_straight_course_reaches_a_temperature_when_a_ruler_says() -> None:
    """From 1000 degC at 40 degC/h, sure to 10 degC: 1100 degC after 2.25, 2.5 and 2.75 h."""
    course = paths(1000.0 + 40.0 * AHEAD_H, NONE + 10.0, NONE + 10.0)

    np.testing.assert_allclose(hours_to_temperature(course, 1100.0), [2.25, 2.5, 2.75], atol=1e-9)


def test_what_is_reached_is_reached_now() -> None:
    """No time is negative."""
    course = paths(1000.0 + 40.0 * AHEAD_H, NONE, NONE)

    np.testing.assert_array_equal(hours_to_temperature(course, 900.0), [0.0, 0.0, 0.0])


def test_a_standing_kiln_never_gets_there_but_may() -> None:
    """Standing at 1000 degC with an interval that widens by 10 degC/h: 1100 degC at the earliest after 10 h."""
    course = paths(1000.0 + NONE, 10.0 * AHEAD_H, 10.0 * AHEAD_H)
    early, likely, late = hours_to_temperature(course, 1100.0)

    assert early == pytest.approx(10.0)
    assert np.isnan([likely, late]).all()


@pytest.mark.parametrize("cone", ["06", "1", "6", "10"])
@pytest.mark.parametrize("climb_c_per_h", [20.0, 60.0, 150.0])
def test_a_cone_on_a_steady_climb_falls_when_the_closed_form_says(cone: str, climb_c_per_h: float) -> None:
    """Closed form of monitor/heat_work/steady.py, itself checked against SciPy; to 20 s or 0.2 %."""
    here = 900.0
    work = climb_work(np.array(here), climb_c_per_h)
    course = paths(here + climb_c_per_h * AHEAD_H, NONE, NONE)
    number = cone_index(cone)
    hours = hours_to_cone(course, float(work[number]), number, off_c=0.0, surplus=1.0)

    expected_s = time_to_cone_s(work, np.array(here), np.array(climb_c_per_h))[number]
    assert hours[LIKELY] * 3600.0 == pytest.approx(expected_s, abs=20.0, rel=2e-3)
    assert hours[EARLY] == hours[LIKELY] == hours[LATE]


def test_doubt_of_the_cone_widens_the_interval_as_degrees_do() -> None:
    """At 60 degC/h 10 degC of doubt are 10 min either way, nearly; the middle stays."""
    number = cone_index("6")
    course = paths(1100.0 + 60.0 * AHEAD_H, NONE + 1e-9, NONE + 1e-9)
    sure = hours_to_cone(course, 0.0, number, off_c=0.0, surplus=1.0)
    early, likely, late = hours_to_cone(course, 0.0, number, off_c=10.0, surplus=1.0)

    assert likely == pytest.approx(sure[LIKELY])
    assert (likely - early, late - likely) == pytest.approx((1 / 6, 1 / 6), abs=0.02)


def test_ripple_brings_a_cone_down_sooner() -> None:
    """Twice the work all the way is as if half the cone were down already."""
    number = cone_index("6")
    course = paths(1200.0 + NONE, NONE, NONE)
    whole = hours_to_cone(course, 0.0, number, off_c=0.0, surplus=1.0)
    half = hours_to_cone(course, 0.5, number, off_c=0.0, surplus=1.0)
    twice = hours_to_cone(course, 0.0, number, off_c=0.0, surplus=2.0)

    np.testing.assert_allclose(twice, half, rtol=1e-3)
    assert twice[LIKELY] == pytest.approx(whole[LIKELY] / 2.0, rel=1e-3)


def test_a_cone_that_is_down_is_down_now_and_one_out_of_reach_never() -> None:
    """Cone 15 asks for 1424 degC."""
    course = paths(1000.0 + NONE, NONE, NONE)

    assert hours_to_cone(course, 1.2, cone_index("06"), off_c=0.0, surplus=1.0)[LATE] == 0.0
    assert np.isnan(hours_to_cone(course, 0.0, len(NAMES) - 1, off_c=5.0, surplus=1.0)).all()
