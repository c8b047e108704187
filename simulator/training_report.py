"""A practice in numbers: what the person did, and what the kiln made of it by its own truth. Stored nowhere."""

from dataclasses import dataclass, field

import numpy as np

from monitor.wire.practice import Report
from simulator.kiln_file import KilnSpec
from simulator.truth_falls import CHAMBER, true_falls
from simulator.truth_minutes import Minutes
from simulator.truth_spans import within
from simulator.truth_stalls import true_stalls


@dataclass(frozen=True, slots=True)
class Stoke:
    """A front stoke at `hour` from lighting, and the minutes between stokes that were agreed then."""

    hour: float
    agreed_min: float


@dataclass(slots=True)
class Log:
    """What a person did since `begin_h`, hours from lighting; the stoke before that was at `before_h`."""

    begin_h: float
    before_h: float | None
    stokes: list[Stoke] = field(default_factory=list)
    side_stokes: int = 0
    wood_kg: float = 0.0


def report_of(spec: KilnSpec, log: Log, minutes: Minutes, *, lit: float) -> Report | None:
    """Return the report up to the last of `minutes`, None while the practice has not a whole minute.

    `minutes` are those of the firing, lit at epoch second `lit`, so that what began before the practice is known.
    """
    own = minutes.hour > log.begin_h
    if not own.any():
        return None
    end_h = minutes.end_h
    guide_c = minutes.junction_c[own, [s.id for s in spec.sensors].index(spec.guide)]
    chamber = {z.name: float(c) for z, c in zip(spec.zones, minutes.ware_c[-1], strict=True) if z.place in CHAMBER}
    warmest, coldest = max(chamber, key=chamber.__getitem__), min(chamber, key=chamber.__getitem__)
    return Report(
        begun=lit + 3600.0 * log.begin_h,
        ended=lit + 3600.0 * end_h,
        stokes=len(log.stokes),
        side_stokes=log.side_stokes,
        wood_kg=round(log.wood_kg, 1),
        mean_interval_min=_mean([60.0 * (b.hour - a.hour) for a, b in zip(log.stokes, log.stokes[1:], strict=False)]),
        agreed_interval_min=_mean([stoke.agreed_min for stoke in log.stokes[:-1]]),
        longest_gap_min=_longest_gap_min(log, end_h),
        falls=len(within(true_falls(spec, minutes), log.begin_h, end_h)),
        stalls=len(within(true_stalls(spec, minutes), log.begin_h, end_h)),
        lowest_c=round(float(guide_c.min()), 1),
        highest_c=round(float(guide_c.max()), 1),
        warmest=(warmest, round(chamber[warmest], 1)),
        coldest=(coldest, round(chamber[coldest], 1)),
    )


def _longest_gap_min(log: Log, end_h: float) -> float:
    """Return the longest time without a front stoke, from the stoke before the practice up to `end_h`."""
    first_h = log.begin_h if log.before_h is None else log.before_h
    marks_h = [first_h, *(stoke.hour for stoke in log.stokes)]
    return round(60.0 * float(np.diff([*marks_h, max(end_h, marks_h[-1])]).max()), 1)


def _mean(minutes: list[float]) -> float | None:
    return round(sum(minutes) / len(minutes), 1) if minutes else None
