"""Rhythm: front stokes that come ever later, or ever sooner, than the crew means them to.

True where five front-stoke intervals in a row sum to 1.25 times (or 0.75 times) the sum of I or beyond, and at least
three of the five are each 15 % off in that direction: one missed stoke alone is no drift. Windows that overlap or touch
join. A wanted change of I is none: an interval across a change of stage is as intended anywhere between the two.
"""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from monitor.model import FindingKind, FloatArray
from simulator.spec.kiln_file import KilnSpec
from simulator.truth.intent import closed_h, intended_min
from simulator.truth.spans import TrueSpan
from simulator.truth.stokes import Door, TrueStoke

IN_A_ROW = 5
OFF_EACH = 0.15
OFF_IN_ALL = 0.25
AT_LEAST = 3
ROUNDING = 1e-9
"""A ratio this close to a bound is at it."""


def true_rhythm(spec: KilnSpec, stokes: Sequence[TrueStoke]) -> list[TrueSpan]:
    """Return the spans in which the rhythm was off; `ratio` is that of the window farthest off."""
    hours = np.array([s.hour for s in stokes if s.door is Door.FRONT and s.hour < closed_h(spec)])
    if len(hours) <= IN_A_ROW:
        return []
    ratio = _ratios(60.0 * np.diff(hours), _wanted_min(spec, hours))
    spans: list[TrueSpan] = []
    for first in np.flatnonzero(np.isfinite(ratio)):
        begin_h, end_h = float(hours[first]), float(hours[first + IN_A_ROW])
        own = TrueSpan(FindingKind.RHYTHM, begin_h, end_h, ratio=float(ratio[first]))
        if spans and own.begin_h <= spans[-1].end_h:
            spans[-1] = _join(spans[-1], own)
        else:
            spans.append(own)
    return spans


def _wanted_min(spec: KilnSpec, hours: FloatArray) -> FloatArray:
    """Return the interval in minutes that was intended between each stoke and the next, or the true one if between."""
    wanted = intended_min(spec, hours)
    lower, upper = np.minimum(wanted[:-1], wanted[1:]), np.maximum(wanted[:-1], wanted[1:])
    return np.clip(60.0 * np.diff(hours), lower, upper)


def _ratios(true_min: FloatArray, wanted_min: FloatArray) -> FloatArray:
    """Return for each five intervals their sum over the intended one where that is drift, else NaN."""
    each = _fives(true_min / wanted_min)
    ratio = _fives(true_min).sum(axis=1) / _fives(wanted_min).sum(axis=1)
    late = (each >= 1.0 + OFF_EACH - ROUNDING).sum(axis=1) >= AT_LEAST
    soon = (each <= 1.0 - OFF_EACH + ROUNDING).sum(axis=1) >= AT_LEAST
    drifts = (late & (ratio >= 1.0 + OFF_IN_ALL - ROUNDING)) | (soon & (ratio <= 1.0 - OFF_IN_ALL + ROUNDING))
    return np.where(drifts, ratio, np.nan)


def _fives(series: FloatArray) -> npt.NDArray[np.float64]:
    return np.lib.stride_tricks.sliding_window_view(series, IN_A_ROW)


def _join(earlier: TrueSpan, later: TrueSpan) -> TrueSpan:
    ratios = [r for r in (earlier.ratio, later.ratio) if r is not None]
    farthest = max(ratios, key=lambda r: abs(np.log(r)))
    return TrueSpan(FindingKind.RHYTHM, earlier.begin_h, later.end_h, ratio=farthest)
