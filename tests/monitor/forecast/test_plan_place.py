"""Where a kiln stands on its plan, against answers that a person reads off the plan's line."""

import numpy as np
import pytest

from monitor.forecast.plan_place import ALIKE_C, place_on_plan, planned_rise_c

PLAN_H = np.array([[0.0, 10.0, 14.0, 24.0, np.inf], [0.0, 20.0, np.inf, np.inf, np.inf]])
PLAN_C = np.array([[20.0, 220.0, 220.0, 1220.0, np.nan], [0.0, 1000.0, np.nan, np.nan, np.nan]])


def _place(celsius: float, now_h: float, kiln: int = 0) -> float:
    found = place_on_plan(PLAN_H, PLAN_C, np.array([celsius] * 2), np.array([now_h] * 2))
    return float(found[kiln])


@pytest.mark.parametrize("now_h", [0.0, 17.0, 90.0])
def test_on_a_climb_the_temperature_says_where_and_the_clock_hardly(now_h: float) -> None:
    """720 degC lies half way up the last leg, hour 19; what counts as alike lets the clock move it by 3 min at most."""
    assert _place(720.0, now_h) == pytest.approx(19.0, abs=ALIKE_C / 100.0 + 1e-9)


@pytest.mark.parametrize(("now_h", "expected"), [(11.0, 11.0), (13.5, 13.5), (2.0, 9.75), (20.0, 14.05)])
def test_on_a_hold_the_clock_says_where(now_h: float, expected: float) -> None:
    """220 degC from hour 10 to 14; the early stand where it comes within 5 degC, the late where it is left again."""
    assert _place(220.0, now_h) == pytest.approx(expected)


@pytest.mark.parametrize(("celsius", "now_h", "expected"), [(0.0, -5.0, 0.0), (1300.0, 30.0, 24.0)])
def test_beyond_the_plan_its_ends_count(celsius: float, now_h: float, expected: float) -> None:
    """Colder and earlier than its first point, hotter and later than its last."""
    assert _place(celsius, now_h) == pytest.approx(expected)


def test_each_kiln_has_its_own_plan() -> None:
    """The second kiln climbs 50 degC/h to 1000 degC; its padding is no leg."""
    assert _place(500.0, 10.0, kiln=1) == pytest.approx(10.0)
    assert _place(2000.0, 99.0, kiln=1) == pytest.approx(20.0)


def test_without_plan_temperature_or_time_there_is_no_place() -> None:
    """NaN in, NaN out; a plan of padding alone is none."""
    none = np.full((1, 2), np.inf), np.full((1, 2), np.nan)

    assert np.isnan(place_on_plan(*none, np.array([500.0]), np.array([5.0]))).all()
    assert np.isnan(_place(np.nan, 5.0))
    assert np.isnan(_place(500.0, np.nan))


def test_rise_is_that_of_the_plan_and_goes_on_behind_its_end() -> None:
    """From hour 9: 20 degC to the hold, nothing in it, then 100 degC/h, also two hours beyond the plan's end."""
    ahead = np.array([[1.0, 5.0, 6.0, 15.0, 17.0], [1.0, 11.0, 12.0, 0.0, 2.0]])
    rise = planned_rise_c(PLAN_H, PLAN_C, np.array([9.0, np.nan]), ahead)

    np.testing.assert_allclose(rise[0], [20.0, 20.0, 120.0, 1020.0, 1220.0])
    assert np.isnan(rise[1]).all()


def test_a_plan_that_ends_falling_rises_no_further() -> None:
    """A plan may end with a controlled drop: it is not carried on below the ground."""
    rise = planned_rise_c(
        np.array([[0.0, 10.0, 12.0]]), np.array([[0.0, 1000.0, 900.0]]), np.array([10.0]), np.array([[2.0, 20.0]])
    )

    np.testing.assert_allclose(rise, [[-100.0, -100.0]])
