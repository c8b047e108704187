"""The derived weights, checked against closed forms, least squares and simulation."""

import numpy as np
import pytest
from scipy.stats import linregress

from monitor.engine.filters import (
    Crew,
    Ware,
    level_weights,
    rate_spread,
    rate_weights,
    ripple_covariance,
    spread,
    whitening_weights,
)
from monitor.model import FloatArray

BEAT_S = 30.0
WARE = Ware(rate_sd_c_per_h=20.0, rate_time_min=60.0)
EVEN = Crew(interval_scatter=0.02, charge_scatter=0.03)


def _rest(beats: int, ripple_sd: float = 6.0, noise_sd: float = 0.5) -> FloatArray:
    rest = ripple_sd**2 * ripple_covariance(beats, BEAT_S, EVEN)
    rest[0] += noise_sd**2
    return rest


@pytest.mark.parametrize(("beats", "lag_min"), [(24, 6.0), (60, 8.0), (80, 3.5)])
def test_a_straight_line_gives_its_slope_and_its_value_at_the_lag(beats: int, lag_min: float) -> None:
    """Both kinds of weights are exact for straight lines, whatever the ripple."""
    age_h = (np.arange(beats)[::-1] + 0.5) * BEAT_S / 3600.0
    line = 640.0 - 37.0 * age_h

    rate = rate_weights(beats, BEAT_S, lag_min=lag_min, ripple=_rest(beats), ware=WARE)
    level = level_weights(beats, BEAT_S, lag_min=lag_min, ripple=_rest(beats), ware=WARE)

    assert rate.sum() == pytest.approx(0.0, abs=1e-9)
    assert rate @ line == pytest.approx(37.0 * -1.0 * -1.0, abs=1e-6)
    assert level @ line == pytest.approx(640.0 - 37.0 * lag_min / 60.0, abs=1e-6)


def test_under_noise_alone_the_rate_is_least_squares() -> None:
    """With white noise and a steady rate, least squares is the best linear unbiased estimate (Gauss and Markov)."""
    beats = 60
    noise = np.zeros(beats)
    noise[0] = 1.0
    y = np.random.default_rng(3).normal(size=beats)

    weights = rate_weights(beats, BEAT_S, lag_min=8.0, ripple=noise, ware=Ware(1e-6, 60.0))

    assert weights @ y == pytest.approx(linregress(np.arange(beats) * BEAT_S / 3600.0, y).slope, rel=1e-6)


@pytest.mark.parametrize("crew", [EVEN, Crew(0.15, 0.2)])
def test_the_ripple_covariance_is_that_of_simulated_stokes(crew: Crew) -> None:
    """Pulses laid down one by one at random intervals have the autocorrelation that the spectrum gives."""
    rng = np.random.default_rng(11)
    step, period = 5.0, 360.0
    t = np.arange(0.0, 4.0 * 3600.0, step)
    pulse = np.exp(-t[:720] / (0.5 * period)) - np.exp(-t[:720] / 42.0)
    total = np.zeros(10)
    for _ in range(60):
        drive = np.zeros(len(t))
        moment = rng.uniform(0.0, period)
        while moment < t[-1]:
            drive[int(moment / step)] += rng.normal(1.0, crew.charge_scatter)
            moment += rng.normal(period, crew.interval_scatter * period)
        y = np.convolve(drive, pulse)[1440 : len(t)].reshape(-1, 6).mean(axis=1)
        y -= y.mean()
        total += [(y[lag:] * y[: len(y) - lag]).mean() for lag in range(0, 30, 3)]

    expected = ripple_covariance(30, BEAT_S, crew, np.array([6.0]))[::3]
    np.testing.assert_allclose(total / total[0], expected, atol=0.12)
    assert expected[0] == pytest.approx(1.0)


