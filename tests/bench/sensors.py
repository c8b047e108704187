"""Try every probe fault in windows of a firing: `python tests/bench/sensors.py [--seeds 1 3] [--kilns demo]`.

Each window of a made-up firing is read by the simulated node once without a fault and once with each, judged by the
engine, and scored against the simulator's truth as section "Findings" of DEVELOPERS.md says: sensor and word must be
right, the onset from 10 min before the event to 10 min after its end. "fire" counts findings about the fire that come
only with the fault. Even seeds are for tuning, odd ones for the report.
"""

import argparse
import time
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, fields

import numpy as np
from detection.score import Span, match_spans

from monitor.columns import to_block
from monitor.engine.engine import Engine
from monitor.engine.setup import setup_from_sites
from monitor.engine.slots import SlotReducer, slot_end_of
from monitor.model import Finding, FindingKind, FindingState, Slots
from monitor.pipeline import conversions_of
from monitor.site_file import parse_site
from monitor.thermocouple.convert import convert_block
from simulator.firing import FINE_S, Firing, Trace
from simulator.node import Node
from simulator.probe.sensor_truth import true_sensor_faults
from simulator.script.probe_faults import FROM_THE_START, WHOLE_NODE
from simulator.script.probe_faults import ProbeFault as P
from simulator.script.scenarios import find_scenario
from simulator.script.spells import Spell
from simulator.site_text import site_text
from simulator.spec.kiln_file import KilnSpec, kiln_names, load_kiln
from simulator.spec.sensor_spec import ZIRCONIA

LIT = 1_764_000_000
BEGIN_H, LASTS_H = 3.5, 3.0
"""When in its window a fault begins, give or take, and for how long."""
MINUTE = 12
SIZES = {
    P.SOAKED: (0.05, 0.2), P.SWAPPED: (1.0, 2.0), P.GREEN_ROT: (2.0, 5.0), P.STEP: (-15.0, 20.0),
    P.HEAD_FLAME: (60.0, 90.0), P.COLD_OFF: (5.0, -4.0), P.SPIKES: (5.0, 2.0), P.HUM: (0.5, 1.0),
    P.CONVERTER_RESET: (10.0, 30.0),
}  # fmt: skip
WINDOWS_H = {"preheat": (0.0, 20.0), "climb": (-4.0, 8.0), "reduction": (-4.0, 8.0), "high-fire": (-4.0, 8.0)}
"""Hours of each window, from the begin of its stage."""


@dataclass
class Tally:
    """What came of one fault; `delays_min` from the event's begin to the announcement."""

    runs: int = 0
    met: int = 0
    missed: int = 0
    false: int = 0
    fire: int = 0
    delays_min: list[float] = field(default_factory=list)

    def row(self, name: str) -> str:
        """Return it as a line of the table."""
        count = 2 * self.met + self.missed + self.false
        f1 = f"{2 * self.met / count:6.2f}" if count else "     -"
        late = np.quantile(self.delays_min, [0.5, 0.9]) if self.delays_min else [np.nan] * 2
        counts = f"{self.runs:6}{self.met:6}{self.missed:8}{self.false:7}{self.fire:6}"
        return f"{name:16}{counts}{f1} {late[0]:8.1f}{late[1]:8.1f}"


@dataclass(frozen=True)
class Window:
    """Some hours of a firing of `spec`, as they truly were."""

    spec: KilnSpec
    stage: str
    seed: int
    trace: Trace


def main() -> None:
    """Print the table."""
    options = _options()
    begun = time.perf_counter()
    tallies: dict[str, Tally] = defaultdict(Tally)
    for kiln in options.kilns:
        for seed in options.seeds:
            for window in windows(load_kiln(kiln), seed):
                try_window(window, options.faults, tallies, wordy=options.wordy)
    print_tallies(tallies)
    print(f"kilns {', '.join(options.kilns)}; seeds {options.seeds}; {time.perf_counter() - begun:.0f} s")


