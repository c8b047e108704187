"""What the plan asks at a moment: target temperature and climb, linear between its points."""

from dataclasses import dataclass

import numpy as np

from monitor.model import FloatArray

REACHED_C = 10.0


@dataclass(frozen=True, slots=True)
class Plan:
    """The course agreed for the guiding sensor.

    `points` are (hours from lighting, degC), rising in time. `lit` is epoch seconds, None for the firing's first scan.
    """

    points: tuple[tuple[float, float], ...]
    lit: float | None = None


def planned_c(plan: Plan, lit: float, now: FloatArray) -> FloatArray:
    """Return the planned temperature in degC at epoch seconds `now` (n,); NaN before and after the plan."""
    hours, celsius = np.array(plan.points, dtype=np.float64).T
    return np.asarray(np.interp((now - lit) / 3600.0, hours, celsius, left=np.nan, right=np.nan))


def planned_climb_c_per_h(plan: Plan, lit: float, now: FloatArray) -> FloatArray:
    """Return the planned climb in degC/h at epoch seconds `now` (n,); NaN before and after the plan.

    At a point of the plan the climb of the leg that begins there counts.
    """
    hours, celsius = np.array(plan.points, dtype=np.float64).T
    slopes = np.diff(celsius) / np.diff(hours)
    at = (now - lit) / 3600.0
    leg = np.clip(np.searchsorted(hours, at, side="right") - 1, 0, len(slopes) - 1)
    climb: FloatArray = np.where((at >= hours[0]) & (at <= hours[-1]), slopes[leg], np.nan)
    return climb


def planned_at(plan: Plan, lit: float, now: float) -> float | None:
    """Return the planned climb in degC/h at epoch second `now`, None before and after the plan."""
    climb = float(planned_climb_c_per_h(plan, lit, np.array([now]))[0])
    return None if np.isnan(climb) else climb


def behind_plan_s(plan: Plan, lit: float, now: float, celsius: float) -> float:
    """Return how many seconds ago the plan last asked for `celsius` (degC) or less, 0 where it asks for it still.

    Within `REACHED_C` a temperature of the plan counts as reached.
    """
    hours, asked = np.array(plan.points, dtype=np.float64).T
    reached = np.flatnonzero(asked <= celsius + REACHED_C)
    if not len(reached):
        return max(0.0, now - lit - 3600.0 * float(hours[0]))
    i = int(reached[-1])
    if i == len(hours) - 1:
        return 0.0
    share = (celsius + REACHED_C - asked[i]) / (asked[i + 1] - asked[i])
    return max(0.0, now - lit - 3600.0 * float(hours[i] + share * (hours[i + 1] - hours[i])))
