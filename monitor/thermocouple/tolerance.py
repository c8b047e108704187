"""Tolerance classes of new thermocouples by IEC 60584-1:2013, and the standard uncertainty that one of them stands for.

The standard covers thermocouples as delivered: no drift in use, no lead, no converter.
"""

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


def standard_uncertainty_c(letter: str | None, celsius: FloatArray) -> FloatArray:
    """Return the standard uncertainty in degC of a probe of class 2 at `celsius` (n,), 0 degC and above.

    Class 2 is what a probe is that nobody chose; its limits count as rectangular (JCGM 100:2008, 4.3.7). A sensor of
    finished temperatures, `letter` None, counts as type K: nobody knows better.
    """
    return np.asarray(limit_c(letter or "K", 2, celsius) / np.sqrt(3.0))
