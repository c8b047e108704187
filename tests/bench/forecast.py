"""Measure whether forecasts are right as often as they say: `python tests/bench/forecast.py [--seeds 1 3] [--jobs 2]`.

Simulated firings go through the engine with their own plan, with a plan a quarter too quick (the crew never keeps it),
and with none. Every half hour it is asked when the guide will be 25, 60, 150 and 300 degC hotter, and when the next
cone will fall at each sensor of the chamber. What came is read off the recording: the first moment at which the mean of
20 min around it is that hot, and the moment at which the heat work of one-minute means is that cone's
(monitor/heat_work). Intervals should hold four of five; "early" came before the interval, "late" after it. What had not
come when the crew closed up, and might still have, is left out. The reference is today's climb held on (a ruler on the
chart). Seeds with an even number are for tuning, odd ones for the report.
"""

import argparse
import gzip
import sys
import time
from collections import defaultdict
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, fields
from itertools import islice
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

sys.path.insert(0, str(Path(__file__).parent / "detection"))

from making import LIT, Firing, recording_of, site_of

from monitor.engine.engine import Engine
from monitor.engine.outlook import Wanted
from monitor.engine.setup import setup_from_sites
from monitor.heat_work.cones import CONES, cone_index
from monitor.heat_work.running import new_heat_work, take_up
from monitor.model import Finding, FloatArray, Outlook, Slots, Status, When
from monitor.pipeline import Pipeline
from monitor.site_file import CHAMBER_PLACES, Site, parse_site
from monitor.wire.recording import RecordingReader

SCENARIOS = (
    "steady", "quick-day", "long-haul", "bare-bones", "strong-draw", "measured-air", "sleepy-watch", "choked",
    "wet-wood", "missed-stokes", "damper-in", "rich-too-long", "unraked", "bad-night",
)  # fmt: skip
PLANS = ("own plan", "plan 25 % too quick", "no plan")
RISES_C = (25.0, 60.0, 150.0, 300.0)
CONE = "next cone"
STEP_SLOTS, MEAN_SLOTS, WORK_SLOTS = 360, 240, 12
WARM_UP_H = 4.0


@dataclass
class Tally:
    """How one kind of forecast did: shares, widths in hours, and absolute errors of middle and of ruler in hours."""

    early: int = 0
    late: int = 0
    inside: int = 0
    widths_h: list[float] = field(default_factory=list)
    errors_h: list[float] = field(default_factory=list)
    ruler_h: list[float] = field(default_factory=list)

    def add(self, other: "Tally") -> None:
        """Take in another tally."""
        for f in fields(Tally):
            setattr(self, f.name, getattr(self, f.name) + getattr(other, f.name))


Tallies = dict[tuple[str, str], Tally]


class _Collector:
    """Stands where the engine is and keeps the slots."""

    def __init__(self) -> None:
        self.slots: list[Slots] = []

    def judge(self, slots: Slots) -> list[tuple[int, Finding]]:
        """Keep them and find nothing."""
        self.slots.append(slots)
        return []

    def note_opened(self, at: float, door: str) -> None:
        """A door is of no matter here."""

    note_stoke = note_opened

    def close_up(self, at: float) -> None:
        """What comes after the last stoke is not asked for."""

    def fire_on(self) -> None:
        """Nor is it taken back."""


def main() -> None:
    """Simulate, ask, compare, print."""
    parser = argparse.ArgumentParser(description="Measure whether forecasts are right as often as they say.")
    parser.add_argument("--seeds", type=int, nargs="+", default=[1, 3], metavar="N")
    parser.add_argument("--scenarios", nargs="+", default=list(SCENARIOS), metavar="NAME")
    parser.add_argument("--jobs", type=int, default=2, metavar="N")
    parser.add_argument("--keep", type=Path, metavar="FOLDER", help="keep what was read there and use what is there")
    options = parser.parse_args()
    begun = time.perf_counter()
    total: Tallies = defaultdict(Tally)
    with TemporaryDirectory() as scratch:
        folder = options.keep or Path(scratch)
        folder.mkdir(parents=True, exist_ok=True)
        firings = [Firing(scenario, seed) for seed in options.seeds for scenario in options.scenarios]
        with ProcessPoolExecutor(options.jobs) as pool:
            for part in pool.map(_score, firings, [folder] * len(firings)):
                for key, tally in part.items():
                    total[key].add(tally)
    _print(total)
    print(f"{len(firings)} firings, seeds {options.seeds}; {time.perf_counter() - begun:.0f} s")


