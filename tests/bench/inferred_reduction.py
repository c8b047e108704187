"""Fit and measure inferred reduction: `python tests/bench/inferred_reduction.py [--seeds 2] [--keep FOLDER]`.

Simulated firings go through the engine without their oxygen probe, each four times: as recorded, and with thicker
sheaths at firebox, front and flue (a first-order lag), since what a stoke shows comes later through a thick one. A look
is labelled by whether the kiln reduced, by definition, in the middle of the intervals that it sees. The logistic model
is fitted to all looks of all kilns, every kiln weighing the same, and with each set of places left out as where a site
has no such sensor; printed are its weights (`INFERRED_...` in monitor/engine/limits.py), then for every kiln the area
under the curve there of a model that was fitted without it, and of the one in use. Last, what was told, by the
confidence that was said. Seeds with an even number are for tuning, odd ones for the report.
"""

import argparse
import gzip
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, fields
from itertools import islice, pairwise, product
from pathlib import Path
from tempfile import TemporaryDirectory
from unittest.mock import patch

import numpy as np

sys.path.insert(0, str(Path(__file__).parent / "detection"))

from making import Firing, recording_of, site_of
from score import Span, match_spans

import monitor.engine.engine as engine_file
from monitor.engine.engine import Engine
from monitor.engine.inferred import PLACES, Fire, Hint, Inferred, chance_of, judge_inferred
from monitor.engine.limits import BEAT_S
from monitor.engine.setup import BoolArray, EngineSetup, setup_from_sites
from monitor.engine.stoke_swing import newest_intervals
from monitor.model import SLOT_S, Finding, FindingKind, FindingState, FloatArray, Slots
from monitor.pipeline import Pipeline
from monitor.site_file import Site, parse_site
from monitor.wire.recording import RecordingReader
from simulator.truth.reader import TruthFile, read_truth

SCENARIOS = (
    "steady", "quick-day", "long-haul", "strong-draw", "measured-air", "no-reduction", "sleepy-watch", "choked",
    "wet-wood", "unraked", "rich-too-long", "hurried-watch", "damper-in", "door-ajar", "heaped-sides", "shut-inlets",
)  # fmt: skip
LAGS_S = ((0.0, 0.0, 0.0), (45.0, 45.0, 45.0), (0.0, 0.0, 60.0), (90.0, 60.0, 60.0))
"""Sheaths tried: by how many seconds firebox, front and flue lag more than recorded."""
SETS = [places for places in product((True, False), repeat=len(PLACES)) if any(places)]
"""Which places a site may have."""
RIDGE = 1e-3
CONFIDENCES = (0.7, 0.8, 0.9, 1.01)


@dataclass
class Seen:
    """What one firing showed, per sheath: swings (n, places), whether it reduced (n,), and what was told and right."""

    kiln: str
    swings: list[list[FloatArray]] = field(default_factory=lambda: [[] for _ in LAGS_S])
    reduces: list[list[bool]] = field(default_factory=lambda: [[] for _ in LAGS_S])
    said: list[tuple[int, float, bool]] = field(default_factory=list)
    met: list[int] = field(default_factory=list)
    delays_s: list[float] = field(default_factory=list)
    events: int = 0
    days: float = 0.0


def main() -> None:
    """Simulate, look, fit, print."""
    parser = argparse.ArgumentParser(description="Fit and measure inferred reduction.")
    parser.add_argument("--seeds", type=int, nargs="+", default=[2], metavar="N")
    parser.add_argument("--scenarios", nargs="+", default=list(SCENARIOS), metavar="NAME")
    parser.add_argument("--jobs", type=int, default=2, metavar="N")
    parser.add_argument("--keep", type=Path, metavar="FOLDER", help="keep what was read there and use what is there")
    options = parser.parse_args()
    begun = time.perf_counter()
    with TemporaryDirectory() as scratch:
        folder = options.keep or Path(scratch)
        folder.mkdir(parents=True, exist_ok=True)
        firings = [Firing(scenario, seed) for seed in options.seeds for scenario in options.scenarios]
        with ProcessPoolExecutor(options.jobs) as pool:
            seen = list(pool.map(_see, firings, [folder] * len(firings)))
    _print_model(seen)
    _print_told(seen)
    print(f"{len(firings)} firings, seeds {options.seeds}; {time.perf_counter() - begun:.0f} s")


