"""The scores, on cases worked out by hand from the definitions in section "Findings" of DEVELOPERS.md."""

import importlib.util
import sys
from pathlib import Path

import pytest

_spec = importlib.util.spec_from_file_location("score", Path(__file__).with_name("score.py"))
assert _spec is not None
assert _spec.loader is not None
score = importlib.util.module_from_spec(_spec)
sys.modules["score"] = score
_spec.loader.exec_module(score)
Span, Tally = score.Span, score.Tally


def test_stokes_pair_one_to_one_nearest_first() -> None:
    """A finding between two stokes goes to the nearer; 90 s is near, 91 s is not."""
    assert score.pair_stokes([0.0, 100.0], [60.0]) == [(1, 0)]
    assert score.pair_stokes([0.0, 100.0], [60.0, 95.0]) == [(1, 1), (0, 0)]
    assert score.pair_stokes([0.0], [90.0]) == [(0, 0)]
    assert score.pair_stokes([0.0], [91.0]) == []
    assert score.pair_stokes([0.0], [10.0, 20.0]) == [(0, 0)]


@pytest.mark.parametrize(
    ("kind", "onset", "met"),
    [
        ("stall", 10_000.0 - 600.0, True),
        ("stall", 10_000.0 - 601.0, False),
        ("stall", 12_000.0 + 300.0, True),
        ("stall", 12_000.0 + 301.0, False),
        ("rhythm", 12_000.0 + 900.0, True),
        ("rhythm", 12_000.0 + 901.0, False),
        ("sensor", 12_000.0 + 600.0, True),
        ("sensor", 12_000.0 + 601.0, False),
    ],
)
def test_onset_near_the_event_meets_it(kind: str, onset: float, *, met: bool) -> None:
    """From 10 min before to 5 min after its end, 15 for rhythm, 10 for sensors."""
    assert score.meets(kind, Span(10_000.0, 12_000.0), Span(onset, onset + 1.0)) is met


def test_long_finding_meets_what_it_covers_by_half() -> None:
    """Half the event, and at most twice as long plus 30 min: 2 x 2000 + 1800 s."""
    event = Span(10_000.0, 12_000.0)

    assert score.meets("stall", event, Span(9_000.0, 11_000.0))
    assert not score.meets("stall", event, Span(9_000.0, 10_999.0))
    assert score.meets("stall", event, Span(7_000.0, 12_800.0))
    assert not score.meets("stall", event, Span(7_000.0, 12_801.0))


def test_findings_match_their_label_only_and_misses_are_told() -> None:
    """A sensor finding of another sensor or fault is false; two findings in one event are both of it."""
    events = [Span(0.0, 100.0, label="front open"), Span(50_000.0, 50_100.0, label="front open")]
    findings = [
        Span(10.0, 20.0, label="front open"),
        Span(50.0, 60.0, label="front open"),
        Span(10.0, 20.0, label="back open"),
    ]
    match = score.match_spans("sensor", events, findings)

    assert match.of_finding == [0, 0, None]
    assert match.missed == [1]
    assert score.overlap_s(events, findings) == 20.0


def test_tally_adds_up_to_f1() -> None:
    """2 x 3 / (2 x 3 + 1 + 2), and NaN where there is nothing."""
    tally = Tally(met=2, missed=1, false=2)
    tally.add(Tally(met=1, delays_s=[5.0], overlap_s=30.0, true_s=40.0, found_s=20.0))

    assert tally.f1 == pytest.approx(6 / 9)
    assert tally.time_f1 == 1.0
    assert tally.delays_s == [5.0]
    assert Tally().f1 != Tally().f1
