"""Tolerance classes of new thermocouples by IEC 60584-1:2013, and how far one probe is off within its class.

A new probe is off by the same share of its temperature everywhere, as an alloy whose Seebeck coefficient is off by that
share would be: the share is the smallest that its class allows at any temperature, times a draw between -1 and 1.
"""

from collections.abc import Sequence

import numpy as np

from monitor.model import FloatArray

Rows = tuple[tuple[float, float, float, float], ...]

BASE: dict[int, Rows] = {
    1: ((375.0, 1.5, 0.0, 0.0), (np.inf, 0.0, 0.004, 0.0)),
    2: ((333.0, 2.5, 0.0, 0.0), (np.inf, 0.0, 0.0075, 0.0)),
}
NOBLE: dict[int, Rows] = {
    1: ((1100.0, 1.0, 0.0, 0.0), (np.inf, 1.0, 0.003, 1100.0)),
    2: ((600.0, 1.5, 0.0, 0.0), (np.inf, 0.0, 0.0025, 0.0)),
}
CLASSES: dict[str, dict[int, Rows]] = {
    "K": BASE,
    "N": BASE,
    "E": BASE,
    "J": BASE,
    "R": NOBLE,
    "S": NOBLE,
    "B": {2: ((np.inf, 0.0, 0.0025, 0.0),), 3: ((800.0, 4.0, 0.0, 0.0), (np.inf, 0.0, 0.005, 0.0))},
    "T": {
        1: ((125.0, 0.5, 0.0, 0.0), (np.inf, 0.0, 0.004, 0.0)),
        2: ((133.0, 1.0, 0.0, 0.0), (np.inf, 0.0, 0.0075, 0.0)),
    },
}
"""By letter and class: up to which degC, and a, b, t0 of +-(a + b |t - t0|) degC (IEC 60584-1:2013).

Beyond the end that the standard gives a class, its last row goes on; the standard covers no drift.
"""


def limit_c(letter: str, tolerance_class: int, celsius: FloatArray) -> FloatArray:
    """Return the tolerance in degC at `celsius` (n,), 0 degC and above."""
    rows = CLASSES[letter][tolerance_class]
    limits = [a + b * np.abs(celsius - t0) for _, a, b, t0 in rows]
    return np.select([celsius <= until for until, *_ in rows], limits)


def share_of_class(letter: str, tolerance_class: int) -> float:
    """Return the largest share of its temperature by which a probe may be off everywhere above 0 degC."""
    celsius = np.arange(1.0, 1701.0)
    return float(np.min(limit_c(letter, tolerance_class, celsius) / celsius))


def draw_shares(letters: Sequence[str], classes: Sequence[int], rng: np.random.Generator) -> FloatArray:
    """Return for each probe (S,) the share of its temperature by which it reads too high."""
    widest = np.array([share_of_class(letter, c) for letter, c in zip(letters, classes, strict=True)])
    return widest * rng.uniform(-1.0, 1.0, len(widest))