class _Sheaths:
    """Stands where the engine is: judges every slot once for each of the sheaths, without the oxygen probe's."""

    def __init__(self, site: Site) -> None:
        self._engine = Engine(setup_from_sites([site] * len(LAGS_S)))
        places = [PLACES.index(s.place) if s.place in PLACES else -1 for s in site.sensor]
        lags = np.array([[lags[place] if place >= 0 else 0.0 for place in places] for lags in LAGS_S])
        self._share = np.where(lags > 0.0, 1.0 - np.exp(-SLOT_S / np.maximum(lags, 1e-9)), 1.0)
        self._probe = np.array([s.type == "zirconia" for s in site.sensor])
        self._behind = np.full(lags.shape, np.nan)
        self.told: list[tuple[int, Finding]] = []

    def judge(self, slots: Slots) -> list[tuple[int, Finding]]:
        """Judge them and keep what is told."""
        columns = {f.name: getattr(slots, f.name) for f in fields(Slots)}
        columns = {name: c if c.ndim == 1 else np.repeat(c, len(LAGS_S), axis=1) for name, c in columns.items()}
        for mean in columns["mean_c"]:
            known = np.isfinite(mean)
            follows = self._behind + self._share * (mean - self._behind)
            self._behind = np.where(known, np.where(np.isnan(self._behind), mean, follows), self._behind)
            mean[known] = self._behind[known]
        columns["mean_c"][:, :, self._probe] = np.nan
        self.told += self._engine.judge(Slots(**columns))
        return []

    def close_up(self, at: float) -> None:
        """Close all of them up."""
        for kiln in range(len(LAGS_S)):
            self._engine.close_up(at, kiln)

    def fire_on(self) -> None:
        """Fire all of them on."""
        for kiln in range(len(LAGS_S)):
            self._engine.fire_on(kiln)

    def note_stoke(self, at: float, door: str) -> None:
        """What people tell is no part of this."""

    note_opened = note_stoke


def _see(firing: Firing, folder: Path) -> Seen:
    recording, site = recording_of(firing, folder), parse_site(site_of(firing), firing.name)
    truth = read_truth(folder / f"{firing.name}.truth.jsonl")
    seen = Seen(truth.header.kiln, days=(truth.header.end - truth.header.begin) / 86400.0)
    spans = [Span(s.begin, s.end) for s in truth.of(FindingKind.REDUCTION)]

    def look(inferred: Inferred, setup: EngineSetup, fire: Fire, closed: BoolArray) -> Hint | None:
        hint = judge_inferred(inferred, setup, fire, closed)
        if hint is None:
            return None
        middle = newest_intervals(fire.onsets, float(fire.beats.beat[0] * BEAT_S)).middle
        for kiln in np.flatnonzero(np.isfinite(chance_of(hint.swings)) & ~closed).tolist():
            seen.swings[kiln].append(hint.swings[kiln])
            seen.reduces[kiln].append(any(s.begin <= middle[kiln] < s.end for s in spans))
        return hint

    sheaths, pipeline = _Sheaths(site), Pipeline(site, None, guard_clock=False)
    vars(pipeline)["_engine"] = sheaths
    with patch.object(engine_file, "judge_inferred", look), gzip.open(recording, "rb") as lines:
        events = RecordingReader().events(lines)
        while batch := list(islice(events, 4000)):
            pipeline.feed(batch)
    _judge_told(seen, truth, spans, sheaths.told)
    return seen


def _judge_told(seen: Seen, truth: TruthFile, spans: list[Span], told: list[tuple[int, Finding]]) -> None:
    seen.events = len(spans)
    for kiln in range(len(LAGS_S)):
        own = [f for k, f in told if k == kiln and f.kind is FindingKind.REDUCTION]
        ends = [f.onset for f in own if f.state is FindingState.END] + [truth.header.end]
        begins = [f for f in own if f.state is FindingState.BEGIN]
        found = [Span(b.onset, e, b.time, confidence=b.confidence) for b, e in zip(begins, ends, strict=False)]
        match = match_spans("reduction", spans, found)
        seen.said += [(kiln, f.confidence, e is not None) for f, e in zip(found, match.of_finding, strict=True)]
        seen.met.append(len(spans) - len(match.missed))
        firsts = {e: f for f, e in reversed(list(zip(found, match.of_finding, strict=True))) if e is not None}
        seen.delays_s += [f.known - spans[e].begin for e, f in firsts.items()] if kiln == 0 else []


