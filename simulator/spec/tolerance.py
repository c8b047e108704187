"""How far one probe is off within its tolerance class.

A new probe is off by the same share of its temperature everywhere, as an alloy whose Seebeck coefficient is off by that
share would be: the share is the smallest that its class allows at any temperature, times a draw between -1 and 1.
"""

from collections.abc import Sequence

import numpy as np

from monitor.model import FloatArray
from monitor.thermocouple.tolerance import limit_c


def share_of_class(letter: str, tolerance_class: int) -> float:
    """Return the largest share of its temperature by which a probe may be off everywhere above 0 degC."""
    celsius = np.arange(1.0, 1701.0)
    return float(np.min(limit_c(letter, tolerance_class, celsius) / celsius))


def draw_shares(letters: Sequence[str], classes: Sequence[int], rng: np.random.Generator) -> FloatArray:
    """Return for each probe (S,) the share of its temperature by which it reads too high."""
    widest = np.array([share_of_class(letter, c) for letter, c in zip(letters, classes, strict=True)])
    return widest * rng.uniform(-1.0, 1.0, len(widest))
