"""The course that is expected of each sensor: as the plan goes on, at this firing's own pace, from where it is now.

With r the climb now and P(h) the rise of the plan within h hours from the kiln's place on it, at the firing's own pace,
the rise is P(h) + (r - P'(0)) t (1 - exp(-h / t)): what a sensor climbs more or less than expected is over after some
t, `SETTLE_H`. Without a plan the last three hours go on.
"""

import numpy as np

from monitor.model import FloatArray

SETTLE_H = 0.5
"""How long a climb that is off lasts on, hours (design: over simulated firings the median error grows beyond this)."""

_NEAR_H = 0.25


def expected_rise_c(
    plan_rise_c: FloatArray, near_rise_c: FloatArray, climb_c_per_h: FloatArray, ahead_h: FloatArray
) -> FloatArray:
    """Return the rise (..., H) of sensors within `ahead_h` (H,), degC.

    `plan_rise_c` (..., H) is what is expected of the kiln in that time, `near_rise_c` (...) in the next quarter of an
    hour, `climb_c_per_h` (...) each sensor's climb now; where that is not known (NaN) it is taken as expected.
    """
    off_c_per_h = np.nan_to_num(climb_c_per_h - near_rise_c / _NEAR_H)
    settled_h = SETTLE_H * (1.0 - np.exp(-ahead_h / SETTLE_H))
    return np.asarray(plan_rise_c + off_c_per_h[..., None] * settled_h)


NEAR_H: FloatArray = np.array([_NEAR_H])
"""How far ahead the climb that is expected now is read off, hours (1,)."""
