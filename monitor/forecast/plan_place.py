"""Where on the plan a kiln stands by its temperature, and how the plan goes on from there.

A kiln that is an hour late goes on as the plan does from its temperature, not from its clock; where the plan holds or
hardly climbs, many moments are as warm as the kiln, and the one nearest to the clock counts. K kilns, P points of their
plans, padded with infinite hours and NaN degC.
"""

import numpy as np

from monitor.model import FloatArray

ALIKE_C = 5.0
"""A kiln this near to a temperature of the plan stands there, degC (design: what stokes and probes leave uncertain)."""

_FAR_H_PER_C = 1.0e3


def place_on_plan(plan_h: FloatArray, plan_c: FloatArray, celsius: FloatArray, now_h: FloatArray) -> FloatArray:
    """Return the plan's hour (K,) at which kilns of `celsius` (K,) stand, `now_h` (K,) hours after lighting.

    NaN without a plan or a temperature.
    """
    is_leg = np.isfinite(plan_h[:, 1:])
    begin_h, begin_c = (np.where(is_leg, points[:, :-1], 0.0) for points in (plan_h, plan_c))
    span_h = np.where(is_leg, plan_h[:, 1:] - begin_h, 1.0)
    rise_c = np.where(is_leg, plan_c[:, 1:] - begin_c, 0.0)
    off_c = celsius[:, None] - begin_c
    # the share of the leg at which its temperature comes within reach, and where it leaves it again
    steep = np.abs(rise_c) > 1e-9
    ends = np.stack([off_c - ALIKE_C, off_c + ALIKE_C]) / np.where(steep, rise_c, 1.0)
    first = np.clip(np.where(steep, ends.min(axis=0), 0.0), 0.0, 1.0)
    last = np.clip(np.where(steep, ends.max(axis=0), 1.0), 0.0, 1.0)
    share = np.clip((now_h[:, None] - begin_h) / span_h, first, last)
    lacking_c = np.maximum(np.abs(off_c - share * rise_c) - ALIKE_C, 0.0)
    hour = begin_h + share * span_h
    cost = np.where(is_leg, np.abs(hour - now_h[:, None]) + _FAR_H_PER_C * lacking_c, np.inf)
    kiln = np.arange(len(celsius))
    best = np.argmin(np.where(np.isnan(cost), np.inf, cost), axis=1)
    known = is_leg.any(axis=1) & np.isfinite(celsius) & np.isfinite(now_h)
    return np.where(known, hour[kiln, best], np.nan)


def planned_rise_c(plan_h: FloatArray, plan_c: FloatArray, from_h: FloatArray, ahead_h: FloatArray) -> FloatArray:
    """Return by how much (K, H) the plan rises within `ahead_h` (K, H) of its hours from its hour `from_h` (K,), degC.

    Behind its end it goes on as its last leg, where that climbs. NaN where `from_h` is.
    """
    out = np.full(ahead_h.shape, np.nan)
    for k in np.flatnonzero(np.isfinite(from_h)).tolist():
        points = np.isfinite(plan_h[k])
        hours, celsius = plan_h[k, points], plan_c[k, points]
        at_h = from_h[k] + np.append(0.0, ahead_h[k])
        last_c_per_h = max((celsius[-1] - celsius[-2]) / (hours[-1] - hours[-2]), 0.0)
        at_c = np.interp(at_h, hours, celsius) + np.maximum(at_h - hours[-1], 0.0) * last_c_per_h
        out[k] = at_c[1:] - at_c[0]
    return out
