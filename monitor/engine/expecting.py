"""What the engine expects of each sensor, from its climb, its level and the plan; and what became of it."""

from dataclasses import dataclass

import numpy as np

from monitor.engine.climb import Climb
from monitor.engine.limits import BEAT_S, LEVEL_LAG_MIN
from monitor.engine.setup import EngineSetup
from monitor.engine.stall import Guiding, Stall
from monitor.forecast.course import NEAR_H, expected_rise_c
from monitor.forecast.learning import AHEAD_H, STEP_S, Course, Learned, learn, pace
from monitor.forecast.plan_place import place_on_plan, planned_rise_c
from monitor.model import FloatArray

_BEATS_PER_STEP = round(STEP_S / BEAT_S)


@dataclass(frozen=True, slots=True, eq=False)
class Standing:
    """How K kilns of S sensors stand at epoch second `now`.

    `level` (K, S) degC net of ripple, brought up to now, `climb` (K, S) degC/h now, `before` (K, S) degC/h over the
    last three hours, NaN where unknown.
    """

    now: float
    guiding: Guiding
    level: FloatArray
    climb: FloatArray
    before: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Expected:
    """The rise of each sensor (K, S, H) in degC, and the plan's hour (K,) at which kilns stand; NaN where unknown."""

    rise: FloatArray
    place: FloatArray


def standing(setup: EngineSetup, climb: Climb, stall: Stall, guiding: Guiding, now: float) -> Standing:
    """Return how kilns stand, other sensors than those of fire and ware left out."""
    level = np.where(setup.heat, climb.level + np.nan_to_num(climb.rate) * (LEVEL_LAG_MIN / 60.0), np.nan)
    before = np.where(np.isfinite(stall.before), stall.before, climb.rate)
    return Standing(now, guiding, level, climb.rate, before)


def is_due(learned: Learned, beat: int) -> bool:
    """Tell whether a half hour of record time has begun by `beat` since forecasts were last checked."""
    return beat // _BEATS_PER_STEP != int(learned.newest[0])


def keep_learning(learned: Learned, setup: EngineSetup, now: Standing) -> None:
    """Check old forecasts against how kilns stand now, and note new ones."""
    expected = expect(learned, setup, now, AHEAD_H)
    mean = now.level[..., None] + expected.rise
    learn(learned, now.now, Course(mean, now.level, expected.place))


def expect(learned: Learned, setup: EngineSetup, now: Standing, ahead_h: FloatArray) -> Expected:
    """Return what is expected within `ahead_h` (H,)."""
    guiding = now.guiding
    guide_c = np.where(guiding.sensor >= 0, now.level[np.arange(len(guiding.sensor)), guiding.sensor], np.nan)
    from_h = place_on_plan(setup.plan_h, setup.plan_c, guide_c, (now.now - guiding.lit) / 3600.0)
    at_h = np.concatenate([NEAR_H, ahead_h])
    planned = planned_rise_c(setup.plan_h, setup.plan_c, from_h, pace(learned)[:, None] * at_h)[:, None, :]
    usual = np.where(np.isfinite(planned), planned, now.before[..., None] * at_h)
    rise = expected_rise_c(usual[..., 1:], usual[..., 0], now.climb, ahead_h)
    return Expected(rise, from_h)
