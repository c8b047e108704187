"""Climb and level net of ripple."""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.polynomial import Polynomial

from monitor.engine.answers import new_answers
from monitor.engine.beats import Beats, close_beat, new_beats
from monitor.engine.climb import (
    PERIODS_BEATS,
    SPANS_BEATS,
    Bank,
    Climb,
    judge_climb,
    lay_out_bank,
    new_climb,
    ripple_of,
    self_likeness,
    told_climb,
)
from monitor.engine.limits import BEAT_S, CLIMB_LAG_MIN, HISTORY_BEATS, LEVEL_LAG_MIN, SLOTS_PER_BEAT
from monitor.model import SLOT_S, FloatArray

RATE = 36.0
"""degC/h"""


@pytest.fixture(scope="module")
def bank() -> Bank:
    """The weights, laid out once."""
    return lay_out_bank()


def _slots(beats: int) -> FloatArray:
    """Return the middle of each slot in minutes."""
    return (np.arange(beats * SLOTS_PER_BEAT) + 0.5) * SLOT_S / 60.0


def _follow(bank: Bank, celsius: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray, Beats, Climb]:
    """Run slots (n,) of one sensor through; return rate, level and uncertainty after every beat."""
    beats, climb, answers = new_beats((1, 1)), new_climb((1, 1)), new_answers((1, 1))
    out = []
    for number, cells in enumerate(celsius.reshape(-1, SLOTS_PER_BEAT), start=1):
        beats.open_beat[0] = number
        beats.cells[0, 0] = cells
        heard = close_beat(beats)
        judge_climb(climb, answers, bank, beats, heard=heard, cells=cells[None, None, :])
        rate, u = told_climb(climb, answers, bank, beats, slice(None))
        out.append((rate.item(), climb.level.item(), u.item()))
    rates, levels, us = np.array(out).T
    return rates, levels, us, beats, climb


def test_a_ramp_is_told_exactly_once_twelve_minutes_are_known(bank: Bank) -> None:
    """Before, nothing is said; from then on every span of history gives rate and level of the ramp."""
    t = _slots(100)
    rate, level, _, _, _ = _follow(bank, 500.0 + RATE * t / 60.0)
    end_min = np.arange(1, 101) * BEAT_S / 60.0

    assert np.isnan(rate[: SPANS_BEATS[0] - 1]).all()
    np.testing.assert_allclose(rate[SPANS_BEATS[0] - 1 :], RATE, atol=1e-6)
    expected = 500.0 + RATE * (end_min - LEVEL_LAG_MIN) / 60.0
    np.testing.assert_allclose(level[SPANS_BEATS[0] - 1 :], expected[SPANS_BEATS[0] - 1 :], atol=1e-6)


def _sine(t: FloatArray, period_min: float) -> FloatArray:
    return np.sin(2.0 * np.pi * t / period_min)


def _sawtooth(t: FloatArray, period_min: float) -> FloatArray:
    return 1.0 - 2.0 * np.mod(t / period_min, 1.0)


@pytest.mark.parametrize("shape", [_sine, _sawtooth])
@pytest.mark.parametrize("period_min", [4.0, 5.3, 6.0, 7.1, 8.0])
def test_regular_ripple_of_30_degrees_leaves_the_climb_within_its_goal(
    bank: Bank, shape: Callable[[FloatArray, float], FloatArray], period_min: float
) -> None:
    """On a ramp with ripple of 30 degC peak to peak the root mean square error stays below 2 degC/h."""
    t = _slots(400)
    rate, _, u, _, _ = _follow(bank, 500.0 + RATE * t / 60.0 + 15.0 * shape(t, period_min))
    error = rate[HISTORY_BEATS:] - RATE

    assert np.sqrt((error**2).mean()) < 2.0
    assert np.abs(error).max() < 3.0 * u[HISTORY_BEATS:].max()


