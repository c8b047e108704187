"""How far the readings along a flame's path are from a story that a kiln can tell.

From one place to the next, what is left above the air falls by a quarter or so, in a preheat by more, in high fire by
less; it never rises by much. Each step is measured as the logarithm of a ratio, less the usual one, squared; a step the
wrong way counts twice. Sensors of one place should read alike.
"""

import numpy as np
import numpy.typing as npt

from monitor.engine.limits import AIR_C
from monitor.model import FloatArray

USUAL_STEP = 0.25
"""Logarithm of the usual ratio from one place to the next (practice: cross-draught kilns)."""
SOFT_C = 15.0
"""Rises are taken this much larger, degC, so that a cold kiln says nothing."""
HOTTEST_C = 2000.0
"""What stands for a reading beyond its letter, degC: hotter than any kiln."""
WRONG_WAY = 2.0


def rises(celsius: FloatArray) -> FloatArray:
    """Return how far each of `celsius` (n,) is above the air, softened."""
    return np.asarray(np.maximum(np.minimum(celsius, HOTTEST_C) - AIR_C, 0.0) + SOFT_C)


def misfit(rise: FloatArray, path: npt.NDArray[np.int64]) -> float:
    """Return the misfit of `rise` (n,) at the places `path` (n,), 0 for the usual kiln."""
    if len(rise) < 2:
        return 0.0
    order = np.argsort(path, kind="stable")
    step = -np.diff(np.log(rise[order]))
    places = np.diff(path[order])
    is_same = places == 0
    off = step - USUAL_STEP * places
    weight = np.where(is_same | (step < 0.0), WRONG_WAY, 1.0)
    return float((weight * off * off).sum())
