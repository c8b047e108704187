"""The expected rise against its differential equation: a climb that is off comes back to the plan's."""

import numpy as np
import pytest

from monitor.forecast.course import NEAR_H, SETTLE_H, expected_rise_c

AHEAD_H = np.linspace(0.0, 6.0, 61)
PLAN_C_PER_H = 40.0


def _rise(climb_c_per_h: float) -> np.ndarray:
    plan = PLAN_C_PER_H * AHEAD_H
    return expected_rise_c(plan[None], PLAN_C_PER_H * NEAR_H, np.array([climb_c_per_h]), AHEAD_H)[0]


def test_who_climbs_as_planned_goes_on_as_planned() -> None:
    """Nothing to settle."""
    np.testing.assert_allclose(_rise(PLAN_C_PER_H), PLAN_C_PER_H * AHEAD_H, atol=1e-9)


def test_a_stalled_kiln_comes_back_to_the_climb_within_the_settling_time() -> None:
    """dr/dt = (plan - r) / settle from r = 0, integrated in steps of a second."""
    step_h, rate, risen = 1.0 / 3600.0, 0.0, [0.0]
    for _ in range(round(AHEAD_H[-1] / step_h)):
        risen.append(risen[-1] + rate * step_h)
        rate += (PLAN_C_PER_H - rate) / SETTLE_H * step_h

    np.testing.assert_allclose(_rise(0.0), np.array(risen)[::360], atol=0.02)


def test_an_unknown_climb_is_taken_as_planned() -> None:
    """After a gap only the plan is known."""
    np.testing.assert_allclose(_rise(np.nan), PLAN_C_PER_H * AHEAD_H)


def test_what_was_off_costs_a_fixed_rise() -> None:
    """In the long run 10 degC/h too much is worth ten times the settling time."""
    assert _rise(PLAN_C_PER_H + 10.0)[-1] - PLAN_C_PER_H * AHEAD_H[-1] == pytest.approx(10.0 * SETTLE_H, rel=1e-4)
