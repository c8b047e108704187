"""Heat work, evenness and forecast of one kiln as records: what each sensor has seen, and what is ahead of it."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from monitor.engine.expecting import Standing, expect
from monitor.engine.setup import BoolArray, EngineSetup
from monitor.forecast.learning import AHEAD_H as CHECKED_H
from monitor.forecast.learning import Learned, half_widths_c, pace
from monitor.forecast.reaching import AHEAD_H, Paths, hours_to_cone, hours_to_temperature, paths
from monitor.heat_work.cones import CONES, NAMES, cone_index
from monitor.heat_work.running import HeatWork, bridged_share
from monitor.heat_work.steady import e_fold_c
from monitor.heat_work.told import MODEL_MISS_C, about_cone, equivalent_60_c
from monitor.model import Evenness, FloatArray, Outlook, PointOutlook, SensorOutlook, When
from monitor.thermocouple.tolerance import standard_uncertainty_c

INSIDE = 1.2816
"""Standard uncertainties on either side that hold four of five normal errors."""

AT_HOLD_C = 5.0
"""A kiln this near to a hold holds, degC (practice)."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a person asks for: a temperature in degC, a cone by name, or neither.

    Raises:
        ValueError: where there is no such cone.
    """

    celsius: float | None = None
    cone: str | None = None

    def __post_init__(self) -> None:
        if self.cone is not None:
            cone_index(self.cone)


@dataclass(frozen=True, slots=True, eq=False)
class Known:
    """What an outlook is made of.

    `ripple` (K, S, n) is what stokes leave of the last 40 min, degC, NaN unknown; `doubtful` (K, S) marks sensors that
    are off by an unknown amount, `closed` (K,) kilns that are closed up.
    """

    learned: Learned
    setup: EngineSetup
    now: Standing
    work: HeatWork
    ripple: FloatArray
    doubtful: BoolArray
    closed: BoolArray


def outlook_of(known: Known, kiln: int, wanted: Wanted) -> Outlook:
    """Return the outlook of kiln number `kiln`."""
    setup, now = known.setup, known.now
    ids = setup.ids[kiln]
    courses = _courses(known, kiln)
    sensors = tuple(
        _sensor(known, kiln, s, courses[s], wanted) for s in range(len(ids)) if setup.heat[kiln, s]
    )  # fmt: skip
    guide = int(now.guiding.sensor[kiln])
    return Outlook(
        at=now.now,
        guide=ids[guide] if guide >= 0 else None,
        pace=round(float(pace(known.learned)[kiln]), 3) if setup.has_plan[kiln] else None,
        reach_h=reach_h(known, kiln),
        sensors=sensors,
        evenness=_evenness(known, kiln),
        points=_points(known, kiln, courses[guide]) if guide >= 0 else (),
        scale=tuple((cone.name, cone.end_60_c) for cone in CONES),
    )


def reach_h(known: Known, kiln: int) -> float:
    """Return how far ahead an outlook may look, hours: three days on a plan, without one only as far as it learns."""
    return float(AHEAD_H[-1] if known.setup.has_plan[kiln] else CHECKED_H[-1])


def _courses(known: Known, kiln: int) -> list[Paths | None]:
    """Return each sensor's paths, None where its temperature is unknown or the kiln is closed up."""
    now = known.now
    rise = expect(known.learned, known.setup, now, AHEAD_H).rise
    below, above = half_widths_c(known.learned, rise, AHEAD_H)
    rise[:, :, reach_h(known, kiln) < AHEAD_H] = np.nan
    return [
        None
        if known.closed[kiln] or not np.isfinite(now.level[kiln, s] + rise[kiln, s, 0])
        else paths(now.level[kiln, s] + rise[kiln, s], below[kiln, s], above[kiln, s])
        for s in range(known.setup.shape[1])
    ]


