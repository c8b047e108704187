"""Heat work of steady climbs and holds in closed form: when a cone will be down, and which climb gave as much.

On a climb of b kelvin a second the work from cold up to T is k(T) s(T) / b with s(T) = T exp(x) E2(x), x = E/(R T),
E2 the exponential integral; s is the climb over which the rate grows by e, nearly R T**2 / E. E2 by its continued
fraction: M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions, 5.1.22 (from memory; the tests compare).
"""

import numpy as np

from monitor.heat_work.cones import ENERGY_K, REFERENCE_K, REFERENCE_PER_S, ZERO_C_IN_K
from monitor.heat_work.rate import log_rate
from monitor.model import FloatArray

HOLD_C_PER_H = 1e-4
"""A climb slower than this, either way, is taken as a hold: it changes nothing, and 1/b stays finite."""

_TERMS = 12
"""Of the continued fraction: 1e-14 relative at x = 15 (3000 degC), fewer needed below."""

_NEWTON_STEPS = 6

_INVERSE_K = (1e-4, 0.02)
"""Bounds of 1/T, 1/K: from 10 000 to 50 K, beyond every kiln."""


def scaled_e2(x: FloatArray) -> FloatArray:
    """Return exp(x) E2(x) of `x`, 15 or more."""
    tail = np.zeros_like(x)
    for k in range(_TERMS, 0, -1):
        tail = k * (k + 1.0) / (x + 2.0 + 2.0 * k - tail)
    return np.asarray(1.0 / (x + 2.0 - tail))


def e_fold_c(celsius: FloatArray) -> FloatArray:
    """Return s (..., C) in degC at `celsius` (...): the work of a climb so far is that of s / b seconds at its end."""
    kelvin = np.asarray(celsius, dtype=np.float64)[..., None] + ZERO_C_IN_K
    return np.asarray(kelvin * scaled_e2(ENERGY_K / kelvin))


def climb_work(celsius: FloatArray, climb_c_per_h: FloatArray | float) -> FloatArray:
    """Return the heat work (..., C) of a steady climb (...), above 0, from cold up to `celsius` (...)."""
    per_s = np.asarray(climb_c_per_h, dtype=np.float64)[..., None] / 3600.0
    return np.asarray(REFERENCE_PER_S * np.exp(log_rate(celsius)) * e_fold_c(celsius) / per_s)


def climbed_to_c(work: FloatArray, climb_c_per_h: FloatArray | float) -> FloatArray:
    """Return the temperature (..., C) up to which a steady climb (...), above 0, gives `work` (..., C), degC.

    Without any work it is below every temperature of the earth.
    """
    per_s = np.asarray(climb_c_per_h, dtype=np.float64)[..., None] / 3600.0
    with np.errstate(divide="ignore"):
        wanted = np.log(np.asarray(work, dtype=np.float64) * per_s)
    return np.asarray(_climb_end_k(wanted) - ZERO_C_IN_K)


def time_to_cone_s(work: FloatArray, celsius: FloatArray, climb_c_per_h: FloatArray) -> FloatArray:
    """Return the seconds (..., C) until each cone is down when it goes on from `celsius` (...) at a steady climb (...).

    `work` (..., C) is what each cone has now. 0 where it is down, infinite where this climb never gets there (a falling
    kiln), NaN where something is not known.
    """
    climb = np.asarray(climb_c_per_h, dtype=np.float64)[..., None]
    holds = np.abs(climb) < HOLD_C_PER_H
    per_s = np.where(holds, 1.0, climb / 3600.0)
    here = np.asarray(celsius, dtype=np.float64)[..., None]
    lacking = np.maximum(1.0 - np.asarray(work, dtype=np.float64), 0.0)
    rate = REFERENCE_PER_S * np.exp(log_rate(celsius))
    # work from here to there is (k s there - k s here) / b: so k s there is known, and with it the temperature there
    wanted = rate * e_fold_c(celsius) + per_s * lacking
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        there = _climb_end_k(np.log(np.maximum(wanted, 0.0))) - ZERO_C_IN_K
        seconds = np.where(holds, lacking / rate, (there - here) / per_s)
    seconds = np.where(~holds & (wanted <= 0.0), np.inf, seconds)
    return np.asarray(np.where(lacking == 0.0, 0.0, np.maximum(seconds, 0.0)) + 0.0 * (here + climb))


def _climb_end_k(wanted: FloatArray) -> FloatArray:
    """Return T (..., C) in kelvin where ln(k(T) s(T)) is `wanted` (..., C): Newton's steps in 1/T, nearly straight."""
    start = np.log(REFERENCE_PER_S * REFERENCE_K * scaled_e2(ENERGY_K / REFERENCE_K))
    inverse = np.clip(1.0 / REFERENCE_K + (start - wanted) / ENERGY_K, *_INVERSE_K)
    for _ in range(_NEWTON_STEPS):
        fold = scaled_e2(ENERGY_K * inverse) / inverse
        found = np.log(REFERENCE_PER_S * fold) + ENERGY_K * (1.0 / REFERENCE_K - inverse)
        inverse = np.clip(inverse + (found - wanted) * fold * inverse * inverse, *_INVERSE_K)
    return np.asarray(1.0 / inverse)