def test_the_ripple_covariance_averages_its_periods() -> None:
    """Two periods give the mean of each."""
    each = [ripple_covariance(40, BEAT_S, EVEN, np.array([p])) for p in (4.0, 7.0)]

    np.testing.assert_allclose(ripple_covariance(40, BEAT_S, EVEN, np.array([4.0, 7.0])), np.mean(each, axis=0))


def test_spread_of_white_noise_is_the_root_of_the_sum_of_squares() -> None:
    """Independent errors add as squares."""
    weights = np.array([3.0, -4.0, 12.0])

    assert spread(weights, np.array([4.0, 0.0, 0.0])) == pytest.approx(2.0 * 13.0)


def test_rate_spread_is_that_of_simulated_rates() -> None:
    """Rates drawn from the model and summed to temperatures leave the error that is foretold."""
    beats, lag = 60, 16
    weights = rate_weights(beats, BEAT_S, lag_min=8.0, ripple=_rest(beats), ware=WARE)
    age_min = np.arange(beats) * BEAT_S / 60.0
    d = np.sqrt(3.0) * np.abs(np.subtract.outer(age_min, age_min)) / WARE.rate_time_min
    likeness = WARE.rate_sd_c_per_h**2 * (1.0 + d) * np.exp(-d) + 1e-6 * np.eye(beats)
    rates = np.random.default_rng(5).normal(size=(4000, beats)) @ np.linalg.cholesky(likeness).T

    temperature = -np.cumsum(rates, axis=1) * BEAT_S / 3600.0 + rates[:, :1] * BEAT_S / 3600.0
    error = temperature[:, ::-1] @ weights - rates[:, lag]

    assert rate_spread(weights, BEAT_S, lag_min=8.0, ware=WARE) == pytest.approx(error.std(), rel=0.05)


def test_no_other_weights_do_better() -> None:
    """Any change that keeps the straight lines raises the mean square error under the model."""
    beats = 44
    rest = _rest(beats)
    best = rate_weights(beats, BEAT_S, lag_min=8.0, ripple=rest, ware=WARE)
    x = np.vstack([np.ones(beats), np.arange(beats)]).T
    rng = np.random.default_rng(2)

    def error(weights: FloatArray) -> float:
        return spread(weights, rest) ** 2 + rate_spread(weights, BEAT_S, lag_min=8.0, ware=WARE) ** 2

    for _ in range(20):
        change = rng.normal(size=beats)
        change -= x @ np.linalg.lstsq(x, change, rcond=None)[0]
        assert error(best + 0.05 * change) > error(best)


def test_whitening_leaves_of_simulated_histories_white_noise_of_unit_variance() -> None:
    """Histories drawn from the model give one and the same new part a beat, unlike the one of the beat before."""
    beats = 60
    rest = _rest(beats + 1, ripple_sd=2.0)
    n = np.arange(beats + 1)
    minutes = np.abs(np.subtract.outer(n, n)) * BEAT_S / 60.0
    d = np.sqrt(3.0) * minutes / WARE.rate_time_min
    rng = np.random.default_rng(6)
    likeness = WARE.rate_sd_c_per_h**2 * (1.0 + d) * np.exp(-d) + 1e-6 * np.eye(beats + 1)
    rates = rng.normal(size=(8000, beats + 1)) @ np.linalg.cholesky(likeness).T
    ripple = rng.normal(size=rates.shape) @ np.linalg.cholesky(rest[np.abs(np.subtract.outer(n, n))]).T
    history = 700.0 + np.cumsum(rates, axis=1) * BEAT_S / 3600.0 + ripple

    weights = whitening_weights(beats, BEAT_S, ripple=rest[:beats], ware=WARE)
    earlier, later = history[:, :-1] @ weights, history[:, 1:] @ weights

    assert weights.sum() == pytest.approx(0.0, abs=1e-9)
    assert later.std() == pytest.approx(1.0, rel=0.04)
    assert abs(np.corrcoef(earlier, later)[0, 1]) < 0.05