def print_tallies(tallies: dict[str, Tally]) -> None:
    """Print all rows and their sum."""
    print(f"{'':16}{'runs':>6}{'met':>6}{'missed':>8}{'false':>7}{'fire':>6}{'F1':>6} delay min 50 %    90 %")
    total = Tally()
    for name, tally in sorted(tallies.items()):
        print(tally.row(name))
        for f in fields(Tally):
            setattr(total, f.name, getattr(total, f.name) + getattr(tally, f.name))
    print(total.row("all"))


def windows(spec: KilnSpec, seed: int) -> Iterator[Window]:
    """Yield the windows of one firing, worked out in one go."""
    firing = Firing(spec, find_scenario("steady"), seed=seed, lit=LIT)
    for stage, (begin, end) in WINDOWS_H.items():
        at_h = next((s.begin_h for s in spec.stages if s.name == stage), -np.inf)
        begin_s = max(_whole_steps(at_h + begin), firing.clock_s)
        steps = (_whole_steps(at_h + end) - begin_s) // FINE_S
        if steps * FINE_S < (BEGIN_H + LASTS_H + 1.0) * 3600.0:
            continue  # the kiln has no such stage, or an earlier window took most of it
        firing.hurry_to(begin_s)
        yield Window(spec, stage, seed, firing.run(steps))


def _whole_steps(hours: float) -> int:
    return round(max(hours, 0.0) * 3600.0 / FINE_S) * FINE_S


def try_window(window: Window, faults: Sequence[P], tallies: dict[str, Tally], *, wordy: bool = False) -> None:
    """Try each of `faults` in one window and count what comes of it."""
    rng = np.random.default_rng([window.seed, len(window.stage)])
    sound = judged(window, ())
    score(window, (), sound, tallies["none"], sound, wordy=wordy)
    for fault in faults:
        for size in SIZES.get(fault, (1.0,)):
            spell = _spell(window, fault, size, rng)
            if spell is not None:
                score(window, (spell,), judged(window, (spell,)), tallies[fault], sound, wordy=wordy)


def _spell(window: Window, fault: P, size: float, rng: np.random.Generator) -> Spell | None:
    """Return the fault at a sensor drawn from those that can have it, None where none can."""
    sensors = window.spec.sensors
    able = [s.id for s in sensors if s.type != ZIRCONIA and (fault is not P.GREEN_ROT or s.type == "K")]
    if fault is P.SWAPPED:
        able = [a.id for a, b in zip(sensors, sensors[round(size) :], strict=False) if ZIRCONIA not in (a.type, b.type)]
    sensor = None if fault in WHOLE_NODE else str(rng.choice(able)) if able else ""
    from_the_start = window.trace.clock_s[0] < MINUTE * FINE_S
    if sensor == "" or (fault in FROM_THE_START and not from_the_start):
        return None
    begin_h = window.trace.clock_s[0] / 3600.0 + BEGIN_H + rng.uniform(0.0, 1.0)
    if fault in FROM_THE_START:
        return Spell(fault, 0.0, 1000.0, size=size, sensor=sensor)
    return Spell(fault, begin_h, 1000.0 if fault is P.GREEN_ROT else LASTS_H, size=size, sensor=sensor)


def judged(window: Window, spells: tuple[Spell, ...]) -> list[Finding]:
    """Return what the engine finds."""
    site = parse_site(site_text(window.spec, "/dev/null", LIT, spells), "kiln.toml")
    node = Node(window.spec, spells, seed=window.seed, lit=LIT, boot="bench")
    block = to_block(list(node.scans(node.read(window.trace, 1))), site.sensor_index())
    temperatures = convert_block(block, conversions_of(site))
    reducer = SlotReducer(len(site.sensor))
    reducer.add(
        temperatures.time, temperatures.celsius, status=temperatures.status,
        emf_volts=np.fmax(block.emf_volts, block.oxygen_emf_volts), cold_c=block.cold_junction_c,
        key=np.zeros(len(block.time), np.int64),
    )  # fmt: skip
    for end in np.unique(slot_end_of(temperatures.time)).tolist():
        reducer.close(end, end + 0.5)
    return judge_slots(site, reducer.take())