def _pulses(t: FloatArray, interval_scatter: float, charge_scatter: float, seed: int) -> FloatArray:
    """Return ripple of some 20 degC: dip, burst and decay after stokes every 6 min on average, as uneven as asked."""
    rng = np.random.default_rng(seed)
    moments = np.cumsum(rng.normal(6.0, 6.0 * interval_scatter, int(t[-1] / 6.0) + 20).clip(1.0)) - 60.0
    sizes = rng.normal(20.0, 20.0 * charge_scatter, len(moments)).clip(2.0)
    since = t - moments[:, None]
    after = np.maximum(since - 0.7, 0.0)
    pulse = (1.0 - np.exp(-after / 0.8)) * np.exp(-after / 3.0) - 0.6 * np.exp(-(((since - 0.5) / 0.4) ** 2))
    return np.asarray((sizes[:, None] * pulse).sum(axis=0))


@pytest.mark.parametrize("uneven", [(0.02, 0.03), (0.15, 0.20)], ids=["even", "tired"])
def test_an_uneven_crew_costs_no_more_than_an_even_one(bank: Bank, uneven: tuple[float, float]) -> None:
    """Once answers to stokes are learned the error is below 2 degC/h, and u covers it, however uneven the crew is."""
    t = _slots(900)
    noise = np.random.default_rng(8).normal(0.0, 0.3, len(t))
    rate, _, u, _, climb = _follow(bank, 500.0 + RATE * t / 60.0 + _pulses(t, *uneven, seed=2) + noise)
    error = (rate - RATE)[240:]

    assert np.sqrt((error**2).mean()) < 1.5
    assert (np.abs(error) < 2.0 * u[240:]).mean() > 0.95
    assert climb.trust.item() > 0.5


def test_ripple_without_any_quick_move_is_left_to_the_plain_weights(bank: Bank) -> None:
    """A slow swell of wandering period pushes nothing: the clean rate earns no trust, and none is needed."""
    t = _slots(500)
    phase = np.cumsum(np.random.default_rng(5).normal(1.0, 1.0, len(t)).clip(0.0)) * SLOT_S / 60.0 / 6.5
    rate, _, u, _, climb = _follow(bank, 500.0 + RATE * t / 60.0 + 4.0 * np.sin(2.0 * np.pi * phase))
    error = (rate - RATE)[240:]

    assert climb.trust.item() < 0.6
    assert np.sqrt((error**2).mean()) < 2.0
    assert (np.abs(error) < 2.0 * u[240:]).mean() > 0.95


def test_the_uncertainty_grows_with_ripple_and_with_its_scatter(bank: Bank) -> None:
    """No ripple, even ripple, and the same ripple at random intervals follow one another."""
    t = _slots(200)
    ramp = 500.0 + RATE * t / 60.0
    moments = np.cumsum(np.random.default_rng(4).uniform(2.0, 9.0, 60))
    since = t - moments[np.searchsorted(moments, t) - 1]
    plain, even, uneven = (
        _follow(bank, ramp + ripple)[2][HISTORY_BEATS:].mean()
        for ripple in (0.0, 10.0 * _sine(t, 5.5), 14.0 * np.exp(-np.maximum(since, 0.0) / 3.0))
    )

    assert plain < even < uneven


def test_a_shorter_history_is_less_certain(bank: Bank) -> None:
    """With ripple, the first climbs carry a greater uncertainty than those of a full history."""
    t = _slots(150)
    _, _, u, _, _ = _follow(bank, 500.0 + RATE * t / 60.0 + 8.0 * _sine(t, 6.0))

    assert u[SPANS_BEATS[0] - 1] > 2.0 * u[-1]


def test_the_error_is_covered_by_the_uncertainty_when_the_rate_changes(bank: Bank) -> None:
    """While the ware slows from 60 to 10 degC/h within an hour, the error over the uncertainty stays near one."""
    t = _slots(300)
    rate = 35.0 + 25.0 * np.cos(np.pi * np.clip((t - 60.0) / 60.0, 0.0, 1.0))
    celsius = 500.0 + np.cumsum(rate) * SLOT_S / 3600.0
    told, _, u, _, _ = _follow(bank, celsius)
    ends = np.arange(1, 301) * SLOTS_PER_BEAT - 1
    then = rate[ends - round(CLIMB_LAG_MIN * 60.0 / SLOT_S)]
    error = (told - then)[HISTORY_BEATS:]

    assert np.abs(error / u[HISTORY_BEATS:]).max() < 3.0


