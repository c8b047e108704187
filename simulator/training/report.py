"""A practice in numbers: what the person did, and what the kiln made of it by its own truth. Stored nowhere."""

from collections.abc import Sequence
from itertools import pairwise

from monitor.wire.practice import Report
from simulator.crew.deeds import STOKES, Deed
from simulator.spec.kiln_file import KilnSpec
from simulator.truth.falls import CHAMBER, true_falls
from simulator.truth.minutes import Minutes
from simulator.truth.spans import within
from simulator.truth.stalls import true_stalls
from simulator.truth.stokes import Door, TrueStoke, true_stokes


def stokes_of(deeds: Sequence[Deed], door: Door) -> list[TrueStoke]:
    """Return the stokes through one kind of door among `deeds`."""
    return [stoke for stoke in true_stokes(deeds) if stoke.door is door]


def wood_kg(deeds: Sequence[Deed]) -> float:
    """Return the wet wood that went in by `deeds`, kg, rounded as people say it."""
    return round(sum(deed.amount for deed in deeds if deed.kind in STOKES), 1)


def report_of(spec: KilnSpec, minutes: Minutes, deeds: Sequence[Deed], *, begin_h: float, lit: float) -> Report | None:
    """Return the report of a practice since `begin_h` up to the last of `minutes`; None before a whole minute of it.

    `minutes` and `deeds` are those of the firing, lit at epoch second `lit`: what began before the practice counts too.
    """
    own = minutes.hour > begin_h
    if not own.any():
        return None
    done = [deed for deed in deeds if deed.hour > begin_h]
    front = stokes_of(done, Door.FRONT)
    guide_c = minutes.junction_c[own, [s.id for s in spec.sensors].index(spec.guide)]
    chamber = {z.name: float(c) for z, c in zip(spec.zones, minutes.ware_c[-1], strict=True) if z.place in CHAMBER}
    warmest, coldest = max(chamber, key=chamber.__getitem__), min(chamber, key=chamber.__getitem__)
    return Report(
        begun=lit + 3600.0 * begin_h,
        ended=lit + 3600.0 * minutes.end_h,
        stokes=len(front),
        side_stokes=len(stokes_of(done, Door.SIDE)),
        wood_kg=wood_kg(done),
        mean_interval_min=_mean([60.0 * (b.hour - a.hour) for a, b in pairwise(front)]),
        agreed_interval_min=_mean([spec.stage_at(stoke.hour).interval_min for stoke in front[:-1]]),
        longest_gap_min=_longest_gap_min(deeds, begin_h=begin_h, end_h=minutes.end_h),
        falls=len(within(true_falls(spec, minutes), begin_h, minutes.end_h)),
        stalls=len(within(true_stalls(spec, minutes), begin_h, minutes.end_h)),
        lowest_c=round(float(guide_c.min()), 1),
        highest_c=round(float(guide_c.max()), 1),
        warmest=(warmest, round(chamber[warmest], 1)),
        coldest=(coldest, round(chamber[coldest], 1)),
    )


def _longest_gap_min(deeds: Sequence[Deed], *, begin_h: float, end_h: float) -> float:
    """Return the longest time without a front stoke up to `end_h`, from the stoke before the practice on."""
    hours = [stoke.hour for stoke in stokes_of(deeds, Door.FRONT)]
    before = [hour for hour in hours if hour <= begin_h]
    marks_h = [before[-1] if before else begin_h, *(hour for hour in hours if hour > begin_h)]
    return round(60.0 * max(b - a for a, b in pairwise([*marks_h, max(end_h, marks_h[-1])])), 1)


def _mean(minutes: list[float]) -> float | None:
    return round(sum(minutes) / len(minutes), 1) if minutes else None
