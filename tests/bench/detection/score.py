"""Score findings against truth: which finding met which event, what was missed, what was false.

Stokes are paired one to one within 90 s, nearest pairs first. A span finding meets an event if its onset lies from
10 min before the event to some minutes after its end, or if it covers half of the event and is at most twice as long
plus 30 min. Times are epoch seconds.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

STOKE_WITHIN_S = 90.0
BEFORE_S = 600.0
AFTER_S = {"rhythm": 900.0, "sensor": 600.0}
AFTER_OTHERS_S = 300.0


class Span(NamedTuple):
    """An event or a finding from `begin` to `end`; `known` is when a finding was announced, `label` what it says.

    `confidence` is how sure a finding says it is.
    """

    begin: float
    end: float
    known: float = float("nan")
    label: str = ""
    confidence: float | None = None


@dataclass
class Tally:
    """Counts of one kind in one stage; `delays_s` from the event's begin to the announcement of its first finding."""

    met: int = 0
    missed: int = 0
    false: int = 0
    duplicates: int = 0
    delays_s: list[float] = field(default_factory=list)
    overlap_s: float = 0.0
    true_s: float = 0.0
    found_s: float = 0.0

    def add(self, other: "Tally") -> None:
        """Take up another tally."""
        for name in ("met", "missed", "false", "duplicates", "overlap_s", "true_s", "found_s"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        self.delays_s += other.delays_s

    @property
    def f1(self) -> float:
        """Harmonic mean of precision and recall, NaN where there was nothing to find and nothing found."""
        count = 2 * self.met + self.missed + self.false
        return 2 * self.met / count if count else float("nan")

    @property
    def time_f1(self) -> float:
        """The same of time covered, for spans."""
        both = self.true_s + self.found_s
        return 2 * self.overlap_s / both if both else float("nan")


def pair_stokes(true: Sequence[float], found: Sequence[float]) -> list[tuple[int, int]]:
    """Return pairs of positions (true, found) within `STOKE_WITHIN_S`, one to one, nearest first."""
    near = [
        (abs(t - f), i, j)
        for i, t in enumerate(true)
        for j, f in enumerate(found)
        if abs(t - f) <= STOKE_WITHIN_S
    ]  # fmt: skip
    pairs: list[tuple[int, int]] = []
    seen_true: set[int] = set()
    seen_found: set[int] = set()
    for _, i, j in sorted(near):
        if i not in seen_true and j not in seen_found:
            seen_true.add(i)
            seen_found.add(j)
            pairs.append((i, j))
    return pairs


def meets(kind: str, event: Span, finding: Span) -> bool:
    """Return whether `finding` meets `event`."""
    if event.begin - BEFORE_S <= finding.begin <= event.end + AFTER_S.get(kind, AFTER_OTHERS_S):
        return True
    shared = min(event.end, finding.end) - max(event.begin, finding.begin)
    length = event.end - event.begin
    return shared >= 0.5 * length and finding.end - finding.begin <= 2.0 * length + 1800.0


class Match(NamedTuple):
    """Positions: of the event each finding met, None where it is false; and of events that no finding met."""

    of_finding: list[int | None]
    missed: list[int]


def match_spans(kind: str, events: Sequence[Span], findings: Sequence[Span]) -> Match:
    """Match findings to events of one kind; events and findings of other labels (sensor and fault) never meet."""
    of_finding = [_event_of(kind, events, finding) for finding in findings]
    hit = set(of_finding)
    return Match(of_finding, [i for i in range(len(events)) if i not in hit])


def _event_of(kind: str, events: Sequence[Span], finding: Span) -> int | None:
    """Return the event that `finding` meets, of several the one whose begin is nearest to its onset."""
    met = [i for i, event in enumerate(events) if event.label == finding.label and meets(kind, event, finding)]
    return min(met, key=lambda i: abs(events[i].begin - finding.begin), default=None)


def overlap_s(events: Sequence[Span], findings: Sequence[Span]) -> float:
    """Return the seconds that lie in an event and in a finding; neither list overlaps itself."""
    return sum(
        max(min(e.end, f.end) - max(e.begin, f.begin), 0.0) for e in events for f in findings if e.label == f.label
    )