def _score(firing: Firing, folder: Path) -> Tallies:
    text, slots = _slots_of(firing, folder)
    sites = [_with_plan(text, plan) for plan in PLANS]
    engine = Engine(setup_from_sites(sites))
    truth = _Truth(sites[0], slots)
    tallies: Tallies = defaultdict(Tally)
    for begin in range(0, len(slots.end), STEP_SLOTS):
        engine.judge(_three(slots, begin, begin + STEP_SLOTS))
        now = float(slots.end[min(begin + STEP_SLOTS, len(slots.end)) - 1])
        if LIT + WARM_UP_H * 3600.0 < now < truth.last_stoke:
            for kiln, plan in enumerate(PLANS):
                _ask(engine, kiln, plan, now, truth, tallies)
    return dict(tallies)


def _ask(engine: Engine, kiln: int, plan: str, now: float, truth: "_Truth", tallies: Tallies) -> None:
    climb = {c.sensor: c.climb_c_per_h for c in engine.climbs(kiln)}
    for number, rise_c in enumerate(RISES_C):
        here = truth.guide_c(now)
        outlook = engine.outlook(Wanted(celsius=here + rise_c), kiln)
        if outlook is None or np.isnan(here):
            return
        guide = next(s for s in outlook.sensors if s.sensor == truth.guide)
        came = truth.guide_at(now, here + rise_c)
        rate = climb[truth.guide] or 0.0
        ruler = rise_c / rate * 3600.0 + now if rate > 0.0 else np.inf
        if guide.wanted_at is not None:
            _count(
                tallies[plan, f"+{rise_c:.0f} degC"],
                guide.wanted_at,
                (now, came, truth.last_stoke, outlook.reach_h),
                ruler,
            )
        if number == 0:
            _ask_cones(outlook, plan, now, truth, tallies)


def _ask_cones(outlook: Outlook, plan: str, now: float, truth: "_Truth", tallies: Tallies) -> None:
    for sensor in outlook.sensors:
        if sensor.next_cone is None or sensor.next_at is None or sensor.next_at.likely is None or sensor.doubtful:
            continue
        came = truth.cone_at(sensor.sensor, sensor.next_cone)
        if sensor.next_at.likely - now < 12 * 3600.0:
            _count(tallies[plan, CONE], sensor.next_at, (now, came, truth.last_stoke, outlook.reach_h), np.nan)


def _count(tally: Tally, when: When, times: tuple[float, float, float, float], ruler: float) -> None:
    now, came, last_stoke, reach_h = times
    early = np.inf if when.early is None else when.early
    late = np.inf if when.late is None else when.late
    if came > last_stoke and late > last_stoke:
        return
    if came > now + reach_h * 3600.0:
        came = np.inf
    tally.early += came < early
    tally.late += came > late
    tally.inside += early <= came <= late
    if when.likely is not None and np.isfinite(came):
        tally.errors_h.append(abs(came - when.likely) / 3600.0)
        tally.widths_h.append((late - early) / 3600.0)
        tally.ruler_h.append(abs(came - min(ruler, now + 72 * 3600.0)) / 3600.0)


