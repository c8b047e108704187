"""Beats and histories."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from monitor.engine.beats import (
    NEVER,
    Beats,
    Heard,
    beat_of,
    close_beat,
    median_of_slots,
    new_beats,
    place_slots,
    plain_runs,
)
from monitor.engine.limits import BEAT_S, BRIDGE_BEATS, HISTORY_BEATS, JUMP_C, SLOTS_PER_BEAT


def _hear(beats: Beats, number: int, celsius: float) -> Heard:
    """Close beat `number` with `celsius` in all its slots."""
    beats.open_beat[0] = number
    beats.cells[:] = celsius
    return close_beat(beats)


@pytest.fixture
def beats() -> Beats:
    """One kiln of one sensor."""
    return new_beats((1, 1))


@given(hnp.arrays(np.float64, (2, 3, SLOTS_PER_BEAT), elements=st.one_of(st.floats(-50, 1400), st.just(np.nan))))
def test_the_median_is_that_of_the_slots_that_are_there(cells: np.ndarray) -> None:
    """The median equals numpy's over the values, NaN where there are none."""
    found = median_of_slots(cells)

    for k, s in np.ndindex(2, 3):
        there = cells[k, s][np.isfinite(cells[k, s])]
        assert found[k, s] == (pytest.approx(np.median(there)) if len(there) else pytest.approx(np.nan, nan_ok=True))


@pytest.mark.parametrize(("end", "number"), [(30.0, 1), (5.0, 1), (35.0, 2), (60.0, 2), (1_764_000_000.0, 58_800_000)])
def test_a_beat_holds_the_slots_up_to_its_end(end: float, number: int) -> None:
    """A slot that ends at the beat's end is its last."""
    assert beat_of(end) == number


def test_slots_take_their_places_by_time(beats: Beats) -> None:
    """The first slot of a beat goes first, the last goes last, whatever came between."""
    place_slots(beats, BEAT_S + 5.0, np.array([[[1.0]]]))
    place_slots(beats, BEAT_S + 30.0, np.array([[[6.0]]]))

    assert beats.cells[0, 0, [0, -1]].tolist() == [1.0, 6.0]
    assert np.isnan(beats.cells[0, 0, 1:-1]).all()


def test_slots_of_one_beat_are_placed_at_once(beats: Beats) -> None:
    """Slots without a gap stand side by side, the last where its end says."""
    place_slots(beats, BEAT_S + 25.0, np.array([[[3.0]], [[4.0]], [[5.0]]]))

    assert beats.cells[0, 0, 2:5].tolist() == [3.0, 4.0, 5.0]
    assert np.isnan(beats.cells[0, 0, [0, 1, 5]]).all()


def test_plain_slots_run_up_to_the_end_of_their_beat() -> None:
    """A run ends with its beat and before a slot that is not plain."""
    end = 2.0 * BEAT_S + 5.0 * np.arange(3, 11)
    plain = np.array([True, True, True, True, True, False, True, True])

    assert plain_runs(end, plain) == [4, 3, 2, 1, 1, 0, 2, 1]
    assert plain_runs(end[:0], plain[:0]) == []


def test_a_spike_within_a_beat_is_dropped(beats: Beats) -> None:
    """Two wild slots of six do not move the beat."""
    beats.open_beat[0] = 1
    beats.cells[0, 0] = [700.0, 701.0, 1350.0, 702.0, -20.0, 701.0]
    close_beat(beats)

    assert beats.ring[0, 0, -1] == 701.0


def test_a_step_within_a_beat_keeps_its_moment(beats: Beats) -> None:
    """A stoke's edge of 30 degC counts by how much of the beat lay behind it."""
    beats.open_beat[0] = 1
    beats.cells[0, 0] = [700.0, 700.0, 700.0, 700.0, 670.0, 670.0]
    close_beat(beats)

    assert beats.ring[0, 0, -1] == pytest.approx(690.0)


def test_two_halves_far_apart_are_no_value(beats: Beats) -> None:
    """Where the slots fall into two camps with the median between them, nobody knows which is true."""
    beats.open_beat[0] = 1
    beats.cells[0, 0] = [700.0, 700.0, 700.0, 20.0, 20.0, 20.0]

    assert not close_beat(beats).valid.item()


