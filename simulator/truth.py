"""Truth: where a firing really fell or stalled, judged by the kiln's own state and never by what sensors show.

A fall: in a chamber zone the ware or the gas, each averaged over a centred max(10 min, 2.5 I), stands more than 10 degC
below its own highest value of the trailing 30 min, for 5 min or more; breaks under 10 min are closed. A stall: the
least-squares slope of the ware at the guiding sensor over a centred max(20 min, 2.5 I) is below 5 degC/h where the plan
climbs at 20 degC/h or more and the ware is less than 10 degC above it, breaks under 5 min closed, for 20 min; where the
plan climbs at 8 to 20 degC/h: below a quarter of the plan's climb over a centred 90 min, for 60 min. I is the stoke
interval that the crew intends. All are over when the kiln is closed up. Series are one-minute means.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from monitor.model import FloatArray
from simulator.firing import FINE_S, Trace
from simulator.kiln_file import KilnSpec

CHAMBER = ("front", "middle", "back")
BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Span:
    """A condition from `begin_h` to `end_h`, hours from lighting."""

    begin_h: float
    end_h: float


@dataclass(frozen=True, slots=True, eq=False)
class Minutes:
    """One-minute means of a trace: `hour` (m,) at each minute's middle, degC of gas and ware (m, Z)."""

    hour: FloatArray
    gas_c: FloatArray
    ware_c: FloatArray


def minute_means(trace: Trace) -> Minutes:
    """Return one-minute means of `trace`, an unfinished last minute left out."""
    steps = 60 // FINE_S
    count = len(trace.clock_s) // steps
    first_min = (float(trace.clock_s[0]) - FINE_S) / 60.0
    shape = (count, steps, -1)
    return Minutes(
        hour=(first_min + np.arange(count, dtype=np.float64) + 0.5) / 60.0,
        gas_c=trace.gas_c[: count * steps].reshape(shape).mean(axis=1),
        ware_c=trace.ware_c[: count * steps].reshape(shape).mean(axis=1),
    )


def true_falls(spec: KilnSpec, minutes: Minutes) -> list[Span]:
    """Return the falls in order."""
    interval_min = _intended_min(spec, minutes.hour)
    half_min = np.maximum(10.0, 2.5 * interval_min) / 2.0
    fallen = np.zeros(len(minutes.hour), dtype=np.bool_)
    for zone in (n for n, z in enumerate(spec.zones) if z.place in CHAMBER):
        for series in (minutes.gas_c[:, zone], minutes.ware_c[:, zone]):
            smooth = _centred_mean(series, half_min)
            fallen |= _trailing_high(smooth, 30) - smooth > 10.0
    fallen &= interval_min > 0.0
    return _spans(minutes.hour, fallen, close_min=10, least_min=5)


def true_stalls(spec: KilnSpec, minutes: Minutes) -> list[Span]:
    """Return the stalls in order."""
    interval_min = _intended_min(spec, minutes.hour)
    ware_c = minutes.ware_c[:, spec.zone_index(spec.guide_zone)]
    hours, celsius = np.array(spec.points).T
    planned_c = np.interp(minutes.hour, hours, celsius, left=np.nan, right=np.nan)
    legs = np.clip(np.searchsorted(hours, minutes.hour, side="right") - 1, 0, len(hours) - 2)
    climb_c_h = (np.diff(celsius) / np.diff(hours))[legs]
    behind = (interval_min > 0.0) & (ware_c < planned_c + 10.0)
    quick = _slope_c_h(ware_c, np.maximum(20.0, 2.5 * interval_min) / 2.0) < 5.0
    slow = _slope_c_h(ware_c, np.full(len(ware_c), 45.0)) < climb_c_h / 4.0
    steep = _spans(minutes.hour, behind & quick & (climb_c_h >= 20.0), close_min=5, least_min=20)
    gentle = behind & slow & (climb_c_h >= 8.0) & (climb_c_h < 20.0)
    return sorted(steep + _spans(minutes.hour, gentle, close_min=5, least_min=60), key=lambda span: span.begin_h)


def _intended_min(spec: KilnSpec, hour: FloatArray) -> FloatArray:
    begins = np.array([s.begin_h for s in spec.stages])
    intervals = np.array([s.interval_min for s in spec.stages])
    return intervals[np.maximum(np.searchsorted(begins, hour, side="right") - 1, 0)]


def _window(count: int, half_min: FloatArray) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    here = np.arange(count)
    reach = np.floor(half_min).astype(np.int64)
    return np.maximum(here - reach, 0), np.minimum(here + reach + 1, count)


def _centred_mean(series: FloatArray, half_min: FloatArray) -> FloatArray:
    first, last = _window(len(series), half_min)
    total = _running_sum(series)
    mean: FloatArray = (total[last] - total[first]) / (last - first)
    return mean


def _trailing_high(series: FloatArray, minutes: int) -> FloatArray:
    padded = np.concatenate([np.full(minutes, -np.inf), series])
    high: FloatArray = np.lib.stride_tricks.sliding_window_view(padded, minutes + 1).max(axis=1)
    return high


def _slope_c_h(series: FloatArray, half_min: FloatArray) -> FloatArray:
    first, last = _window(len(series), half_min)
    minute = np.arange(len(series), dtype=np.float64)
    level = series - series.mean()
    sums = [_running_sum(s) for s in (minute, level, minute * minute, minute * level)]
    x, y, xx, xy = (s[last] - s[first] for s in sums)
    count = last - first
    slope: FloatArray = 60.0 * (count * xy - x * y) / np.maximum(count * xx - x * x, 1e-9)
    return slope


def _running_sum(series: FloatArray) -> FloatArray:
    return np.concatenate([np.zeros(1), np.cumsum(series)])


def _spans(hour: FloatArray, on: BoolArray, *, close_min: int, least_min: int) -> list[Span]:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], on, [False]]).astype(np.int8)))
    joined: list[list[int]] = []
    for begin, end in edges.reshape(-1, 2).tolist():
        if joined and begin - joined[-1][1] < close_min:
            joined[-1][1] = end
        else:
            joined.append([begin, end])
    half = 0.5 / 60.0
    return [
        Span(float(hour[begin]) - half, float(hour[end - 1]) + half)
        for begin, end in joined
        if end - begin >= least_min
    ]
