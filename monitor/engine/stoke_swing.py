"""How the temperatures swing between stokes: early and late in the interval against its middle.

Where air is to spare, wood is what is short: a stoke makes the firebox flare, and it burns down until the next one, so
the middle of the interval is hot and both ends are cold. Where air is short, more wood brings no more heat there: it
cools the firebox, which recovers as the wood's gas leaves and is hottest just before the next stoke; what cannot burn
for want of air burns where more air leaks in, and the flue is hot in the middle of the interval. The sign of that swing
says which of the two is short. It is a correlation with the place in the interval, so it has no scale of its own.
"""

from dataclasses import dataclass

import numpy as np

from monitor.engine.limits import (
    BEAT_S,
    HISTORY_BEATS,
    INFERRED_CELLS,
    INFERRED_INTERVAL_MAX_S,
    INFERRED_INTERVALS,
    INFERRED_INTERVALS_LEAST,
)
from monitor.engine.setup import BoolArray
from monitor.model import FloatArray

_AGO_S: FloatArray = np.asarray((np.arange(HISTORY_BEATS - 1, -1, -1) + 0.5) * BEAT_S, dtype=np.float64)
"""How long ago the middle of each cell of a history lies, seconds."""
_X: FloatArray = np.linspace(-1.0, 1.0, HISTORY_BEATS)
_TREND: FloatArray = np.stack([np.ones(HISTORY_BEATS), _X, _X * _X], axis=1)
_FLAT_C = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class Intervals:
    """The newest intervals between stokes, as the history sees them.

    `place` (K, n) is where in its interval each cell of the history lies, 0 at its stoke and 1 at the next, NaN outside
    of them; `middle` (K,) epoch seconds between the first and the last of these stokes, NaN where they are too few.
    """

    place: FloatArray
    middle: FloatArray


def newest_intervals(onsets: FloatArray, now: float) -> Intervals:
    """Return the newest intervals between stokes at `onsets` (K, m), epoch seconds, newest last, NaN where none."""
    lengths = np.diff(onsets, axis=1)
    counts = np.isfinite(lengths) & (lengths <= INFERRED_INTERVAL_MAX_S)
    counts[:, :-INFERRED_INTERVALS] = False
    whole = counts & (onsets[:, :-1] >= now - HISTORY_BEATS * BEAT_S)
    enough = whole.sum(axis=1) >= INFERRED_INTERVALS_LEAST
    at = now - _AGO_S
    inside = (onsets[:, :-1, None] <= at) & (at < onsets[:, 1:, None]) & counts[..., None]
    place = np.where(inside, (at - onsets[:, :-1, None]) / lengths[..., None], 0.0).sum(axis=1)
    begin = np.where(counts, onsets[:, :-1], np.inf).min(axis=1)
    middle = np.where(enough, 0.5 * (begin + onsets[:, -1]), np.nan)
    return Intervals(np.where(inside.any(axis=1) & enough[:, None], place, np.nan), middle)


def swing(history: FloatArray, place: FloatArray) -> FloatArray:
    """Return how each history (K, S, n) swings with the `place` (K, n) of its cells in the interval: (K, S), -1 to 1.

    Above zero: hotter around the stokes than between them. A parabola over the cells is taken off first. NaN where
    too few cells are known.
    """
    known: BoolArray = np.isfinite(history) & np.isfinite(place)[:, None, :]
    count = known.sum(axis=2)
    masked = np.where(known[..., None], _TREND, 0.0)
    normal = np.einsum("ksni,ksnj->ksij", masked, masked) + 1e-6 * np.eye(3)
    right = np.einsum("ksni,ksn->ksi", masked, np.where(known, history, 0.0))
    trend = np.einsum("ni,ksi->ksn", _TREND, np.linalg.solve(normal, right[..., None])[..., 0])
    rest = np.where(known, history - trend, 0.0)
    size = np.sqrt((rest * rest).sum(axis=2) / np.maximum(count, 1))
    wave = np.sqrt(2.0) * np.cos(2.0 * np.pi * np.where(np.isfinite(place), place, 0.0))
    product = (rest * wave[:, None, :]).sum(axis=2) / np.maximum(count, 1)
    tells = (count >= INFERRED_CELLS) & (size > _FLAT_C)
    return np.where(tells, product / np.maximum(size, _FLAT_C), np.nan)
