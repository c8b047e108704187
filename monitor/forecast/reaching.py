"""When a temperature or a cone will be reached on a course with its interval."""

from dataclasses import dataclass

import numpy as np

from monitor.heat_work.rate import step_work
from monitor.model import FloatArray

AHEAD_H: FloatArray = np.concatenate(
    [np.arange(0, 180) / 30.0, np.arange(72, 144) / 12.0, np.arange(24, 145) / 2.0],
)
"""Hours ahead at which courses are worked out (H,): every 2 min for six hours, every 5 min to twelve, then every half
hour for three days."""

EARLY, LIKELY, LATE = 0, 1, 2

_NO_WORK = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Paths:
    """Temperatures (3, H) in degC at `AHEAD_H` of one sensor: the high end of the interval, the mean, the low end."""

    celsius: FloatArray


def paths(mean_c: FloatArray, below_c: FloatArray, above_c: FloatArray) -> Paths:
    """Return the paths of a course `mean_c` (H,) whose interval reaches `below_c` and `above_c` (H,) from it."""
    return Paths(np.stack([mean_c + above_c, mean_c, mean_c - below_c]))


def hours_to_temperature(course: Paths, wanted_c: float) -> FloatArray:
    """Return after how many hours (3,) each path first is at `wanted_c`: early, likely, late; NaN where never."""
    return _first_at(course.celsius, wanted_c)


def hours_to_cone(course: Paths, work: float, cone: int, *, off_c: float, surplus: float) -> FloatArray:
    """Return after how many hours (3,) cone number `cone` is down, which has taken up `work` so far; NaN where never.

    Where the cone stands and what a degree does to it is known to `off_c` degC: the early path is that much hotter, the
    late one that much colder, together with the course's own interval as squares. `surplus` is how many times as much
    work the ripple around the course does as the course alone: work grows faster than temperature.
    """
    mean = course.celsius[LIKELY]
    widened = np.sign(course.celsius - mean) * np.hypot(course.celsius - mean, off_c)
    celsius = mean + widened
    step_s = np.diff(AHEAD_H) * 3600.0
    brought = surplus * step_work(celsius[:, :-1], celsius[:, 1:], step_s)[..., cone]
    done = work + np.concatenate([np.zeros((3, 1)), brought.cumsum(axis=1)], axis=1)
    # on a climb work grows as a power of e, so that its logarithm is the straight line between two moments
    return _first_at(np.log(np.maximum(done, _NO_WORK)), 0.0)


def _first_at(path: FloatArray, wanted: float) -> FloatArray:
    """Return the hours (n,) at which each path (n, H) first is at `wanted`, straight between its points; NaN never."""
    reached = path >= wanted
    first = reached.argmax(axis=1)
    row = np.arange(len(path))
    before = np.maximum(first - 1, 0)
    low, high = path[row, before], path[row, first]
    share = np.where(high > low, (wanted - low) / np.where(high > low, high - low, 1.0), 0.0)
    hours = AHEAD_H[before] + np.where(first > 0, share, 0.0) * (AHEAD_H[first] - AHEAD_H[before])
    return np.where(reached.any(axis=1), hours, np.nan)
