"""Fall: a chamber zone's temperature, net of ripple, drops well below its own highest value of the last 30 min.

The definition averages over a window centred on the moment, which needs the future; here the level of a few minutes
ago, net of ripple, stands for that average, and the depth must show in two beats. One span covers all zones. A gap
holds what was judged last; a zone silent for long no longer holds a fall that all others have left.
"""

from dataclasses import dataclass

import numpy as np

from monitor.engine.beats import Heard, IntArray
from monitor.engine.limits import (
    BEAT_S,
    FALL_BREAK_S,
    FALL_CONFIRM_BEATS,
    FALL_DEPTH_C,
    FALL_LOOKBACK_BEATS,
    FALL_SILENT_ZONE_S,
    LEVEL_LAG_MIN,
)
from monitor.engine.setup import BoolArray, EngineSetup
from monitor.engine.told import Change
from monitor.model import FloatArray


@dataclass(slots=True, eq=False)
class Fall:
    """What is remembered of each zone's sensor and of each kiln.

    Per sensor (K, S): `levels` (K, S, n) of the last 30 min, -inf where unknown; `run` beats in a row that were deep,
    `since` the epoch second of the first; `low` whether it has fallen; `judged` epoch seconds of its last level. Per
    kiln (K,): `open` whether a fall is told, `first` the sensor that showed it, `clean` epoch seconds since when no
    zone is low, NaN while one is.
    """

    levels: FloatArray
    run: IntArray
    since: FloatArray
    low: BoolArray
    judged: FloatArray
    open: BoolArray
    first: IntArray
    clean: FloatArray


def new_fall(shape: tuple[int, int]) -> Fall:
    """Return the state of kilns and sensors of `shape` before the first beat."""
    kilns = shape[:1]
    return Fall(
        levels=np.full((*shape, FALL_LOOKBACK_BEATS), -np.inf),
        run=np.zeros(shape, np.int64),
        since=np.full(shape, np.nan),
        low=np.zeros(shape, bool),
        judged=np.full(shape, -np.inf),
        open=np.zeros(kilns, bool),
        first=np.full(kilns, -1),
        clean=np.full(kilns, np.nan),
    )


def judge_fall(fall: Fall, setup: EngineSetup, level: FloatArray, heard: Heard, closed: BoolArray) -> Change:
    """Take up a beat's `level` (K, S), NaN where nothing is known; kilns `closed` (K,) up end and begin none.

    Nothing is low in a closed kiln, so that one fired on after all is told of at once where it falls.
    """
    now = heard.beat * BEAT_S
    depth = _depth(fall, level, heard)
    judged = setup.chamber & np.isfinite(level)
    fall.judged = np.where(judged, now, fall.judged)
    deep = judged & (depth > FALL_DEPTH_C)
    fall.since = np.where(deep & (fall.run == 0), now, fall.since)
    fall.run = np.where(judged, np.where(deep, fall.run + 1, 0), fall.run)
    entered = deep & (fall.run >= FALL_CONFIRM_BEATS) & ~fall.low
    fall.low = np.where(judged, deep & (fall.low | entered), fall.low) & ~heard.forget & ~closed[:, None]
    return _settle(fall, np.where(deep, depth, -np.inf), entered, now=now, closed=closed)


def _depth(fall: Fall, level: FloatArray, heard: Heard) -> FloatArray:
    """Move the levels on and return how far each lies below its highest, degC (K, S), NaN where `level` is."""
    fall.levels[heard.forget] = -np.inf
    n = min(heard.elapsed, FALL_LOOKBACK_BEATS)
    if n < FALL_LOOKBACK_BEATS:
        fall.levels[:, :, :-n] = fall.levels[:, :, n:]
    fall.levels[:, :, -n:] = -np.inf
    fall.levels[:, :, -1] = np.where(np.isfinite(level), level, -np.inf)
    return np.asarray(fall.levels.max(axis=2) - level)


def _settle(fall: Fall, depth: FloatArray, entered: BoolArray, *, now: float, closed: BoolArray) -> Change:
    """Join the zones to one span per kiln."""
    kiln = np.arange(len(closed))
    speaks = now - fall.judged < FALL_SILENT_ZONE_S
    holds = fall.low & (speaks | ~speaks.any(axis=1, keepdims=True))
    is_low = holds.any(axis=1)
    fresh = (fall.judged == now).any(axis=1)
    fall.clean = np.where(is_low, np.nan, np.where(fresh & np.isnan(fall.clean), now, fall.clean))
    begun = entered.any(axis=1) & ~fall.open & ~closed
    ended = fall.open & (closed | (fresh & (now - fall.clean >= FALL_BREAK_S)))
    first = np.where(entered, depth, -np.inf).argmax(axis=1)
    fall.first = np.where(begun, first, fall.first)
    fall.open = (fall.open | begun) & ~ended
    lag_s = LEVEL_LAG_MIN * 60.0
    return Change(
        begun=begun,
        ended=ended,
        sensor=fall.first.copy(),
        onset=fall.since[kiln, first] - lag_s,
        ended_at=fall.clean - lag_s,
        measure=depth[kiln, first],
    )
