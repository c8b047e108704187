"""Heat work as a firing runs: a state of fixed size that takes up temperatures one moment after the other.

Soaks count like everything else, cooling too: what a cone has taken up stays. Over a gap the work is bridged between
the temperatures at both ends, and kept apart as well, so that it can be told how much of it nobody measured. So is what
a sensor that is first heard when it is hot has missed: a climb of 60 degC/h up to there is taken for it.
"""

from dataclasses import dataclass

import numpy as np

from monitor.heat_work.cones import CONES
from monitor.heat_work.rate import step_work
from monitor.heat_work.steady import climb_work
from monitor.model import FloatArray

GAP_S = 600.0
"""A step longer than this is a gap, seconds: up to here the logarithmic mean costs less than 0.05 degC."""

_STEADY_C_PER_H = 60.0


@dataclass(slots=True, eq=False)
class HeatWork:
    """What K kilns' S sensors have seen: `work` (K, S, C) of each cone, `bridged` (K, S, C) the part over gaps.

    `last_c`, `last_at` (K, S) are the newest temperature, degC, and its moment, epoch seconds, NaN before the first.
    """

    work: FloatArray
    bridged: FloatArray
    last_c: FloatArray
    last_at: FloatArray


def new_heat_work(shape: tuple[int, int]) -> HeatWork:
    """Return the state of kilns and sensors of `shape` before the fire is lit: every cone has taken up nothing."""
    cones = (*shape, len(CONES))
    return HeatWork(np.zeros(cones), np.zeros(cones), np.full(shape, np.nan), np.full(shape, np.nan))


def take_up(state: HeatWork, at: float, celsius: FloatArray) -> None:
    """Add what the step to the moment `at` (epoch seconds) with `celsius` (K, S) brought; NaN where none is known."""
    known = np.isfinite(celsius)
    if (first := known & np.isnan(state.last_c)).any():
        missed = climb_work(celsius[first], _STEADY_C_PER_H)
        state.work[first] += missed
        state.bridged[first] += missed
    follows = known & np.isfinite(state.last_c)
    step_s = np.where(follows, at - state.last_at, 0.0)
    # where nothing follows, the step is from 0 to 0 degC in no time: no work, and no NaN
    brought = step_work(np.where(follows, state.last_c, 0.0), np.where(follows, celsius, 0.0), step_s)
    state.work += brought
    if (gap := step_s > GAP_S).any():
        state.bridged += np.where(gap[..., None], brought, 0.0)
    state.last_c = np.where(known, celsius, state.last_c)
    state.last_at = np.where(known, at, state.last_at)


def bridged_share(state: HeatWork) -> FloatArray:
    """Return the share (K, S, C) of each cone's work that lies in gaps, 0 where there is no work."""
    return np.asarray(state.bridged / np.maximum(state.work, 1e-300))
