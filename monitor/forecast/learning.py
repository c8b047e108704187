"""Forecasts that are checked against what came: how wide the interval must be, and how fast this firing goes.

Every half hour each sensor's course for the next 0.5, 2 and 8 h is noted; when that time is over, the interval's side
that was passed grows, and one that held shrinks a little, so that each is passed as often as `MISSED`, whatever the
errors are like: adaptive conformal inference (I. Gibbs and E. Candes, Adaptive conformal inference under distribution
shift, NeurIPS 34 (2021)). The pace is how many hours of the plan the guide has gone in the last day; what an
hour early or late is worth counts as kept.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from monitor.model import FloatArray

STEP_S = 1800.0
"""Seconds between two forecasts that are noted."""

AHEAD_H: FloatArray = np.array([0.5, 2.0, 8.0])
"""Hours ahead at which forecasts are checked."""

MISSED = 0.1
"""Share of checks that may pass either side of the interval: 80 % lie inside."""

KEPT_H = 1.0
"""A kiln that came this much early or late within a day has kept its plan, hours (practice)."""

LOW, HIGH = 0, 1

_STEPS = (AHEAD_H * 3600.0 / STEP_S).astype(np.int64)
_OLDEST = np.cumsum(_STEPS) - _STEPS
_NEWEST = np.cumsum(_STEPS) - 1
_GAIN = np.array([0.15, 0.12, 0.1])
_WIDE_C, _WIDE_POWER = 4.0, 0.66
_PLANLESS = np.array([1.0, 1.5, 2.0])
_RELATIVE = 0.15
_PACE_STEPS = 48
_PACE_LEAST_H = 6.0
_PACE_BOUNDS = (0.3, 1.7)
_SOONEST_H = 1.0 / 60.0

IntArray = npt.NDArray[np.int64]


@dataclass(slots=True, eq=False)
class Learned:
    """What K kilns of S sensors have taught.

    `newest` (1,) numbers the half hour of the newest notes, -1 before the first. `low`, `high` (K, S, n) degC are the
    ends of the intervals that are waited for, NaN for none: those for the first of `AHEAD_H`, oldest first, as many as
    half hours until they are due, then those for the next. `wide` (K, S, 3, 2) is the natural logarithm of the half
    width's factor. `place` (K, m) are the plan's hours at which the kiln stood, newest last, NaN for none.
    """

    newest: IntArray
    low: FloatArray
    high: FloatArray
    wide: FloatArray
    place: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """A course for the hours of `AHEAD_H`: `mean` (K, S, 3) degC.

    `level` (K, S) degC is the present, `place` (K,) the plan's hour at which the kiln stands, NaN unknown.
    """

    mean: FloatArray
    level: FloatArray
    place: FloatArray


def new_learned(shape: tuple[int, int], *, has_plan: npt.NDArray[np.bool_]) -> Learned:
    """Return the state of kilns and sensors of `shape` before the first forecast; `has_plan` (K,)."""
    notes = (*shape, int(_STEPS.sum()))
    factor = np.where(has_plan[:, None], 1.0, _PLANLESS)
    wide = np.broadcast_to(np.log(factor)[:, None, :, None], (*shape, len(AHEAD_H), 2))
    return Learned(
        newest=np.full(1, -1),
        low=np.full(notes, np.nan),
        high=np.full(notes, np.nan),
        wide=wide.copy(),
        place=np.full((shape[0], _PACE_STEPS + 1), np.nan),
    )


def pace(learned: Learned) -> FloatArray:
    """Return how many hours of its plan each kiln has gone in an hour, over the last day (K,); 1 while unknown."""
    known = np.isfinite(learned.place)
    oldest = known.argmax(axis=1)
    kiln = np.arange(len(oldest))
    elapsed_h = (learned.place.shape[1] - 1 - oldest) * (STEP_S / 3600.0)
    slipped_h = learned.place[:, -1] - learned.place[kiln, oldest] - elapsed_h
    lost_h = np.sign(slipped_h) * np.maximum(np.abs(slipped_h) - KEPT_H, 0.0)
    gone = 1.0 + lost_h / np.maximum(elapsed_h, _PACE_LEAST_H)
    return np.where(known[:, -1], np.clip(gone, *_PACE_BOUNDS), 1.0)


def half_widths_c(learned: Learned, rise_c: FloatArray, ahead_h: FloatArray) -> FloatArray:
    """Return how far below and above the mean (2, K, S, H) the interval reaches after `ahead_h` (H,), degC.

    It is what is usual for that time and the rise that is expected, `rise_c` (K, S, H), times what was learned; between
    the checked times the factor's logarithm is a straight line over that of the time, outside it stays.
    """
    x, knots = np.log(np.maximum(ahead_h, _SOONEST_H)), np.log(AHEAD_H)
    right = np.clip(np.searchsorted(knots, x), 1, len(knots) - 1)
    share = np.clip((x - knots[right - 1]) / (knots[right] - knots[right - 1]), 0.0, 1.0)[:, None]
    factor = np.exp((1.0 - share) * learned.wide[:, :, right - 1] + share * learned.wide[:, :, right])
    return np.moveaxis(factor * _usual_c(rise_c, ahead_h)[..., None], 3, 0)


def learn(learned: Learned, at: float, course: Course) -> None:
    """Check what was waited for against `course.level` at epoch seconds `at`, then note the course."""
    number = int(at // STEP_S)
    elapsed = number - int(learned.newest[0]) if learned.newest[0] >= 0 else _PACE_STEPS + 1
    learned.newest[0] = number
    _move_on(learned.place, elapsed)
    learned.place[:, -1] = course.place
    for notes in (learned.low, learned.high):
        _move_each_on(notes, elapsed - 1)
    _check(learned, course.level)
    below, above = half_widths_c(learned, course.mean - course.level[..., None], AHEAD_H)
    for notes, end in ((learned.low, course.mean - below), (learned.high, course.mean + above)):
        _move_each_on(notes, 1)
        notes[:, :, _NEWEST] = end


def _usual_c(rise_c: FloatArray, ahead_h: FloatArray) -> FloatArray:
    """Return the half width (K, S, H) before anything was learned, degC: it grows with time and with the rise."""
    grown_c = _WIDE_C * (np.maximum(ahead_h, _SOONEST_H) / AHEAD_H[0]) ** _WIDE_POWER
    return np.asarray(grown_c + _RELATIVE * np.abs(np.nan_to_num(rise_c)))


def _check(learned: Learned, level: FloatArray) -> None:
    low, high = learned.low[:, :, _OLDEST], learned.high[:, :, _OLDEST]
    passed = np.stack([level[..., None] < low, level[..., None] > high], axis=3)
    due = np.isfinite(low) & np.isfinite(level)[..., None]
    learned.wide += np.where(due[..., None], _GAIN[:, None] * (passed - MISSED), 0.0)


def _move_each_on(notes: FloatArray, elapsed: int) -> None:
    for first, steps in zip(_OLDEST.tolist(), _STEPS.tolist(), strict=True):
        _move_on(notes[:, :, first : first + steps], elapsed)


def _move_on(notes: FloatArray, elapsed: int) -> None:
    """Make room for `elapsed` new notes at the end of the last axis, NaN so far."""
    size = notes.shape[-1]
    moved = min(elapsed, size)
    notes[..., : size - moved] = notes[..., moved:].copy()
    notes[..., size - moved :] = np.nan
