"""Stalls: the ware at the guide stands still where it should climb, judged by the ware itself.

True where the least-squares slope of the ware in the guiding zone over a centred max(20 min, 2.5 I) is below 5 degC/h
while the plan climbs at 20 degC/h or more and the ware is less than 10 degC above it; breaks under 5 min closed, then
for 20 min. Where the plan climbs at 8 to 20 degC/h: below a quarter of the plan's climb over a centred 90 min, for
60 min. At a site without a plan: where the ware climbed at 20 degC/h or more over the last 3 h and the crew does not
mean to hold, which is where its own course climbs at less than 8 degC/h. It is over when the kiln is closed up.
"""

import numpy as np

from monitor.model import FindingKind, FloatArray
from simulator.spec.kiln_file import KilnSpec
from simulator.truth.intent import asked, closed_h, ripple_half_min
from simulator.truth.minutes import Minutes, spans_of
from simulator.truth.spans import TrueSpan
from simulator.truth.windows import BoolArray, centred_slope_c_h, lasting

STILL_C_H = 5.0
STEEP_C_H = 20.0
HOLD_C_H = 8.0
"""A plan that climbs less than this holds."""
AHEAD_C = 10.0
LAST_MIN = 180
"""How far back a climb is looked for where there is no plan."""


def true_stalls(spec: KilnSpec, minutes: Minutes, *, has_plan: bool = True) -> list[TrueSpan]:
    """Return the stalls in order; `has_plan` says whether the site knows the crew's plan."""
    fired = minutes.until(closed_h(spec))
    ware_c = fired.ware_c[:, spec.zone_index(spec.guide_zone)]
    still = centred_slope_c_h(ware_c, ripple_half_min(spec, fired.hour, 20.0)) < STILL_C_H
    plan_c, climb_c_h = asked(spec, fired.hour)
    if has_plan:
        on = _behind_plan(ware_c, still, plan_c, climb_c_h)
    else:
        on = lasting(still & _has_climbed(ware_c) & ~(climb_c_h < HOLD_C_H), close_min=5, least_min=20)
    return spans_of(FindingKind.STALL, fired, on, {})


def _behind_plan(ware_c: FloatArray, still: BoolArray, plan_c: FloatArray, climb_c_h: FloatArray) -> BoolArray:
    behind = ware_c < plan_c + AHEAD_C
    slow = centred_slope_c_h(ware_c, np.full(len(ware_c), 45.0)) < climb_c_h / 4.0
    is_gentle = (climb_c_h >= HOLD_C_H) & (climb_c_h < STEEP_C_H)
    steep = lasting(behind & still & (climb_c_h >= STEEP_C_H), close_min=5, least_min=20)
    gentle = lasting(behind & slow & is_gentle, close_min=5, least_min=60)
    return lasting(steep | gentle, close_min=5, least_min=1)


def _has_climbed(ware_c: FloatArray) -> BoolArray:
    """Return where the last 3 h climbed at 20 degC/h or more; unknown, so False, in the first 3 h."""
    climbed = np.zeros(len(ware_c), dtype=np.bool_)
    climbed[LAST_MIN:] = (ware_c[LAST_MIN:] - ware_c[:-LAST_MIN]) * 60.0 / LAST_MIN >= STEEP_C_H
    return climbed
