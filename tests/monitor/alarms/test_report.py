"""How much was asked of people, against counts made by hand."""

from dataclasses import dataclass, replace

import pytest

from monitor.alarms.report import most_within, report_of
from monitor.model import Alarm

ALARM = Alarm("fall", "temperature-falling", 1, True, False, False, 0.0, None, None, None, None, None, None, "fell")


@dataclass(frozen=True)
class Line:
    """A line of the journal."""

    change: str
    time: float
    alarm: Alarm


@pytest.mark.parametrize(
    ("times", "span_s", "most"),
    [([], 600.0, 0), ([0.0], 600.0, 1), ([0.0, 599.0, 600.0], 600.0, 2), ([0.0, 300.0, 500.0, 900.0], 600.0, 3)],
)
def test_the_most_in_any_span_is_found_wherever_it_begins(times: list[float], span_s: float, most: int) -> None:
    """The end of a span is left out."""
    assert most_within(times, span_s) == most


def test_a_report_counts_what_began_to_sound() -> None:
    """By hour, priority, row and watch; what was seen, escalated or ended asks nothing new."""
    stall = replace(ALARM, key="stall", row="stall", priority=2)
    lines = [Line("began", 100.0, ALARM), Line("acknowledged", 110.0, ALARM), Line("began", 3000.0, stall)]
    lines += [Line("reminded", 3500.0, ALARM), Line("ended", 3600.0, ALARM), Line("worse", 9000.0, ALARM)]
    report = report_of(lines, 0.0, 10800.0, [7200.0])

    assert (report.whole.alarms, report.whole.per_hour_most, report.whole.in_10_min_most) == (4, 3, 2)
    assert report.share == {1: 3, 2: 1, 3: 0}
    assert report.most_frequent == (("temperature-falling", 3), ("stall", 1))
    assert [(w.begun, w.ended, w.alarms) for w in report.watches] == [(0.0, 7200.0, 3), (7200.0, 10800.0, 1)]


def test_a_firing_without_alarms_is_quiet() -> None:
    """Nothing to count is no error."""
    report = report_of([], 0.0, 3600.0, [])

    assert (report.whole.alarms, report.most_frequent, len(report.watches)) == (0, (), 1)
