"""What the engine expects and checks: every half hour of record time, whatever the cutting."""

from collections.abc import Callable

import numpy as np
import pytest

from monitor.engine.climb import new_climb
from monitor.engine.expecting import expect, is_due, keep_learning, standing
from monitor.engine.limits import BEAT_S
from monitor.engine.setup import EngineSetup
from monitor.engine.stall import Guiding, new_stall
from monitor.forecast.learning import AHEAD_H, STEP_S, new_learned

PLAN = "[plan]\npoints = [[0, 600], [10, 1100]]\n"
LIT = 1_764_000_000.0


def _guiding(sensor: int) -> Guiding:
    return Guiding(np.array([sensor]), np.array([np.nan]), np.array([np.nan]), np.array([LIT]), lambda: np.zeros(1))


def _standing(setup: EngineSetup, level: float, rate: float, *, guide: int = 0, hours: float = 4.0):  # type: ignore[no-untyped-def]
    climb, stall = new_climb(setup.shape), new_stall(setup.shape)
    climb.level[...], climb.rate[...] = level, rate
    return standing(setup, climb, stall, _guiding(guide), LIT + hours * 3600.0)


def test_level_is_brought_up_to_now(make_setup: Callable[..., EngineSetup]) -> None:
    """The level is that of 3.5 min ago: at 60 degC/h it lacks 3.5 degC; timber is no ware."""
    now = _standing(make_setup(("middle", "timber")), 796.5, 60.0)

    np.testing.assert_allclose(now.level, [[800.0, np.nan]])


def test_a_kiln_on_its_plan_is_expected_to_keep_it(make_setup: Callable[..., EngineSetup]) -> None:
    """50 degC/h as planned: 25, 100 degC in 0.5 and 2 h, and on behind the plan's end."""
    setup = make_setup(("middle",), PLAN)
    learned = new_learned(setup.shape, has_plan=setup.has_plan)
    expected = expect(learned, setup, _standing(setup, 800.0 - 50.0 * 3.5 / 60.0, 50.0), AHEAD_H)

    np.testing.assert_allclose(expected.rise[0, 0], 50.0 * AHEAD_H, rtol=1e-6)
    assert expected.place[0] == pytest.approx(4.0)


def test_without_a_guide_the_sensor_goes_on_as_it_did(make_setup: Callable[..., EngineSetup]) -> None:
    """No guide, no place on the plan: the climb now goes on."""
    setup = make_setup(("middle",), PLAN)
    learned = new_learned(setup.shape, has_plan=setup.has_plan)
    expected = expect(learned, setup, _standing(setup, 800.0, 30.0, guide=-1), AHEAD_H)

    np.testing.assert_allclose(expected.rise[0, 0], 30.0 * AHEAD_H)


def test_forecasts_are_checked_once_in_a_half_hour(make_setup: Callable[..., EngineSetup]) -> None:
    """Due at the first beat of each half hour of the epoch, and no more once it is done."""
    setup = make_setup(("middle",), PLAN)
    learned = new_learned(setup.shape, has_plan=setup.has_plan)
    beat = round(LIT / BEAT_S)
    assert is_due(learned, beat)
    now = _standing(setup, 800.0, 50.0, hours=0.0)
    keep_learning(learned, setup, now)

    per_step = round(STEP_S / BEAT_S)
    due = [is_due(learned, b) for b in range(beat, beat + per_step + 1)]
    assert due == [False] * per_step + [True]  # the made-up firing is lit on a half hour