def _sensor(known: Known, kiln: int, s: int, course: Paths | None, wanted: Wanted) -> SensorOutlook:
    level = float(known.now.level[kiln, s])
    work = known.work.work[kiln, s]
    about = about_cone(float(equivalent_60_c(work)), _sensor_u_c(known, kiln, s))
    standing = np.flatnonzero(work < 1.0)
    next_ = int(standing[0]) if len(standing) else None
    tells = about.highest is not None
    return SensorOutlook(
        sensor=known.setup.ids[kiln][s],
        celsius=round(level, 1) if np.isfinite(level) else None,
        equivalent_c=round(float(equivalent_60_c(work)), 1) if tells else None,
        half_width_c=round(about.half_width_c, 1) if tells else None,
        cone=about.cone,
        lowest=about.lowest,
        highest=about.highest,
        unmeasured=round(float(bridged_share(known.work)[kiln, s, next_ or 0]), 3),
        next_cone=None if next_ is None else NAMES[next_],
        next_at=_cone_at(known, kiln, s, course, next_),
        wanted_at=_temperature_at(known, course, wanted.celsius),
        wanted_cone_at=_cone_at(known, kiln, s, course, None if wanted.cone is None else cone_index(wanted.cone)),
        doubtful=bool(known.doubtful[kiln, s]),
    )


def _temperature_at(known: Known, course: Paths | None, celsius: float | None) -> When | None:
    if course is None or celsius is None:
        return None
    return _when(known.now.now, hours_to_temperature(course, celsius))


def _cone_at(known: Known, kiln: int, s: int, course: Paths | None, cone: int | None) -> When | None:
    if course is None or cone is None or not known.setup.chamber[kiln, s]:
        return None
    level = known.now.level[kiln, s]
    fold_c = e_fold_c(level)[cone]
    ripple = known.ripple[kiln, s]
    surplus = float(np.exp(ripple[np.isfinite(ripple)] / fold_c).mean()) if np.isfinite(ripple).any() else 1.0
    off_c = INSIDE * float(np.hypot(MODEL_MISS_C, _sensor_u_c(known, kiln, s)))
    work = float(known.work.work[kiln, s, cone])
    return _when(known.now.now, hours_to_cone(course, work, cone, off_c=off_c, surplus=surplus))


def _sensor_u_c(known: Known, kiln: int, s: int) -> float:
    celsius = np.maximum(known.now.level[kiln, s : s + 1], 0.0)
    return float(standard_uncertainty_c(known.setup.letters[kiln][s] or None, celsius)[0])


def _when(at: float, hours: FloatArray) -> When:
    early, likely, late = (None if np.isnan(h) else round(at + h * 3600.0, 1) for h in hours.tolist())
    return When(early, likely, late)


def _evenness(known: Known, kiln: int) -> Evenness | None:
    """Return how far the chamber is apart, None with fewer than two sensors there that can be trusted."""
    level = np.where(known.setup.chamber[kiln] & ~known.doubtful[kiln], known.now.level[kiln], np.nan)
    if np.isfinite(level).sum() < 2:
        return None
    hot, cold = int(np.nanargmax(level)), int(np.nanargmin(level))
    unsure_c = 2.0 * float(np.hypot(_sensor_u_c(known, kiln, hot), _sensor_u_c(known, kiln, cold)))
    ids = known.setup.ids[kiln]
    return Evenness(ids[hot], ids[cold], round(float(level[hot] - level[cold]), 1), round(unsure_c, 1))


def _points(known: Known, kiln: int, course: Paths | None) -> tuple[PointOutlook, ...]:
    """Return the plan's points that the guide has still to climb to, and the ends of holds behind them.

    A hold is reached within `AT_HOLD_C` of it; it ends as long after as planned, at this pace.
    """
    setup, now = known.setup, known.now
    if course is None:
        return ()
    count = int(np.isfinite(setup.plan_h[kiln]).sum())
    hours, celsius = setup.plan_h[kiln, :count].tolist(), setup.plan_c[kiln, :count].tolist()
    here, lit = now.level[kiln, now.guiding.sensor[kiln]], float(now.guiding.lit[kiln])
    own_pace = float(pace(known.learned)[kiln])
    is_hold = [abs(after - before) <= AT_HOLD_C for before, after in pairwise(celsius)] + [False]
    told: list[PointOutlook] = []
    for p in (p for p in range(count) if celsius[p] > here):
        if p > 0 and is_hold[p - 1] and told:
            expected = _later(told[-1].expected, (hours[p] - hours[p - 1]) * 3600.0 / own_pace)
        else:
            expected = _when(now.now, hours_to_temperature(course, celsius[p] - AT_HOLD_C * is_hold[p]))
        told.append(PointOutlook(celsius[p], round(lit + hours[p] * 3600.0, 1), expected))
    return tuple(told)


def _later(when: When, by_s: float) -> When:
    early, likely, late = (None if t is None else round(t + by_s, 1) for t in (when.early, when.likely, when.late))
    return When(early, likely, late)
