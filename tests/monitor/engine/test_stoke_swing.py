"""The swing between stokes, on intervals worked out by hand and against numpy's correlation."""

import numpy as np
import pytest

from monitor.engine.limits import BEAT_S, HISTORY_BEATS, INFERRED_INTERVAL_MAX_S, INFERRED_INTERVALS
from monitor.engine.stoke_swing import newest_intervals, swing
from monitor.model import FloatArray

NOW = 1_764_000_000.0
AGO_S = (np.arange(HISTORY_BEATS - 1, -1, -1) + 0.5) * BEAT_S
STOKES = 14


def _onsets(*minutes_ago: float) -> FloatArray:
    """Onsets of one kiln, newest last."""
    row = np.full(STOKES, np.nan)
    row[STOKES - len(minutes_ago) :] = NOW - 60.0 * np.array(minutes_ago)
    return row[None]


def _wave(place: FloatArray, by: float = 0.0) -> FloatArray:
    return np.cos(2.0 * np.pi * (place - by))


def test_a_cell_lies_where_its_time_lies_in_the_interval() -> None:
    """Stokes 22, 16, 10 and 4 min ago: the cell around 4.25 min ago lies 5.75 min into the last interval of six."""
    found = newest_intervals(_onsets(22.0, 16.0, 10.0, 4.0), NOW)

    assert found.place[0, HISTORY_BEATS - 9] == pytest.approx(5.75 / 6.0)
    assert found.place[0, HISTORY_BEATS - 20] == pytest.approx(0.25 / 6.0)
    assert np.isnan(found.place[0, -8:]).all()
    assert np.isnan(found.place[0, : HISTORY_BEATS - 44]).all()
    assert found.middle[0] == pytest.approx(NOW - 60.0 * 13.0)


def test_two_intervals_are_too_few() -> None:
    """Three are asked for, of a kiln of its own: its neighbour has them."""
    both = np.concatenate([_onsets(16.0, 10.0, 4.0), _onsets(22.0, 16.0, 10.0, 4.0)])
    found = newest_intervals(both, NOW)

    assert np.isnan(found.middle[0])
    assert np.isnan(found.place[0]).all()
    assert np.isfinite(found.place[1]).sum() == 36


def test_only_the_newest_intervals_count() -> None:
    """Of nine intervals of three minutes six are looked at."""
    found = newest_intervals(_onsets(*(1.0 + 3.0 * np.arange(9, -1, -1))), NOW)

    assert np.isfinite(found.place).sum() == INFERRED_INTERVALS * 6


def test_a_long_interval_is_none() -> None:
    """Between two runs of stokes lies a lull longer than an interval may be."""
    lull = INFERRED_INTERVAL_MAX_S / 60.0 + 1.0
    found = newest_intervals(_onsets(13.0 + lull, 10.0 + lull, 10.0, 7.0, 4.0, 1.0), NOW)

    assert np.isfinite(found.place).sum() == 18 + 6
    assert np.isnan(newest_intervals(_onsets(7.0 + lull, 4.0 + lull, 4.0, 1.0), NOW).middle[0])


@pytest.mark.parametrize("scale", [0.2, 3.0, 400.0])
def test_a_swing_has_no_scale(scale: float) -> None:
    """Hot around the stokes is 1, cold there -1, a quarter of an interval later is 0, whatever its size and trend."""
    place = np.tile((np.arange(8) + 0.5) / 8.0, HISTORY_BEATS // 8)[None]
    trend = 900.0 + 5.0 * np.linspace(0.0, 1.0, HISTORY_BEATS) ** 2
    history = np.stack([trend + scale * _wave(place[0], by) for by in (0.0, 0.5, 0.25)])[None]

    np.testing.assert_allclose(swing(history, place), [[1.0, -1.0, 0.0]], atol=0.03)


def test_a_swing_is_a_correlation() -> None:
    """Of what a parabola leaves with the cosine of the place: numpy's polyfit and corrcoef say the same."""
    rng = np.random.default_rng(4)
    place = np.sort(rng.uniform(0.0, 1.0, (5, 16)), axis=1).reshape(1, HISTORY_BEATS)
    history = rng.normal(0.0, 4.0, (1, 3, HISTORY_BEATS)) + 3.0 * _wave(place, 0.1)
    x = np.arange(HISTORY_BEATS)
    wave = _wave(place[0])
    rest = [own - np.polyval(np.polyfit(x, own, 2), x) for own in history[0]]
    expected = [np.corrcoef(own, wave)[0, 1] for own in rest]

    np.testing.assert_allclose(swing(history, place)[0], expected, atol=0.05)


def test_where_too_little_is_known_there_is_no_swing() -> None:
    """Nineteen cells, and a reading that does not move."""
    place = np.tile((np.arange(8) + 0.5) / 8.0, HISTORY_BEATS // 8)[None]
    some, still = 900.0 + 9.0 * _wave(place[0]), np.full(HISTORY_BEATS, 900.0)
    some[19:] = np.nan

    assert np.isnan(swing(np.stack([some, still])[None], place)).all()
