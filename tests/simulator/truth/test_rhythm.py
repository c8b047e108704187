"""What counts as a rhythm that is off, worked by hand."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.spec.kiln_file import load_kiln
from simulator.truth.rhythm import true_rhythm
from simulator.truth.spans import TrueSpan
from simulator.truth.stokes import Door, TrueStoke

DEMO = load_kiln("demo")
SPEC = replace(
    DEMO,
    stages=(
        replace(DEMO.stages[0], name="climb", begin_h=0.0, interval_min=10.0),
        replace(DEMO.stages[0], name="high-fire", begin_h=10.0, interval_min=5.0),
        replace(DEMO.stages[0], name="cooling", begin_h=20.0, interval_min=0.0),
    ),
)


def _rhythm(intervals_min: list[float], begin_h: float = 1.0, door: Door = Door.FRONT) -> list[TrueSpan]:
    hours = begin_h + np.concatenate([[0.0], np.cumsum(intervals_min)]) / 60.0
    return true_rhythm(SPEC, [TrueStoke(float(h), door, "firebox", 1.0) for h in hours])


def _minutes(spans: list[TrueSpan], begin_h: float = 1.0) -> list[tuple[int, int]]:
    return [(round((s.begin_h - begin_h) * 60), round((s.end_h - begin_h) * 60)) for s in spans]


@pytest.mark.parametrize(
    ("five_min", "ratio"),
    [
        ([12.5] * 5, 1.25),  # at the bound: beyond counts, so does the bound
        ([12.4] * 5, None),  # 1.24
        ([11.5, 11.5, 11.5, 14.0, 14.0], 1.25),  # three at 15 %
        ([10.0, 10.0, 11.5, 15.5, 15.5], 1.25),
        ([10.0, 10.0, 11.4, 15.5, 15.6], None),  # two only
        ([10.0, 10.0, 10.0, 10.0, 40.0], None),  # one missed stoke alone
        ([10.0, 10.0, 10.0, 30.0, 30.0], None),  # two missed
        ([7.5] * 5, 0.75),
        ([7.6] * 5, None),
        ([8.5, 8.5, 8.5, 6.0, 6.0], 0.75),
        ([8.6, 8.6, 8.4, 6.0, 5.9], 0.75),
        ([9.0, 9.0, 8.6, 5.5, 5.4], None),  # two only
        ([10.0, 10.0, 10.0, 10.0, 10.0], None),
    ],
)
def test_five_intervals_are_drift_by_sum_and_by_three(five_min: list[float], ratio: float | None) -> None:
    """The agreed interval is 10 min; both sides of a quarter in all and of 15 % in three."""
    spans = _rhythm(five_min)

    assert [s.ratio for s in spans] == ([] if ratio is None else [pytest.approx(ratio)])


def test_span_reaches_from_the_first_of_its_stokes_to_the_last() -> None:
    """Four intervals as agreed, six of 14 min, four as agreed."""
    spans = _rhythm([10.0] * 4 + [14.0] * 6 + [10.0] * 4)

    # three of five at 14 min sum to 62 of 50 (1.24): it takes four, so one interval as agreed at either end
    assert _minutes(spans) == [(30, 134)]
    assert spans[0].ratio == pytest.approx(1.4)


def test_windows_apart_are_spans_of_their_own() -> None:
    """Five long, eight as agreed, five short."""
    assert [s.ratio for s in _rhythm([13.0] * 5 + [10.0] * 8 + [7.0] * 5)] == [
        pytest.approx(1.3),
        pytest.approx(0.7),
    ]


def test_four_intervals_are_too_few() -> None:
    """Rhythm needs five."""
    assert _rhythm([20.0] * 4) == []


def test_side_stokes_have_no_rhythm() -> None:
    """Their order is the lead's."""
    assert _rhythm([20.0] * 8, door=Door.SIDE) == []


def test_wanted_change_of_interval_is_no_drift() -> None:
    """From 10 to 5 min at hour 10; the interval across it is as intended anywhere between 5 and 10 min."""
    before = [10.0] * 6
    assert _rhythm([*before, 7.0, *[5.0] * 6], begin_h=9.0 - 1.0 / 60.0) == []
    assert _rhythm([*before, 10.0, *[5.0] * 6], begin_h=9.0 - 1.0 / 60.0) == []


def test_interval_that_stays_as_it_was_is_drift_in_the_new_stage() -> None:
    """The crew goes on with 10 min where 5 are agreed."""
    (span,) = _rhythm([10.0] * 14, begin_h=9.0)

    assert span.begin_h == pytest.approx(9.0 + 50.0 / 60.0, abs=0.2)
    assert span.ratio == pytest.approx(2.0)


def test_kiln_closed_up_has_no_rhythm() -> None:
    """What is thrown in after the closing counts no more."""
    assert _rhythm([10.0] * 8, begin_h=20.5) == []
