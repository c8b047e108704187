"""A sheath as a first-order lag, y + tau y' = gas, and its compensation by lead, slot by slot.

Between slots the input is held (zero-order hold), for which both are exact at the ends of slots.
"""

import numpy as np

from monitor.model import SLOT_S, FloatArray

SMOOTHING = 3.0
"""The lead is smoothed by a lag of this part of the one that it undoes: (1 + tau s) / (1 + s tau / 3)."""


def lagged(celsius: FloatArray, lag_s: float) -> FloatArray:
    """Return the answer of a first-order lag to `celsius` (n, seeds), one slot a row."""
    out = celsius.copy()
    share = 1.0 - np.exp(-SLOT_S / lag_s)
    for i in range(1, len(out)):
        out[i] = out[i - 1] + share * (celsius[i] - out[i - 1])
    return out


def led(celsius: FloatArray, lag_s: float) -> FloatArray:
    """Return what went into a lag of `lag_s` that answered with `celsius`, smoothed by a lag of a third of it."""
    smooth = lagged(celsius, lag_s / SMOOTHING)
    left = np.exp(-SLOT_S / lag_s)
    return np.vstack([smooth[:1], (smooth[1:] - left * smooth[:-1]) / (1.0 - left)])