def test_nothing_is_said_while_a_gap_lasts_and_all_is_well_after_a_short_one(bank: Bank) -> None:
    """A gap of two and a half minutes silences the climb, and costs nothing once it is bridged."""
    t = _slots(100)
    celsius = 500.0 + RATE * t / 60.0
    celsius[60 * SLOTS_PER_BEAT : 65 * SLOTS_PER_BEAT] = np.nan
    rate, level, u, _, _ = _follow(bank, celsius)

    assert np.isnan([rate[60:65], level[60:65], u[60:65]]).all()
    np.testing.assert_allclose(rate[65:], RATE, atol=1e-6)


def test_a_bridged_gap_under_ripple_is_told_as_less_certain(bank: Bank) -> None:
    """The line over a gap hides ripple: the uncertainty is greater while the gap is in the history, and covers it."""
    t = _slots(300)
    whole = 500.0 + RATE * t / 60.0 + 8.0 * _sine(t, 6.0)
    holed = whole.copy()
    holed[100 * SLOTS_PER_BEAT : 105 * SLOTS_PER_BEAT] = np.nan
    rate, _, u, _, _ = _follow(bank, holed)
    _, _, u_whole, _, _ = _follow(bank, whole)
    during = slice(106, 105 + HISTORY_BEATS)

    assert u[during].mean() > 1.2 * u_whole[during].mean()
    # what has been learned since differs a little
    np.testing.assert_allclose(u[-20:], u_whole[-20:], rtol=0.01)
    assert np.sqrt((((rate - RATE) / u)[during] ** 2).mean()) < 1.2


def test_after_a_long_gap_the_history_begins_anew(bank: Bank) -> None:
    """A gap beyond three minutes costs twelve minutes of climb, and what lay before leaves no trace."""
    t = _slots(140)
    celsius = 500.0 + RATE * t / 60.0
    celsius[60 * SLOTS_PER_BEAT : 70 * SLOTS_PER_BEAT] = np.nan
    celsius[70 * SLOTS_PER_BEAT :] -= 40.0
    rate, _, _, _, climb = _follow(bank, celsius)

    assert np.isnan(rate[60 : 70 + SPANS_BEATS[0] - 1]).all()
    np.testing.assert_allclose(rate[70 + SPANS_BEATS[0] - 1 :], RATE, atol=1e-6)
    assert climb.beat.item() == 140


def test_a_spike_of_one_slot_changes_nothing(bank: Bank) -> None:
    """One wild slot is gone before it reaches the climb; the beat's median moves by less than a slot's rise."""
    t = _slots(100)
    celsius = 500.0 + RATE * t / 60.0
    celsius[90 * SLOTS_PER_BEAT + 2] = 1372.0
    rate, _, _, _, _ = _follow(bank, celsius)

    np.testing.assert_allclose(rate[HISTORY_BEATS:], RATE, atol=0.5)


def test_ripple_is_what_a_parabola_leaves() -> None:
    """The rest equals that of numpy's own polynomial fit over the span, and is NaN beyond it."""
    rng = np.random.default_rng(9)
    ring = rng.normal(600.0, 5.0, (1, 2, HISTORY_BEATS))
    span = np.array([[HISTORY_BEATS, 30]])
    rest = ripple_of(ring, span)
    x = np.arange(30.0)

    np.testing.assert_allclose(
        rest[0, 1, -30:], ring[0, 1, -30:] - Polynomial.fit(x, ring[0, 1, -30:], 2)(x), atol=1e-4
    )
    assert np.isnan(rest[0, 1, :-30]).all()
    assert not np.isnan(rest[0, 0]).any()


@pytest.mark.parametrize("period", [8, 11, 16, 24])
def test_the_period_of_ripple_is_found_not_its_multiple(period: int) -> None:
    """A sine of a whole number of beats is most like itself one period before."""
    rest = np.sin(2.0 * np.pi * np.arange(HISTORY_BEATS) / period)[None, None, :]
    likeness, found = self_likeness(rest)

    assert likeness.item() > 0.97
    assert abs(PERIODS_BEATS[found.item()] - period) <= 1


def test_no_ripple_is_like_nothing() -> None:
    """A flat history has no likeness and raises no warning."""
    likeness, _ = self_likeness(np.zeros((1, 1, HISTORY_BEATS)))

    assert likeness.item() == 0.0