class _Truth:
    """What came, read off the recording: temperatures over 20 min, heat work over one."""

    def __init__(self, site: Site, slots: Slots) -> None:
        self.guide = site.guide or ""
        self._ids = [s.id for s in site.sensor]
        celsius = np.where(slots.status == Status.OK, slots.mean_c, np.nan)[:, 0]
        self._end, self._mean = slots.end, _centred(celsius[:, self._ids.index(self.guide)])
        minutes = celsius[: len(celsius) // WORK_SLOTS * WORK_SLOTS].reshape(-1, WORK_SLOTS, len(self._ids))
        known = np.isfinite(minutes)
        mean = np.where(known, minutes, 0.0).sum(axis=1) / np.where(known.any(axis=1), known.sum(axis=1), np.nan)
        work, self._work_at = new_heat_work((1, len(self._ids))), slots.end[WORK_SLOTS // 2 - 1 :: WORK_SLOTS]
        self._work = np.zeros((*mean.shape, len(CONES)))
        for n, at in enumerate(self._work_at[: len(mean)].tolist()):
            take_up(work, at, mean[n][None])
            self._work[n] = work.work[0]
        assert site.plan is not None
        self.last_stoke = LIT + site.plan.points[-1][0] * 3600.0
        self.chamber = [s.id for s in site.sensor if s.place in CHAMBER_PLACES]

    def guide_c(self, now: float) -> float:
        """Return the guide's mean around `now`."""
        return float(self._mean[np.searchsorted(self._end, now)])

    def guide_at(self, now: float, celsius: float) -> float:
        """Return when the guide's mean first was at `celsius` after `now`, infinite where never."""
        first = int(np.searchsorted(self._end, now))
        there = np.flatnonzero(self._mean[first:] >= celsius)
        return float(self._end[first + there[0]]) if len(there) else np.inf

    def cone_at(self, sensor: str, cone: str) -> float:
        """Return when the heat work at `sensor` was that of `cone`, infinite where never."""
        work = self._work[:, self._ids.index(sensor), cone_index(cone)]
        there = np.flatnonzero(work >= 1.0)
        return float(self._work_at[there[0]]) if len(there) else np.inf


def _centred(celsius: FloatArray) -> FloatArray:
    kernel = np.ones(MEAN_SLOTS)
    known = np.isfinite(celsius)
    total = np.convolve(np.where(known, celsius, 0.0), kernel, mode="same")
    count = np.convolve(known.astype(np.float64), kernel, mode="same")
    return np.where(count >= MEAN_SLOTS // 2, total / np.maximum(count, 1.0), np.nan)


def _slots_of(firing: Firing, folder: Path) -> tuple[str, Slots]:
    kept = folder / f"{firing.name}.npz"
    if kept.exists():
        data = np.load(kept)
        return str(data["site"]), Slots(*(data[f.name] for f in fields(Slots)))
    recording, text = recording_of(firing, folder), site_of(firing)
    pipeline, collector = Pipeline(parse_site(text, firing.name), None, guard_clock=False), _Collector()
    vars(pipeline)["_engine"] = collector
    reader = RecordingReader()
    with gzip.open(recording, "rb") as lines:
        events = reader.events(lines)
        while batch := list(islice(events, 4000)):
            pipeline.feed(batch)
    recording.unlink()
    columns = [np.concatenate([getattr(s, f.name) for s in collector.slots]) for f in fields(Slots)]
    np.savez(kept, site=text, **dict(zip((f.name for f in fields(Slots)), columns, strict=True)))
    return text, Slots(*columns)


def _with_plan(text: str, plan: str) -> Site:
    site = parse_site(text, plan)
    assert site.plan is not None
    if plan == PLANS[0]:
        return site
    if plan == PLANS[2]:
        return site.model_copy(update={"plan": None})
    quick = tuple((hours * 0.8, celsius) for hours, celsius in site.plan.points)
    return site.model_copy(update={"plan": site.plan.model_copy(update={"points": quick})})


def _three(slots: Slots, begin: int, end: int) -> Slots:
    """Return a part of the slots as those of one kiln for each plan."""
    columns = [getattr(slots, f.name)[begin:end] for f in fields(Slots)]
    return Slots(*(c if c.ndim == 1 else np.repeat(c, len(PLANS), axis=1) for c in columns))


def _print(total: Tallies) -> None:
    names = ("forecasts", "inside", "early", "late", "width h", "error h", "ruler h")
    print(f"{'':24}{'':12}" + "".join(f"{name:>10}" for name in names))
    for plan, kind in sorted(total, key=lambda k: (PLANS.index(k[0]), k[1] == CONE, len(k[1]), k[1])):
        print(f"{plan:24}{kind:12}" + "".join(_columns(total[plan, kind])))


def _columns(tally: Tally) -> Iterator[str]:
    n = max(tally.early + tally.late + tally.inside, 1)
    yield f"{n:>10}"
    for share in (tally.inside, tally.early, tally.late):
        yield f"{share / n:>10.3f}"
    for hours in (tally.widths_h, tally.errors_h, tally.ruler_h):
        yield f"{np.median(hours) if hours else np.nan:>10.2f}"


if __name__ == "__main__":
    main()
