"""The scores as tables: by kind and stage, by kind and scenario, and against the aims."""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise

import numpy as np
from judging import FRONT, SIDE, SPAN_KINDS, Verdict
from making import Firing
from score import Tally

COLUMNS = (
    ("events", 7),
    ("met", 6),
    ("missed", 7),
    ("false", 6),
    ("a day", 7),
    ("twice", 6),
    ("F1", 6),
    ("time F1", 8),
)
HEAD = f"{'':34}" + "".join(f"{name:>{width}}" for name, width in COLUMNS) + "  delay 25/50/75 %"
CONFIDENCES = (0.0, 0.5, 0.7, 0.8, 0.9, 0.95, 1.01)
KINDS = (FRONT, SIDE, *SPAN_KINDS)
Verdicts = Mapping[Firing, Verdict]


def print_tables(verdicts: Verdicts) -> None:
    """Print all of them."""
    print("By kind and stage, all firings\n" + HEAD)
    for kind in KINDS:
        stages = sorted({stage for v in verdicts.values() for k, stage in v.tallies if k == kind})
        for stage in stages:
            _row(f"{kind}, {stage}", verdicts, kind, stages=(stage,))
        _row(f"{kind}, all", verdicts, kind)
    print("\nAgainst the aims\n" + HEAD)
    hot = ("climb", "reduction", "high-fire", "soak")
    with_firebox = {f: v for f, v in verdicts.items() if v.has_firebox}
    _row("stoke front, firebox, climb on", with_firebox, FRONT, stages=hot)
    for name, holds in (("reduction, with a probe", True), ("reduction, inferred", False)):
        _row(name, {f: v for f, v in verdicts.items() if v.has_probe is holds}, "reduction")
    for kind in ("stall", "fall"):
        _row(kind, verdicts, kind)
        _bound_row(f"{kind}, in hindsight, no noise", verdicts, kind)
    print("\nHow often right, by the confidence said")
    _by_confidence(verdicts)
    print("\nFalse or missed, by scenario")
    _by_scenario(verdicts)


def _row(name: str, verdicts: Verdicts, kind: str, stages: Sequence[str] | None = None) -> None:
    tally, hours = Tally(), 0.0
    for verdict in verdicts.values():
        for (k, stage), part in verdict.tallies.items():
            if k == kind and (stages is None or stage in stages):
                tally.add(part)
        hours += sum(h for stage, h in verdict.hours.items() if stages is None or stage in stages)
    events = tally.met + tally.missed
    if not events and not tally.false:
        return
    a_day = 24.0 * tally.false / hours if hours else float("nan")
    unit = 1.0 if kind in (FRONT, SIDE) else 60.0
    delay = (
        "/".join(f"{d:.1f}" for d in np.quantile(tally.delays_s, [0.25, 0.5, 0.75]) / unit) if tally.delays_s else ""
    )
    print(
        f"{name:34}{events:7}{tally.met:6}{tally.missed:7}{tally.false:6}{a_day:7.2f}{tally.duplicates:6}"
        f"{tally.f1:6.2f}{tally.time_f1:8.2f}  {delay} {'s' if unit == 1.0 else 'min'}"
    )


def _bound_row(name: str, verdicts: Verdicts, kind: str) -> None:
    tally = Tally()
    for verdict in verdicts.values():
        tally.add(verdict.bounds[kind])
    events, hours = tally.met + tally.missed, sum(sum(v.hours.values()) for v in verdicts.values())
    a_day = 24.0 * tally.false / hours if hours else float("nan")
    print(f"{name:34}{events:7}{tally.met:6}{tally.missed:7}{tally.false:6}{a_day:7.2f}{'':6}{tally.f1:6.2f}")


def _by_confidence(verdicts: Verdicts) -> None:
    said = [one for verdict in verdicts.values() for one in verdict.said]
    print(f"{'':24}{'findings':>9}{'said':>8}{'right':>8}")
    for kind in KINDS:
        for low, high in pairwise(CONFIDENCES):
            some = [(sure, right) for k, sure, right in said if k == kind and low <= sure < high]
            if some:
                mean, right = np.mean(some, axis=0)
                print(f"{f'{kind}, {low:.0%} to {min(high, 1.0):.0%}':24}{len(some):9}{mean:8.0%}{right:8.0%}")


def _by_scenario(verdicts: Verdicts) -> None:
    counts: dict[str, dict[str, list[int]]] = defaultdict(lambda: {kind: [0, 0] for kind in KINDS})
    for firing, verdict in verdicts.items():
        for (kind, _), tally in verdict.tallies.items():
            counts[firing.scenario][kind][0] += tally.missed
            counts[firing.scenario][kind][1] += tally.false
    cell: Callable[[list[int]], str] = lambda pair: f"{pair[0]}/{pair[1]}"  # noqa: E731
    print(f"{'missed/false':24}" + "".join(f"{kind:>14}" for kind in KINDS))
    for scenario, row in counts.items():
        print(f"{scenario:24}" + "".join(f"{cell(row[kind]):>14}" for kind in KINDS))
