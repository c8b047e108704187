"""Two inputs exchanged while the kiln is fired: each emf is, from one moment on, what the other one was.

An emf that is beyond its converter's range, or beyond its letter, cannot be read, so one of the two may be silent; but
it must have left its own place.
"""

import numpy as np

from monitor.engine.beats import IntArray
from monitor.engine.limits import EXCHANGE_SHARE, EXCHANGE_VOLTS
from monitor.engine.setup import BoolArray
from monitor.model import FloatArray


def exchanged_with(held_volts: FloatArray, now_volts: FloatArray, jumped: BoolArray) -> IntArray:
    """Return for each sensor that `jumped` (K, S) whose emf it reads now, -1 for nobody's.

    `held_volts` (K, S) is every emf before, `now_volts` (K, S) now, NaN where there is none.
    """
    apart = np.abs(held_volts[:, :, None] - held_volts[:, None, :])
    allowed = EXCHANGE_VOLTS + EXCHANGE_SHARE * apart
    reads_other = np.abs(now_volts[:, :, None] - held_volts[:, None, :]) < allowed
    left = ~(np.abs(now_volts - held_volts)[:, None, :] < allowed)
    other_reads_me = ~(np.abs(now_volts[:, None, :] - held_volts[:, :, None]) >= allowed)
    fits = reads_other & left & other_reads_me & (apart > 3.0 * EXCHANGE_VOLTS) & jumped[:, :, None]
    miss = np.where(fits, np.abs(now_volts[:, :, None] - held_volts[:, None, :]), np.inf)
    return np.where(fits.any(axis=2), miss.argmin(axis=2), -1)
