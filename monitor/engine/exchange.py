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

    `held_volts` (K, S, S) is, for each sensor, every emf before its jump, `now_volts` (K, S) now, NaN where there is
    none.
    """
    own = np.diagonal(held_volts, axis1=1, axis2=2)[:, :, None]
    apart = np.abs(own - held_volts)
    allowed = EXCHANGE_VOLTS + EXCHANGE_SHARE * apart
    off = np.abs(now_volts[:, :, None] - held_volts)
    left = ~(np.abs(now_volts[:, None, :] - held_volts) < allowed)
    other_reads_me = ~(np.abs(now_volts[:, None, :] - own) >= allowed)
    fits = (off < allowed) & left & other_reads_me & (apart > 3.0 * EXCHANGE_VOLTS) & jumped[:, :, None]
    miss = np.where(fits, off, np.inf)
    return np.where(fits.any(axis=2), miss.argmin(axis=2), -1)
