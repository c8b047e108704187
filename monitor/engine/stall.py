"""Stall: the guide stands still where the plan, or without one the last three hours, says that it should climb.

The definition's slope is over a window centred on the moment; here the climb of 8 min ago, net of ripple, stands for
it, and a stall is told when its shortfall has added up (a cumulative sum). Where the plan climbs slowly, the slope of
90 min counts. A gap at the guide says nothing: the state is held.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from monitor.engine.beats import Heard, IntArray
from monitor.engine.limits import (
    BEAT_S,
    CLIMB_LAG_MIN,
    LEVEL_LAG_MIN,
    SLOW_CONFIRM_S,
    SLOW_PLAN_C_PER_H,
    SLOW_POINTS,
    SLOW_SHARE,
    SLOW_SHARE_HEARD,
    SLOW_STEP_BEATS,
    SLOW_WINDOW_POINTS,
    STALL_ABOVE_PLAN_C,
    STALL_BREAK_S,
    STALL_CLIMB_C_PER_H,
    STALL_PLAN_C_PER_H,
    STALL_SHORTFALL_C,
    STALL_SURE,
)
from monitor.engine.setup import BoolArray, EngineSetup, planned
from monitor.engine.slopes import least_squares_slope, sen_slope
from monitor.engine.told import Change
from monitor.model import FloatArray

BRISK, SLOW = 0, 1
"""The two rules: a plan of 20 degC/h and more (or none), and one of 8 to 20."""

_LAG_S = np.array(
    [CLIMB_LAG_MIN * 60.0, LEVEL_LAG_MIN * 60.0 + (SLOW_WINDOW_POINTS - 1) * SLOW_STEP_BEATS * BEAT_S / 2]
)
_ASKED_AGO_S = np.append(_LAG_S, LEVEL_LAG_MIN * 60.0)
_HOURS: FloatArray = np.arange(SLOW_POINTS, dtype=np.float64) * (SLOW_STEP_BEATS * BEAT_S / 3600.0)


@dataclass(slots=True, eq=False)
class Stall:
    """`record` (K, S, n) of levels every 5 min over 3 h, `newest` (1,) the number of its newest point.

    `slow` (K, S) degC/h is each sensor's slope over 90 min, `before` (K, S) that over 3 h, NaN while unknown. Per kiln
    and rule (K, 2): `since` epoch seconds since when it holds (breaks closed), `broken` since when it does not, NaN
    where they do not run. Per kiln (K,): `shortfall` degC by which the rise has fallen short since then, `open` the
    rule of the stall that is told, -1 for none, `sensor` its guide.
    """

    record: FloatArray
    newest: IntArray
    slow: FloatArray
    before: FloatArray
    since: FloatArray
    broken: FloatArray
    shortfall: FloatArray
    open: IntArray
    sensor: IntArray


@dataclass(frozen=True, slots=True, eq=False)
class Guiding:
    """The guides at one beat, per kiln (K,): `sensor` its position or -1, `climb` degC/h and `level` degC, NaN unknown.

    `lit` is epoch seconds, NaN while the kiln was never heard. `unsure` gives the standard uncertainty (K,) of `climb`,
    worked out only where it is asked for.
    """

    sensor: IntArray
    climb: FloatArray
    level: FloatArray
    lit: FloatArray
    unsure: Callable[[], FloatArray]


def new_stall(shape: tuple[int, int]) -> Stall:
    """Return the state of kilns and sensors of `shape` before the first beat."""
    kilns = shape[0]
    return Stall(
        record=np.full((*shape, SLOW_POINTS), np.nan),
        newest=np.zeros(1, np.int64),
        slow=np.full(shape, np.nan),
        before=np.full(shape, np.nan),
        since=np.full((kilns, 2), np.nan),
        broken=np.full((kilns, 2), np.nan),
        shortfall=np.zeros(kilns),
        open=np.full(kilns, -1),
        sensor=np.full(kilns, -1),
    )


def keep_levels(stall: Stall, level: FloatArray, heard: Heard) -> None:
    """Take `level` (K, S) into the slow record when a new point of it is due, and renew the slow slopes."""
    stall.record[heard.forget] = np.nan
    number = heard.beat // SLOW_STEP_BEATS
    elapsed = min(number - int(stall.newest[0]), SLOW_POINTS)
    if elapsed == 0:
        return
    stall.newest[0] = number
    if elapsed < SLOW_POINTS:
        stall.record[:, :, :-elapsed] = stall.record[:, :, elapsed:]
    stall.record[:, :, -elapsed:] = np.nan
    stall.record[:, :, -1] = level
    window = stall.record[:, :, -SLOW_WINDOW_POINTS:]
    slow = least_squares_slope(_HOURS[:SLOW_WINDOW_POINTS], window)
    before = sen_slope(_HOURS, stall.record)
    stall.slow = np.where(_is_heard(window), slow, np.nan)
    stall.before = np.where(_is_heard(stall.record), before, np.nan)


def judge_stall(stall: Stall, setup: EngineSetup, guiding: Guiding, beat: int, closed: BoolArray) -> Change:
    """Take up a beat of the guides; kilns `closed` (K,) up end and begin none."""
    now = beat * BEAT_S
    kiln = np.arange(len(closed))
    slow = np.where(guiding.sensor >= 0, stall.slow[kiln, guiding.sensor], np.nan)
    is_low, known = _rules(stall, setup, guiding, now=now, slow=slow)
    stall.broken = np.where(known & ~is_low, np.fmin(stall.broken, now), stall.broken)
    over = known & (now - stall.broken >= STALL_BREAK_S)
    stall.since = np.where(over, np.nan, stall.since)
    stall.since = np.where(known & is_low & np.isnan(stall.since), now, stall.since)
    lacking = np.where(known[:, BRISK], (STALL_CLIMB_C_PER_H - guiding.climb) * (BEAT_S / 3600.0), 0.0)
    counts = np.isfinite(stall.since[:, BRISK])
    stall.shortfall = np.where(counts, np.maximum(stall.shortfall + lacking, 0.0), 0.0)
    lasts = np.stack([stall.shortfall >= STALL_SHORTFALL_C, now - stall.since[:, SLOW] >= SLOW_CONFIRM_S], axis=1)
    ripe = known & is_low & lasts & ((stall.open < 0) & ~closed)[:, None]
    if ripe[:, BRISK].any():
        ripe[:, BRISK] &= guiding.climb + STALL_SURE * guiding.unsure() < STALL_CLIMB_C_PER_H
    rule = np.where(ripe[:, BRISK], BRISK, SLOW)
    begun = np.asarray(ripe.any(axis=1))
    ended = (stall.open >= 0) & (closed | (over & ~is_low)[kiln, np.maximum(stall.open, 0)])
    told = np.where(begun, rule, np.maximum(stall.open, 0))
    stall.sensor = np.where(begun, guiding.sensor, stall.sensor)
    stall.open = np.where(begun, rule, np.where(ended, -1, stall.open))
    change = Change(
        begun=begun,
        ended=ended,
        sensor=stall.sensor.copy(),
        onset=stall.since[kiln, told] - _LAG_S[told],
        ended_at=stall.broken[kiln, told] - _LAG_S[told],
        measure=np.where(told == BRISK, guiding.climb, slow),
    )
    stall.broken = np.where(known & is_low, np.nan, stall.broken)
    return change


def _is_heard(points: FloatArray) -> BoolArray:
    """Return where enough points are there (K, S): the newest, one near the oldest, and most between."""
    there = np.isfinite(points)
    oldest = there[:, :, : points.shape[2] // 9].any(axis=2)
    enough: BoolArray = there[:, :, -1] & oldest & (there.mean(axis=2) >= SLOW_SHARE_HEARD)
    return enough


def _rules(
    stall: Stall, setup: EngineSetup, guiding: Guiding, *, now: float, slow: FloatArray
) -> tuple[BoolArray, BoolArray]:
    """Return per kiln and rule (K, 2) whether the guide is too slow, and whether that can be known."""
    kiln = np.arange(len(slow))
    target, asked = planned(setup, (now - _ASKED_AGO_S[:, None] - guiding.lit) / 3600.0)
    asked_brisk, asked_slow = asked[BRISK], asked[SLOW]
    waits = guiding.level - target[-1] >= STALL_ABOVE_PLAN_C
    before = np.where(guiding.sensor >= 0, stall.before[kiln, guiding.sensor], np.nan)
    told = stall.open == BRISK
    expected = np.where(setup.has_plan, asked_brisk >= STALL_PLAN_C_PER_H, told | (before >= STALL_PLAN_C_PER_H))
    still = expected & ~waits & (guiding.climb < STALL_CLIMB_C_PER_H)
    gentle = (asked_slow >= SLOW_PLAN_C_PER_H) & (asked_slow < STALL_PLAN_C_PER_H)
    lagging = gentle & ~waits & (slow < SLOW_SHARE * asked_slow)
    known = np.isfinite(guiding.climb)
    return np.stack([still, lagging], axis=1), np.stack([known, known & (np.isfinite(slow) | ~gentle)], axis=1)
