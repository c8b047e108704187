"""The plan's target and climb, checked by hand on straight legs."""

import numpy as np
import pytest

from monitor.plan import Plan, planned_c, planned_climb_c_per_h

LIT = 1_764_000_000.0
PLAN = Plan(points=((0.0, 20.0), (48.0, 308.0), (96.0, 1268.0)))


@pytest.mark.parametrize(
    ("hours", "celsius", "climb"),
    [(0.0, 20.0, 6.0), (24.0, 164.0, 6.0), (48.0, 308.0, 20.0), (72.0, 788.0, 20.0), (96.0, 1268.0, 20.0)],
)
def test_plan_is_straight_between_points(hours: float, celsius: float, climb: float) -> None:
    """A leg of 288 degC in 48 h climbs at 6 degC/h; at a point the leg that begins there counts."""
    now = np.array([LIT + hours * 3600.0])

    assert planned_c(PLAN, LIT, now)[0] == pytest.approx(celsius)
    assert planned_climb_c_per_h(PLAN, LIT, now)[0] == pytest.approx(climb)


@pytest.mark.parametrize("hours", [-0.01, 96.01])
def test_plan_says_nothing_before_and_after(hours: float) -> None:
    """Outside its points a plan asks nothing."""
    now = np.array([LIT + hours * 3600.0])

    assert np.isnan(planned_c(PLAN, LIT, now)[0])
    assert np.isnan(planned_climb_c_per_h(PLAN, LIT, now)[0])
