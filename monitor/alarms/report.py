"""How much the alarms asked of people: what sounded, by hour, by priority and by watch (ANSI/ISA-18.2, EEMUA 191).

What counts is what begins to sound: a new alarm, one that grew worse, came back or was reminded of. The aims are those
of EEMUA 191 as the British HSE's information sheet 6 tells them: one alarm in ten minutes, and no more than ten in the
first ten minutes of an upset.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

from monitor.alarms.advance import SOUNDS_AGAIN
from monitor.model import Alarm

HOUR_S = 3600.0
UPSET_S = 600.0
MOST_FREQUENT = 10


class Change(Protocol):
    """A line of the alarm journal, as far as the report reads it."""

    @property
    def change(self) -> str:
        """The word of `monitor.alarms.state.Reason`."""

    @property
    def time(self) -> float:
        """Epoch seconds."""

    @property
    def alarm(self) -> Alarm:
        """The alarm after it."""


@dataclass(frozen=True, slots=True)
class Load:
    """What sounded between epoch seconds `begun` and `ended`.

    `per_hour_most` and `in_10_min_most` are the most in any hour and in any ten minutes, wherever they begin.
    """

    begun: float
    ended: float
    alarms: int
    per_hour_most: int
    in_10_min_most: int


@dataclass(frozen=True, slots=True)
class Report:
    """The load of a whole firing and of each watch.

    `share` is the number by priority; `most_frequent` holds (row id, number), most first.
    """

    whole: Load
    share: dict[int, int]
    most_frequent: tuple[tuple[str, int], ...]
    watches: tuple[Load, ...]


def report_of(changes: Iterable[Change], begun: float, ended: float, watch_changes: Sequence[float]) -> Report:
    """Return the report of a firing; `watch_changes` are the epoch seconds at which the watch changed, rising."""
    sounded = sorted((c for c in changes if c.change in SOUNDS_AGAIN), key=lambda c: c.time)
    times = [c.time for c in sounded]
    edges = [begun, *(t for t in watch_changes if begun < t < ended), ended]
    rows = Counter(c.alarm.row for c in sounded)
    return Report(
        whole=_load(times, begun, ended),
        share={priority: sum(c.alarm.priority == priority for c in sounded) for priority in (1, 2, 3)},
        most_frequent=tuple(sorted(rows.items(), key=lambda row: (-row[1], row[0]))[:MOST_FREQUENT]),
        watches=tuple(_load(times, a, b) for a, b in pairwise(edges)),
    )


def _load(times: Sequence[float], begun: float, ended: float) -> Load:
    mine = [t for t in times if begun <= t <= ended]
    return Load(begun, ended, len(mine), most_within(mine, HOUR_S), most_within(mine, UPSET_S))


def most_within(times: Sequence[float], span_s: float) -> int:
    """Return the most of `times` (rising) in any span of `span_s`, its end left out."""
    first, most = 0, 0
    for last, time in enumerate(times):
        while time - times[first] >= span_s:
            first += 1
        most = max(most, last - first + 1)
    return most
