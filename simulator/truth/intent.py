"""What the crew intends, as truth needs it: the interval of front stokes, when the kiln is closed up, and the plan."""

import numpy as np

from monitor.model import FloatArray
from monitor.plan import Plan, planned_c, planned_climb_c_per_h
from simulator.spec.kiln_file import KilnSpec


def intended_min(spec: KilnSpec, hour: FloatArray) -> FloatArray:
    """Return the front-stoke interval I in minutes that the crew intends at `hour` (m,), 0 where nobody stokes."""
    begins = np.array([s.begin_h for s in spec.stages])
    intervals = np.array([s.interval_min for s in spec.stages], dtype=np.float64)
    return np.asarray(intervals[np.maximum(np.searchsorted(begins, hour, side="right") - 1, 0)])


def closed_h(spec: KilnSpec) -> float:
    """Return the hour at which the kiln is closed up: after the last stage that stokes; infinity without an end."""
    closed = np.inf
    for stage in reversed(spec.stages):
        if stage.interval_min > 0.0:
            break
        closed = stage.begin_h
    return float(closed)


def ripple_half_min(spec: KilnSpec, hour: FloatArray, least_min: float) -> FloatArray:
    """Return half of the window max(`least_min`, 2.5 I) in minutes at `hour` (m,): it evens out the stokes."""
    return np.asarray(np.maximum(least_min, 2.5 * intended_min(spec, hour)) / 2.0)


def asked(spec: KilnSpec, hour: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the plan's degC and its climb in degC/h at `hour` (m,), NaN where there is none."""
    plan, now_s = Plan(spec.points), hour * 3600.0
    return planned_c(plan, 0.0, now_s), planned_climb_c_per_h(plan, 0.0, now_s)
