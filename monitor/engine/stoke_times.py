"""When the next stoke is due: a renewal process whose interval is not known and moves.

A grid of log intervals carries the probability of each. An interval between told stokes speaks for its own length, for
half of it and a third (stokes that were not seen between), and a little for anything. What comes of it is the hazard:
how much likelier a stoke is now than at any other time.
"""

from dataclasses import dataclass

import numpy as np

from monitor.engine.limits import STOKE_INTERVAL_MAX_S, STOKE_INTERVAL_MIN_S, STOKE_LULL_S
from monitor.model import SLOT_S, FloatArray

INTERVALS_S = np.geomspace(STOKE_INTERVAL_MIN_S, STOKE_INTERVAL_MAX_S, 80)
"""The grid of intervals, seconds."""

FIRST_INTERVAL_S = 480.0
"""Taken for the interval before anything is known, seconds."""

_SEEN, _ONE_MISSED, _TWO_MISSED, _ANY = 0.72, 0.11, 0.04, 0.13
_ANY_SHAPE = (0.9, 0.75)
_MOVES = np.array([0.05, 0.2, 0.5, 0.2, 0.05])
_NEW_RHYTHM = 0.02


def _log_normal(x: FloatArray, middle: float, spread: float) -> FloatArray:
    return np.asarray(np.exp(-0.5 * (np.log(x / middle) / spread) ** 2) / (x * spread * np.sqrt(2.0 * np.pi)))


def density(x: FloatArray) -> FloatArray:
    """Return the density of told intervals `x` in units of the true one."""
    even = 0.5 * (_log_normal(x, 1.0, 0.10) + _log_normal(x, 1.0, 0.22))
    missed = _ONE_MISSED * _log_normal(x, 2.0, 0.14) + _TWO_MISSED * _log_normal(x, 3.0, 0.12)
    return _SEEN * even + missed + _ANY * _log_normal(x, *_ANY_SHAPE)


_LOG_X = np.linspace(np.log(0.05), np.log(30.0), 800)
_X = np.exp(_LOG_X)
_DENSITY = density(_X)
_PARTS = np.append(0.0, np.cumsum(0.5 * (_DENSITY[1:] + _DENSITY[:-1]) * np.diff(_X)))
_BEYOND = np.maximum(1.0 - 0.999 * _PARTS / _PARTS[-1], 1e-4)


@dataclass(slots=True, eq=False)
class Times:
    """What is remembered of each kiln (K,).

    `last` and `previous` onset of the newest stokes, epoch seconds, NaN before the first; `interval_s` the likeliest
    interval; `chance` (K, G) of each of `INTERVALS_S`; `count` stokes told.
    """

    last: FloatArray
    previous: FloatArray
    interval_s: FloatArray
    chance: FloatArray
    count: FloatArray


def new_times(kilns: int) -> Times:
    """Return the state of `kilns` kilns before the first stoke."""
    grid = len(INTERVALS_S)
    return Times(
        last=np.full(kilns, np.nan),
        previous=np.full(kilns, np.nan),
        interval_s=np.full(kilns, FIRST_INTERVAL_S),
        chance=np.full((kilns, grid), 1.0 / grid),
        count=np.zeros(kilns),
    )


def log_odds(times: Times, kiln: int, moments: FloatArray) -> FloatArray:
    """Return the log odds that a stoke falls into the slots that begin at `moments` (n,), before any evidence."""
    flat = np.full(len(moments), np.log(SLOT_S / times.interval_s[kiln]))
    last = times.last[kiln] if not times.last[kiln] > moments[0] else times.previous[kiln]
    age = moments - last
    lull = age > STOKE_LULL_S
    flat[lull] = np.log(SLOT_S / age[lull])  # who has not stoked for so long may have stopped
    due = age <= STOKE_LULL_S
    if not due.any():
        return flat
    log_x = np.log(np.maximum(age[due], SLOT_S)[:, None] / INTERVALS_S)
    chance = times.chance[kiln]
    now = (chance / INTERVALS_S * np.interp(log_x, _LOG_X, _DENSITY)).sum(axis=1)
    later = (chance * np.interp(log_x, _LOG_X, _BEYOND)).sum(axis=1)
    flat[due] = np.log(SLOT_S * np.maximum(now / later, 1e-12))
    return flat


def learn_interval(times: Times, kiln: int, interval_s: float) -> None:
    """Take in one interval between told stokes; one beyond `STOKE_LULL_S` says nothing of the rhythm."""
    if interval_s > STOKE_LULL_S:
        return
    log_x = np.log(interval_s / INTERVALS_S)
    likely = (np.interp(log_x, _LOG_X, _DENSITY) * np.exp(log_x)) ** 0.9
    chance = times.chance[kiln] * likely
    chance = np.convolve(chance / chance.sum(), _MOVES, mode="same")
    grid = len(INTERVALS_S)
    times.chance[kiln] = (1.0 - _NEW_RHYTHM) * chance / chance.sum() + _NEW_RHYTHM / grid
    near = np.convolve(times.chance[kiln], np.ones(3), mode="same")
    times.interval_s[kiln] = INTERVALS_S[int(near.argmax())]