def test_beats_follow_one_another(beats: Beats) -> None:
    """The newest stands last, the history grows, nothing is renewed but the first."""
    first, second = _hear(beats, 1, 700.0), _hear(beats, 2, 701.0)

    assert (first.renewed.item(), second.renewed.item()) == (True, False)
    assert (first.elapsed, second.elapsed) == (HISTORY_BEATS, 1)
    assert beats.ring[0, 0, -2:].tolist() == [700.0, 701.0]
    assert beats.span.item() == 2


def test_the_span_ends_at_the_length_of_the_history(beats: Beats) -> None:
    """After more beats than the ring holds, the span is the ring's."""
    for number in range(1, HISTORY_BEATS + 10):
        _hear(beats, number, 700.0)

    assert beats.span.item() == HISTORY_BEATS


def test_a_short_gap_is_bridged_by_a_straight_line_once_it_is_over(beats: Beats) -> None:
    """While the gap lasts there is no value; afterwards the line is there and the history unbroken."""
    _hear(beats, 1, 700.0)
    during = [_hear(beats, number, np.nan) for number in (2, 3, 4)]
    after = _hear(beats, 5, 704.0)

    assert not any(h.valid.item() for h in during)
    assert not after.renewed.item()
    np.testing.assert_allclose(beats.ring[0, 0, -5:], [700.0, 701.0, 702.0, 703.0, 704.0])
    assert beats.span.item() == 5
    assert beats.bridged[0, 0, -6:].tolist() == [False, False, True, True, True, False]


def test_beats_that_nobody_closed_count_as_a_gap(beats: Beats) -> None:
    """Numbers may jump: the cells between are bridged as if they had been heard empty."""
    _hear(beats, 1, 700.0)
    heard = _hear(beats, 5, 704.0)

    assert heard.elapsed == 4
    np.testing.assert_allclose(beats.ring[0, 0, -5:], [700.0, 701.0, 702.0, 703.0, 704.0])


def test_a_long_gap_starts_a_new_history(beats: Beats) -> None:
    """Beyond three minutes nothing is bridged; what was before still compares, unless something was wrong."""
    _hear(beats, 1, 700.0)
    heard = _hear(beats, 1 + BRIDGE_BEATS + 1, 690.0)

    assert (heard.renewed.item(), heard.forget.item(), beats.span.item()) == (True, False, 1)
    assert np.isnan(beats.ring[0, 0, -2])


def test_a_gap_longer_than_the_history_empties_it(beats: Beats) -> None:
    """Nothing of before is left."""
    _hear(beats, 1, 700.0)
    _hear(beats, 1 + 3 * HISTORY_BEATS, 690.0)

    assert np.isnan(beats.ring[0, 0, :-1]).all()


def test_a_jump_is_refused_until_it_has_lasted(beats: Beats) -> None:
    """A step that no sheath can follow is no value for three minutes; then it is a new history, the old forgotten."""
    _hear(beats, 1, 700.0)
    step = 700.0 - JUMP_C - 1.0
    refused = [_hear(beats, number, step) for number in range(2, 2 + BRIDGE_BEATS)]
    taken = _hear(beats, 2 + BRIDGE_BEATS, step)

    assert not any(h.valid.item() for h in refused)
    assert (taken.valid.item(), taken.renewed.item(), taken.forget.item()) == (True, True, True)
    assert not beats.tainted.item()


def test_a_short_jump_leaves_no_trace(beats: Beats) -> None:
    """A wild minute is bridged like a gap."""
    _hear(beats, 1, 700.0)
    _hear(beats, 2, 300.0)
    _hear(beats, 3, 702.0)

    np.testing.assert_allclose(beats.ring[0, 0, -3:], [700.0, 701.0, 702.0])


@pytest.mark.parametrize(("tainted", "after"), [(True, 699.0), (False, 700.0 + JUMP_C + 1.0)])
def test_after_a_fault_or_a_great_change_the_past_is_forgotten(beats: Beats, tainted: bool, after: float) -> None:
    """A long gap with a fault in it, or one that ends far off, says that nothing before compares."""
    _hear(beats, 1, 700.0)
    beats.tainted[:] = tainted
    heard = _hear(beats, 30, after)

    assert heard.forget.item()


def test_before_the_first_beat_there_is_nothing(beats: Beats) -> None:
    """A fresh state has no beat, no span and no value."""
    assert beats.beat.item() == NEVER
    assert beats.span.item() == 0
    assert np.isnan(beats.ring).all()
