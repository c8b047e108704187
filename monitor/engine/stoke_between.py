"""A stoke too weak to be told at once, found when the next one has shown that there was room for it.

It is never made up: there must be evidence of its own, at a time that fits the rhythm.
"""

import numpy as np

from monitor.engine.limits import (
    STOKE_APART_S,
    STOKE_BETWEEN_EVIDENCE,
    STOKE_BETWEEN_SCORE,
    STOKE_BETWEEN_SPREAD,
    STOKE_SETTLED_COUNT,
)
from monitor.engine.stoke_times import Times
from monitor.model import SLOT_S, FloatArray

_MOST = 4
_PER_MISSED = 1.5


def find_between(times: Times, kiln: int, found: FloatArray, at: int, since_s: float) -> int | None:
    """Return the position in `found` (n,) of a stoke between the one at `at` and the last one, `since_s` before it."""
    interval_s = float(times.interval_s[kiln])
    if np.isnan(since_s) or times.count[kiln] < STOKE_SETTLED_COUNT or not 1.5 <= since_s / interval_s <= _MOST + 0.5:
        return None
    apart = round(STOKE_APART_S / SLOT_S)
    places = np.arange(max(at - round(since_s / SLOT_S) + apart, 0), at - apart + 1)
    if not len(places):
        return None
    after_s: FloatArray = SLOT_S * (at - places).astype(np.float64)
    score: FloatArray = found[places] + _fit(since_s - after_s, interval_s) + _fit(after_s, interval_s)
    best = int(score.argmax())
    is_there = found[places[best]] >= STOKE_BETWEEN_EVIDENCE and score[best] >= STOKE_BETWEEN_SCORE
    return int(places[best]) if is_there else None


def _fit(part_s: FloatArray, interval_s: float) -> FloatArray:
    """Return how well an interval fits one or more of the rhythm's, as a log likelihood up to a constant."""
    times = np.maximum(np.round(part_s / interval_s), 1.0)
    off = np.log(part_s / (times * interval_s)) / STOKE_BETWEEN_SPREAD
    return np.asarray(-0.5 * off * off - _PER_MISSED * (times - 1.0))
