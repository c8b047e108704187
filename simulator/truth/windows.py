"""Arithmetic on one-minute means: centred means, slopes, trailing highs, and stretches of minutes that are marked.

A window of `2 * half_min` minutes is centred on its minute and may be another at each; at both ends of a series it is
cut off there. Everything is done on whole arrays by running sums.
"""

import numpy as np
import numpy.typing as npt

from monitor.model import FloatArray

BoolArray = npt.NDArray[np.bool_]


def centred_mean(series: FloatArray, half_min: FloatArray) -> FloatArray:
    """Return the means of `series` (m,) or (m, k) over windows of `half_min` (m,) minutes to either side."""
    first, last = _window(len(series), half_min)
    total = _running_sum(series)
    count = (last - first).reshape(-1, *[1] * (series.ndim - 1))
    mean: FloatArray = (total[last] - total[first]) / count
    return mean


def centred_slope_c_h(celsius: FloatArray, half_min: FloatArray) -> FloatArray:
    """Return the least-squares slopes of `celsius` (m,) in degC/h over windows of `half_min` (m,) to either side."""
    first, last = _window(len(celsius), half_min)
    minute = np.arange(len(celsius), dtype=np.float64)
    level = celsius - (celsius.mean() if len(celsius) else 0.0)
    sums = [_running_sum(s) for s in (minute, level, minute * minute, minute * level)]
    x, y, xx, xy = (s[last] - s[first] for s in sums)
    count = last - first
    slope: FloatArray = 60.0 * (count * xy - x * y) / np.maximum(count * xx - x * x, 1e-9)
    return slope


def trailing_high(series: FloatArray, minutes: int) -> FloatArray:
    """Return the highest of each minute of `series` (m,) and the `minutes` before it."""
    if len(series) == 0:
        return series
    padded = np.concatenate([np.full(minutes, -np.inf), series])
    high: FloatArray = np.lib.stride_tricks.sliding_window_view(padded, minutes + 1).max(axis=1)
    return high


def stretches(on: BoolArray) -> npt.NDArray[np.int64]:
    """Return where `on` (m,) holds as pairs (k, 2): the first minute of each stretch and the first one after it."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], on, [False]]).astype(np.int8)))
    return edges.reshape(-1, 2).astype(np.int64)


def lasting(on: BoolArray, *, close_min: int, least_min: int) -> BoolArray:
    """Return `on` (m,) with breaks under `close_min` minutes closed, and of that what lasts `least_min` or more."""
    closed = on.copy()
    found = stretches(on)
    for end, begin in zip(found[:-1, 1], found[1:, 0], strict=True):
        if begin - end < close_min:
            closed[end:begin] = True
    for begin, end in stretches(closed):
        if end - begin < least_min:
            closed[begin:end] = False
    return closed


def _window(count: int, half_min: FloatArray) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    here = np.arange(count)
    reach = np.floor(half_min).astype(np.int64)
    return np.maximum(here - reach, 0), np.minimum(here + reach + 1, count)


def _running_sum(series: FloatArray) -> FloatArray:
    return np.concatenate([np.zeros((1, *series.shape[1:])), np.cumsum(series, axis=0)])
