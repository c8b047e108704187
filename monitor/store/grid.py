"""The columns of a chart: round steps of time that begin at multiples of themselves; pure.

A chart that is moved along keeps its columns, and a step of whole minutes meets the heads of blocks exactly.
"""

import math
from dataclasses import dataclass

from monitor.store.heads import BUCKET_S

FINE_STEPS_S = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 20.0, 30.0)
"""Steps below one bucket of the heads, seconds."""


@dataclass(frozen=True, slots=True)
class Grid:
    """`count` columns of `step_s`; column i begins at `(first + i) * step_s` epoch seconds."""

    first: int
    count: int
    step_s: float

    @property
    def begin(self) -> float:
        """Epoch seconds at which the first column begins."""
        return self.first * self.step_s

    @property
    def is_of_buckets(self) -> bool:
        """Whether each column is a whole number of buckets."""
        return self.step_s >= BUCKET_S


def choose_grid(begin: float, end: float, columns: int) -> Grid:
    """Return the finest grid of at most so many columns (at least 1) that covers epoch seconds `begin` to `end`.

    Raises:
        ValueError: the time asked for is empty, or no column is allowed.
    """
    if not begin < end or columns < 1:
        raise ValueError(f"a chart needs begin before end and a column, not {begin} to {end} in {columns}")
    for step_s in FINE_STEPS_S:
        if (grid := _grid(begin, end, step_s)).count <= columns:
            return grid
    buckets = max(1, math.ceil((end - begin) / columns / BUCKET_S))
    while (grid := _grid(begin, end, float(buckets * BUCKET_S))).count > columns:
        buckets += max(1, buckets // 8)
    return grid


def _grid(begin: float, end: float, step_s: float) -> Grid:
    first = math.floor(begin / step_s)
    return Grid(first, math.ceil(end / step_s) - first, step_s)
