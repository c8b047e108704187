"""Findings of one firing against its truth: tallies by kind and stage, and what was missed or false."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from making import Told
from score import Span, Tally, match_spans, overlap_s, pair_stokes

from monitor.model import FindingKind
from simulator.truth.reader import TruthFile

SPAN_KINDS = ("stall", "fall", "reduction", "rhythm", "sensor")
FRONT, SIDE = "stoke front", "stoke side"


@dataclass(frozen=True)
class Miss:
    """Something that went wrong: `what` is missed or false, `kind` of finding, when, and what was said of it."""

    what: str
    kind: str
    stage: str
    begin: float
    end: float
    label: str


@dataclass
class Verdict:
    """What one firing adds to the table: tallies by (kind, stage), hours by stage, and the misses."""

    tallies: dict[tuple[str, str], Tally] = field(default_factory=lambda: defaultdict(Tally))
    hours: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    misses: list[Miss] = field(default_factory=list)
    said: list[tuple[str, float, bool]] = field(default_factory=list)  # kind, confidence, was it right
    bounds: dict[str, Tally] = field(default_factory=dict)  # by kind, the definition in hindsight
    has_firebox: bool = False
    has_probe: bool = False


def judge(truth: TruthFile, told: Sequence[Told], in_hindsight: Mapping[str, Sequence[Span]]) -> Verdict:
    """Return what `told` is worth, beside what the definitions find `in_hindsight`."""
    zones = {z.name: z.place for z in truth.header.zones}
    verdict = Verdict(
        has_firebox=any(zones[s.zone] == "firebox" and s.type != "zirconia" for s in truth.header.sensors),
        has_probe=any(s.type == "zirconia" for s in truth.header.sensors),
    )
    for time in truth.minutes.time.tolist():
        verdict.hours[stage_at(truth, time)] += 1.0 / 60.0
    _judge_stokes(verdict, truth, told)
    for kind in SPAN_KINDS:
        _judge_spans(verdict, truth, kind, list(_spans(told, kind, truth.header.end)))
    for kind, spans in in_hindsight.items():
        match = match_spans(kind, _events(truth, kind), spans)
        missed = len(match.missed)
        false = sum(event is None for event in match.of_finding)
        verdict.bounds[kind] = Tally(met=len(_events(truth, kind)) - missed, missed=missed, false=false)
    return verdict


def stage_at(truth: TruthFile, time: float) -> str:
    """Return the name of the crew's stage at epoch second `time`."""
    hour = (time - truth.header.lit) / 3600.0
    begun = [s.name for s in truth.header.stages if s.begin_h <= hour]
    return begun[-1] if begun else truth.header.stages[0].name


def _judge_stokes(verdict: Verdict, truth: TruthFile, told: Sequence[Told]) -> None:
    """Front stokes first; a finding that meets a side stoke is not false."""
    found = [t for t in told if t.kind == "stoke" and t.door != "side"]
    front = [s.time for s in truth.stokes if s.door == "front"]
    side = [s.time for s in truth.stokes if s.door == "side"]
    pairs = pair_stokes(front, [t.onset for t in found])
    left = [t for j, t in enumerate(found) if j not in {j for _, j in pairs}]
    excused = {j for _, j in pair_stokes(side, [t.onset for t in left])}
    false = [t for j, t in enumerate(left) if j not in excused]
    wrong = {id(t) for t in false}
    verdict.said += [(FRONT, t.confidence, id(t) not in wrong) for t in found if t.confidence is not None]
    _count_stokes(verdict, truth, FRONT, true=front, pairs=[(i, found[j].time) for i, j in pairs], false=false)
    said_side = [t for t in told if t.kind == "stoke" and t.door == "side"]
    side_pairs = pair_stokes(side, [t.onset for t in said_side])
    wrong = [t for j, t in enumerate(said_side) if j not in {j for _, j in side_pairs}]
    _count_stokes(verdict, truth, SIDE, true=side, pairs=[(i, said_side[j].time) for i, j in side_pairs], false=wrong)


def _count_stokes(
    verdict: Verdict, truth: TruthFile, kind: str, *, true: list[float], pairs: list[tuple[int, float]],
    false: list[Told],
) -> None:  # fmt: skip
    known = dict(pairs)
    for i, time in enumerate(true):
        tally = verdict.tallies[kind, stage_at(truth, time)]
        if i in known:
            tally.met += 1
            tally.delays_s.append(known[i] - time)
        else:
            tally.missed += 1
            verdict.misses.append(Miss("missed", kind, stage_at(truth, time), time, time, ""))
    for t in false:
        verdict.tallies[kind, stage_at(truth, t.onset)].false += 1
        verdict.misses.append(Miss("false", kind, stage_at(truth, t.onset), t.onset, t.onset, t.text))


def _judge_spans(verdict: Verdict, truth: TruthFile, kind: str, findings: list[Span]) -> None:
    events = _events(truth, kind)
    match = match_spans(kind, events, findings)
    met: dict[int, float] = {}
    for finding, event in zip(findings, match.of_finding, strict=True):
        if finding.confidence is not None:
            verdict.said.append((kind, finding.confidence, event is not None))
        stage = stage_at(truth, finding.begin if event is None else events[event].begin)
        tally = verdict.tallies[kind, stage]
        if event is None:
            tally.false += 1
            verdict.misses.append(Miss("false", kind, stage, finding.begin, finding.end, finding.label))
        elif event in met:
            tally.duplicates += 1
        else:
            met[event] = finding.known
    for i, event in enumerate(events):
        stage = stage_at(truth, event.begin)
        tally = verdict.tallies[kind, stage]
        tally.true_s += event.end - event.begin
        tally.overlap_s += overlap_s([event], findings)
        if i in met:
            tally.met += 1
            tally.delays_s.append(met[i] - event.begin)
        else:
            tally.missed += 1
            verdict.misses.append(Miss("missed", kind, stage, event.begin, event.end, event.label))
    for finding in findings:
        verdict.tallies[kind, stage_at(truth, finding.begin)].found_s += finding.end - finding.begin


def _events(truth: TruthFile, kind: str) -> list[Span]:
    return [Span(s.begin, s.end, label=_label(s.sensor, s.fault)) for s in truth.of(FindingKind(kind))]


def _spans(told: Sequence[Told], kind: str, end: float) -> Iterator[Span]:
    """Pair begins and ends; what is open at the end lasts until then."""
    open_: dict[str, Told] = {}
    for t in told:
        if t.kind != kind:
            continue
        label = _label(t.sensor, t.fault)
        pair = label if kind == "sensor" else kind
        if t.state == "begin":
            open_[pair] = t
        elif pair in open_:
            begun = open_.pop(pair)
            yield _span(begun, max(t.onset, begun.onset))
    for begun in open_.values():
        yield _span(begun, end)


def _span(begun: Told, end: float) -> Span:
    label = _label(begun.sensor, begun.fault) if begun.kind == "sensor" else ""
    return Span(begun.onset, end, begun.time, label, begun.confidence)


def _label(sensor: str | None, fault: str | None) -> str:
    return "" if fault is None else f"{sensor} {fault}"