def judge_slots(site: object, slots: Slots) -> list[Finding]:
    """Return what a fresh engine of `site` finds in `slots`."""
    return [finding for _, finding in Engine(setup_from_sites([site])).judge(slots)]  # type: ignore[list-item]


def score(
    window: Window, spells: tuple[Spell, ...], told: list[Finding], tally: Tally, sound: list[Finding], *, wordy: bool
) -> None:
    """Count what `told` is worth; `sound` is what is told without the fault."""
    trace = window.trace
    minutes = Trace(*(getattr(trace, f.name)[MINUTE - 1 :: MINUTE] for f in fields(Trace)))
    true = true_sensor_faults(window.spec, spells, minutes, clock_s=minutes.clock_s, lit=LIT)
    events = [Span(LIT + f.begin_h * 3600.0, LIT + f.end_h * 3600.0, label=f"{f.sensor} {f.fault}") for f in true]
    findings = list(_spans(told, LIT + float(trace.clock_s[-1])))
    match = match_spans("sensor", events, findings)
    met = {e: f.known for f, e in reversed(list(zip(findings, match.of_finding, strict=True))) if e is not None}
    tally.runs += 1
    tally.met += len(met)
    tally.missed += len(match.missed)
    tally.false += match.of_finding.count(None)
    tally.delays_min += [(known - events[e].begin) / 60.0 for e, known in met.items()]
    fire = [f for f in told if _is_of_fire(f) and not any(_alike(f, g) for g in sound)]
    tally.fire += len(fire)
    if wordy and (match.missed or None in match.of_finding or fire):
        _tell(window, spells, events, findings, fire)


def _tell(
    window: Window, spells: tuple[Spell, ...], events: list[Span], findings: list[Span], fire: list[Finding]
) -> None:
    what = " ".join(f"{s.what}({s.size:g}) {s.sensor}" for s in spells)
    print(f"{window.spec.name} {window.stage} seed {window.seed}: {what}")
    for name, spans in (("true", events), ("told", findings)):
        for span in spans:
            known = "" if np.isnan(span.known) else f" at {(span.known - LIT) / 3600:.2f}"
            print(f"    {name} {span.label} {(span.begin - LIT) / 3600:.2f} to {(span.end - LIT) / 3600:.2f}{known}")
    for f in fire:
        print(f"    fire {f.kind} {f.sensor} {(f.onset - LIT) / 3600:.2f}")


def _is_of_fire(f: Finding) -> bool:
    return f.kind in (FindingKind.FALL, FindingKind.STALL) and f.state is FindingState.BEGIN


def _alike(f: Finding, g: Finding) -> bool:
    return _is_of_fire(g) and f.kind is g.kind and abs(f.onset - g.onset) < 1200.0


def _spans(told: Sequence[Finding], end: float) -> Iterator[Span]:
    """Pair begins and ends; what is open at the end lasts until then."""
    open_: dict[str, Finding] = {}
    for f in told:
        label = f"{f.sensor} {f.fault}"
        if f.kind is FindingKind.SENSOR and f.state is FindingState.BEGIN:
            open_[label] = f
        elif f.kind is FindingKind.SENSOR and label in open_:
            begun = open_.pop(label)
            yield Span(begun.onset, max(begun.onset, f.onset), begun.time, label)
    for label, begun in open_.items():
        yield Span(begun.onset, end, begun.time, label)


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, nargs="+", default=[1, 3], metavar="N")
    parser.add_argument("--kilns", nargs="+", default=kiln_names(), choices=kiln_names(), metavar="NAME")
    parser.add_argument("--faults", type=P, nargs="+", default=list(P), metavar="FAULT")
    parser.add_argument("--wordy", action="store_true", help="tell every run that is not right")
    return parser.parse_args()


if __name__ == "__main__":
    main()