def _rows(seen: list[Seen], sets: list[tuple[bool, ...]]) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the model's columns, whether each look reduced, and its weight: every kiln weighs the same."""
    columns, reduces, kilns = [], [], []
    for one, places in product(seen, sets):
        for swings, true in zip(one.swings, one.reduces, strict=True):
            if swings:
                known = np.isfinite(np.array(swings)) & np.array(places)
                columns.append(
                    np.concatenate([known, np.where(known, np.array(swings), 0.0)], axis=1)[known.any(axis=1)]
                )
                reduces.append(np.array(true)[known.any(axis=1)])
                kilns += [one.kiln] * int(known.any(axis=1).sum())
    names, number, count = np.unique(kilns, return_inverse=True, return_counts=True)
    weight = len(kilns) / len(names) / count[number]
    design = np.concatenate(columns)
    return np.column_stack([np.ones(len(design)), design]), np.concatenate(reduces).astype(np.float64), weight


def _fit(seen: list[Seen]) -> FloatArray:
    """Return bias, what each place adds, and what a unit of its swing adds: Newton's way to the most likely."""
    x, y, weight = _rows(seen, SETS)
    found = np.zeros(x.shape[1])
    ridge = np.full(len(found), RIDGE * len(y))
    ridge[0] = 0.0
    for _ in range(30):
        chance = 1.0 / (1.0 + np.exp(-x @ found))
        slope = x.T @ (weight * (y - chance)) - ridge * found
        bend = (x * (weight * chance * (1.0 - chance))[:, None]).T @ x + np.diag(ridge)
        found += np.linalg.solve(bend, slope)
    return found


def area(score: FloatArray, true: FloatArray) -> float:
    """Return the area under the curve: how often a look that reduced scores above one that did not."""
    ranks = np.searchsorted(np.sort(score), score, side="left") + np.searchsorted(np.sort(score), score, side="right")
    positive = int(true.sum())
    negative = len(true) - positive
    if not positive or not negative:
        return float("nan")
    return float(((ranks[true > 0].sum() + positive) / 2.0 - positive * (positive + 1) / 2.0) / (positive * negative))


def _print_model(seen: list[Seen]) -> None:
    kilns = sorted({one.kiln for one in seen if any(one.swings)})
    print("bias, of each place, per swing:", np.round(_fit(seen), 2))
    names = ["+".join(p.value for p, used in zip(PLACES, places, strict=True) if used) for places in SETS]
    print(f"\n{'area under the curve':24}" + "".join(f"{name:>22}" for name in names) + f"{'in use, all':>14}")
    for kiln in kilns:
        others, own = [s for s in seen if s.kiln != kiln], [s for s in seen if s.kiln == kiln]
        model = _fit(others) if len(kilns) > 1 else _fit(own)
        areas = []
        for places in SETS:
            x, y, _ = _rows(own, [places])
            areas.append(area(x @ model, y))
        swings = np.concatenate([np.array(s) for one in own for s in one.swings if s])
        true = np.concatenate([np.array(r) for one in own for r in one.reduces if r]).astype(np.float64)
        print(f"{kiln:24}" + "".join(f"{a:>22.3f}" for a in areas) + f"{area(chance_of(swings), true):>14.3f}")


def _print_told(seen: list[Seen]) -> None:
    events, days = sum(s.events for s in seen), sum(s.days for s in seen)
    print(f"\n{'sheaths, s more':24}{'events':>8}{'met':>6}{'told':>6}{'false':>7}{'a day':>7}")
    for kiln, lags in enumerate(LAGS_S):
        told = [is_right for s in seen for k, _, is_right in s.said if k == kiln]
        false = len(told) - sum(told)
        met = sum(s.met[kiln] for s in seen)
        print(f"{lags!s:24}{events:>8}{met:>6}{len(told):>6}{false:>7}{false / days:>7.2f}")
    delays = np.array([d for s in seen for d in s.delays_s]) / 60.0
    if len(delays):
        print("delay as recorded, 25/50/75 %:", np.round(np.quantile(delays, [0.25, 0.5, 0.75]), 1), "min")
    head = ("confidence", "as recorded: told", "said, right", "all sheaths: told", "said, right")
    print("\n" + "".join(f"{name:>20}" for name in head))
    for low, high in pairwise(CONFIDENCES):
        row = f"{f'{low:.0%} to {min(high, 1.0):.0%}':>20}"
        for sheaths in (1, len(LAGS_S)):
            some = [(sure, right) for s in seen for k, sure, right in s.said if k < sheaths and low <= sure < high]
            said, right = np.mean(some, axis=0) if some else (np.nan, np.nan)
            row += f"{len(some):>20}{f'{said:.0%}, {right:.0%}':>20}"
        print(row)


if __name__ == "__main__":
    main()
