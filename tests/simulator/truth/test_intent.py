"""What the crew intends: interval, closing, plan."""

from dataclasses import replace

import numpy as np

from simulator.spec.kiln_file import load_kiln
from simulator.truth.intent import asked, closed_h, intended_min, ripple_half_min

DEMO = load_kiln("demo")
STAGE = DEMO.stages[0]
SPEC = replace(
    DEMO,
    stages=(
        replace(STAGE, begin_h=0.0, interval_min=15.0),
        replace(STAGE, begin_h=10.0, interval_min=4.0),
        replace(STAGE, begin_h=20.0, interval_min=0.0),
        replace(STAGE, begin_h=22.0, interval_min=0.0),
    ),
    points=((0.0, 20.0), (10.0, 320.0), (20.0, 1320.0)),
)


def test_interval_is_that_of_the_stage() -> None:
    """From its begin on."""
    np.testing.assert_allclose(intended_min(SPEC, np.array([0.0, 9.99, 10.0, 19.99, 20.0, 30.0])), [15, 15, 4, 4, 0, 0])


def test_kiln_is_closed_up_after_the_last_stage_that_stokes() -> None:
    """Stages without stokes at the end are all of the cooling; a pause in the middle is none."""
    pause = replace(SPEC, stages=(SPEC.stages[0], SPEC.stages[2], replace(SPEC.stages[1], begin_h=21.0)))

    assert closed_h(SPEC) == 20.0
    assert closed_h(pause) == float("inf")
    assert closed_h(replace(SPEC, stages=SPEC.stages[2:])) == 20.0


def test_window_evens_out_two_and_a_half_intervals() -> None:
    """Half of 37.5 min in the preheat, half of the least asked for in high fire."""
    np.testing.assert_allclose(ripple_half_min(SPEC, np.array([1.0, 11.0]), 20.0), [18.75, 10.0])
    np.testing.assert_allclose(ripple_half_min(SPEC, np.array([1.0, 11.0]), 8.0), [18.75, 5.0])


def test_plan_asks_for_degrees_and_climb() -> None:
    """30 degC/h, then 100; nothing beyond its end."""
    plan_c, climb_c_h = asked(SPEC, np.array([5.0, 15.0, 25.0]))

    np.testing.assert_allclose(plan_c, [170.0, 820.0, np.nan])
    np.testing.assert_allclose(climb_c_h, [30.0, 100.0, np.nan])
