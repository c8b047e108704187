"""Rhythm: stokes that come ever later."""

import numpy as np

from monitor.engine.rhythm import Drift, Rhythm, judge_rhythm, new_rhythm
from monitor.engine.stoke_state import Stoke

HEARD, OPEN = np.ones(1, bool), np.zeros(1, bool)


def _run(minutes: list[float], rhythm: Rhythm | None = None) -> list[Drift]:
    """Return what stokes at these intervals, minutes, make known; each is known 2 min after it came."""
    rhythm = rhythm or new_rhythm(1)
    drifts = []
    for onset in np.cumsum([0.0, *minutes]) * 60.0:
        stoke = Stoke(0, 0, 5.0, float(onset), 20.0)
        drifts += judge_rhythm(rhythm, [stoke], now=float(onset) + 120.0, heard=HEARD, closed=OPEN)
    return drifts


def test_stokes_that_come_later_and_later_are_told_and_end_when_the_rhythm_is_back() -> None:
    """From 5 min to 6.75: begins at the first of the five, ratio near 1.3, ends after the return."""
    drifts = _run([5.0, 5.1, 4.9, 5.0, 5.2, 4.8, 5.0, 5.0] + [6.75] * 6 + [5.0] * 6)

    assert [d.begins for d in drifts] == [True, False]
    assert 1.25 <= drifts[0].ratio <= 1.4
    assert abs(drifts[0].onset - 60.0 * 40.0) <= 60.0 * 6.0
    assert drifts[1].ratio < 1.15


def test_one_missed_stoke_is_no_drift() -> None:
    """A single interval of three times the rhythm sums up, but the other four are as ever (definition)."""
    assert _run([5.0] * 8 + [15.0] + [5.0] * 8) == []


def test_the_next_stage_is_quicker_and_no_drift_nor_is_the_way_back() -> None:
    """From 8 to 5 min is wanted; back to 8 after a hurried hour is no drift either."""
    assert _run([8.0] * 10 + [5.0] * 12 + [8.0] * 8) == []


def test_a_slow_rhythm_kept_for_hours_is_the_new_one() -> None:
    """Told once, over after four hours, and then the measure of what follows."""
    drifts = _run([5.0] * 10 + [7.0] * 60)

    assert [d.begins for d in drifts] == [True, False]
    assert drifts[1].onset - drifts[0].onset < 5 * 3600.0


def test_a_drift_ends_with_the_stokes() -> None:
    """Two hours without a stoke, or a kiln closed up: it ends at the last one."""
    for heard_s, closed in ((8000.0, OPEN), (60.0, np.ones(1, bool))):
        rhythm = new_rhythm(1)
        drifts = _run([5.0] * 8 + [7.0] * 6, rhythm)
        last = float(rhythm.onsets[0, -1])
        over = judge_rhythm(rhythm, [], now=last + heard_s, heard=HEARD, closed=closed)

        assert [d.begins for d in drifts] == [True]
        assert [(d.begins, d.onset) for d in over] == [(False, last)]


def test_a_silence_between_stokes_counts_as_no_interval() -> None:
    """While nothing was heard stokes may have come: the row begins anew."""
    rhythm = new_rhythm(1)
    _run([5.0] * 8, rhythm)
    for _ in range(3):
        judge_rhythm(rhythm, [], now=3000.0, heard=OPEN, closed=OPEN)
    judge_rhythm(rhythm, [Stoke(0, 0, 5.0, 5000.0, 20.0)], now=5100.0, heard=HEARD, closed=OPEN)

    assert np.isfinite(rhythm.onsets[0]).sum() == 1


def test_a_stoke_found_late_takes_its_place_between() -> None:
    """Two intervals of 5 min, not one of 10."""
    rhythm = new_rhythm(1)
    _run([5.0] * 6 + [10.0], rhythm)
    late = Stoke(0, -1, np.nan, 60.0 * 35.0, 2.0, is_late=True)
    judge_rhythm(rhythm, [late], now=2500.0, heard=HEARD, closed=OPEN)
    onsets = rhythm.onsets[0][np.isfinite(rhythm.onsets[0])]

    assert np.allclose(np.diff(onsets), 300.0)


def test_stokes_that_only_the_chamber_shows_make_no_rhythm() -> None:
    """The same slow stokes without a dip at a firebox sensor: nothing is told."""
    rhythm = new_rhythm(1)
    onsets = np.cumsum([0.0, *[5.0] * 10, *[7.0] * 8]) * 60.0
    stokes = [Stoke(0, 0, np.nan, float(onset), 20.0) for onset in onsets]
    drifts = [judge_rhythm(rhythm, [s], now=s.onset + 120.0, heard=HEARD, closed=OPEN) for s in stokes]

    assert not any(drifts)


def test_a_rhythm_learnt_from_something_else_is_put_right_without_a_word() -> None:
    """Nobody goes from 1.5 to 10 min: the usual interval is learnt anew."""
    rhythm = new_rhythm(1)
    drifts = _run([1.5] * 10 + [10.0] * 12, rhythm)

    assert drifts == []
    assert abs(float(rhythm.usual_s[0]) - 600.0) < 30.0


def test_stokes_seen_where_none_was_are_no_quicker_rhythm() -> None:
    """Half of the intervals of a steady preheat cut in two, then none: neither haste nor, after it, drift."""
    steady, cut = [15.0, 14.5, 15.5], [15.0, 9.8, 5.2, 14.6, 5.4, 9.4, 15.0, 10.3, 4.7]

    assert _run([*steady * 4, *cut, *cut, *steady * 4]) == []


def test_a_rhythm_is_learnt_only_where_there_is_one() -> None:
    """Eight intervals that are nothing like each other say nothing of what is usual."""
    rhythm = new_rhythm(1)
    _run([1.5, 9.0, 2.0, 15.0, 1.4, 5.0, 22.0, 3.0], rhythm)
    assert np.isnan(rhythm.usual_s[0])
    drifts = _run([1.5, 9.0, 2.0, 15.0, 1.4, 5.0, 22.0, 3.0, *[15.0] * 12], rhythm := new_rhythm(1))

    assert drifts == []
    assert abs(float(rhythm.usual_s[0]) - 900.0) < 30.0
