"""The weights of the climb and level filters: minimum error under a model of stoke ripple, derived, not guessed.

A sensor's beats are taken as y = ware + ripple + noise. Stokes arrive as a renewal process with a period of 3 to 10
min and some scatter, each leaving a pulse that rises in a minute and decays over half a period; the ware's rate is
smooth and random. Weights w minimise the mean square error of w.y against the rate (or level) a fixed lag ago, exact
for straight lines: a Wiener filter with constraints. See README.md of this room.
"""

from dataclasses import dataclass

import numpy as np

from monitor.model import FloatArray

PERIODS_MIN = np.linspace(3.0, 10.0, 29)
"""Stoke intervals that the weights suppress, minutes: 4 to 8 are wanted, and the margin costs little (design)."""

_RISE_MIN = 0.7
_DECAY_PERIODS = 0.5
_CELL_S = 5.0
"""Cell of the grid on which covariances are summed, seconds."""


@dataclass(frozen=True, slots=True)
class Crew:
    """How evenly people stoke: scatter of intervals and of charges as shares of their means."""

    interval_scatter: float
    charge_scatter: float


@dataclass(frozen=True, slots=True)
class Ware:
    """How the ware's rate changes: standard deviation in degC/h, and correlation time in minutes."""

    rate_sd_c_per_h: float
    rate_time_min: float


def ripple_covariance(beats: int, beat_s: float, crew: Crew, periods_min: FloatArray = PERIODS_MIN) -> FloatArray:
    """Return the autocovariance (beats,) of stoke ripple of unit variance at lags 0, 1, ... beats.

    With pulses of autocorrelation c at renewal times, charges of mean 1 and scatter a, and g_n the density of the time
    to the nth next stoke, it is (1 + a^2) c + sum over n of (g_n + g_-n) * c (convolved), less its mean; averaged over
    `periods_min`, each scaled to unit variance.
    """
    total = np.zeros(beats)
    for period_s in (periods_min * 60.0).tolist():
        reach = int(np.ceil((beats * beat_s + 8.0 * _DECAY_PERIODS * period_s) / _CELL_S))
        one = _pulse_likeness(reach, beat_s, period_s)
        later = np.convolve(one, _stoke_density(reach, period_s, crew), mode="same") * _CELL_S
        covariance = (1.0 + crew.charge_scatter**2) * one + later - one.sum() * _CELL_S / period_s
        lags = covariance[reach : reach + round(beats * beat_s / _CELL_S) : round(beat_s / _CELL_S)]
        total += lags / lags[0]
    return np.asarray(total / len(periods_min))


def rate_weights(beats: int, beat_s: float, *, lag_min: float, ripple: FloatArray, ware: Ware) -> FloatArray:
    """Return weights (beats,), oldest first, whose sum with degC gives the rate in degC/h `lag_min` before the end.

    `ripple` (beats,) is the autocovariance of everything that is not ware, in degC^2. The sum of the weights is 0, and
    a straight line gives its slope.
    """
    steps, age_min = _steps(beats, beat_s)
    wanted = _likeness(age_min - lag_min, ware)
    return _least_error(steps, steps.T @ wanted, ripple=ripple, ware=ware, goals=(0.0, 1.0))


def level_weights(beats: int, beat_s: float, *, lag_min: float, ripple: FloatArray, ware: Ware) -> FloatArray:
    """Return weights (beats,), oldest first, whose sum with degC gives the level in degC `lag_min` before the end.

    The sum of the weights is 1, and a straight line gives its value at that moment.
    """
    steps, age_min = _steps(beats, beat_s)
    beat_min = beat_s / 60.0
    risen_h = -np.clip((lag_min - age_min) / beat_min + 0.5, 0.0, 1.0) * beat_s / 3600.0
    wanted = _likeness(np.subtract.outer(age_min, age_min), ware) @ risen_h
    goals = (1.0, (0.5 * beat_min - lag_min) / 60.0)
    return _least_error(steps, steps.T @ wanted, ripple=ripple, ware=ware, goals=goals)


def whitening_weights(beats: int, beat_s: float, *, ripple: FloatArray, ware: Ware) -> FloatArray:
    """Return weights (beats,), oldest first, that leave of a history what its past does not foretell, in unit variance.

    Ware of a random rate and rest of autocovariance `ripple` (beats,) foretell the newest beat by least squares, the
    constant unknown; the newest less that, over its standard deviation, is white.
    """
    steps, age_min = _steps(beats, beat_s)
    covariance = steps.T @ _likeness(np.subtract.outer(age_min, age_min), ware) @ steps + covariance_matrix(ripple)
    past = np.block([[covariance[1:, 1:], np.ones((beats - 1, 1))], [np.ones((1, beats - 1)), np.zeros((1, 1))]])
    foretold = np.linalg.solve(past, np.append(covariance[1:, 0], 1.0))[:-1]
    weights = np.append(1.0, -foretold)
    return np.asarray((weights / np.sqrt(weights @ covariance @ weights))[::-1])


def spread(weights: FloatArray, ripple: FloatArray) -> float:
    """Return the standard deviation that ripple of autocovariance `ripple` leaves in a sum with `weights`."""
    return float(np.sqrt(weights @ covariance_matrix(ripple) @ weights))


def rate_spread(weights: FloatArray, beat_s: float, *, lag_min: float, ware: Ware) -> float:
    """Return the standard deviation of rate weights' error that comes from the ware's own changes, degC/h."""
    steps, age_min = _steps(len(weights), beat_s)
    answer = steps @ weights[::-1]
    cross = answer @ _likeness(age_min - lag_min, ware)
    square = answer @ _likeness(np.subtract.outer(age_min, age_min), ware) @ answer
    return float(np.sqrt(np.maximum(0.0, square - 2.0 * cross + ware.rate_sd_c_per_h**2)))


def _pulse_likeness(reach: int, beat_s: float, period_s: float) -> FloatArray:
    """Return a pulse's autocorrelation, seen through means over beats, on cells from -reach to reach.

    The pulse is the answer of two first-order lags in series to a stoke, rise and decay.
    """
    x = np.abs(np.arange(-reach, reach + 1)) * _CELL_S
    decay, rise = _DECAY_PERIODS * period_s, _RISE_MIN * 60.0
    alone = (decay * np.exp(-x / decay) - rise * np.exp(-x / rise)) / (decay**2 - rise**2)
    box = np.full(round(beat_s / _CELL_S), _CELL_S / beat_s)
    return np.convolve(alone, np.convolve(box, box), mode="same")


def _stoke_density(reach: int, period_s: float, crew: Crew) -> FloatArray:
    """Return how densely other stokes lie before and after a stoke, per second, on cells from -reach to reach."""
    x = np.arange(-reach, reach + 1) * _CELL_S
    number = np.arange(1, int(reach * _CELL_S / period_s) + 8)[:, None]
    width = np.maximum(crew.interval_scatter * period_s, _CELL_S) * np.sqrt(number)
    density = np.exp(-0.5 * ((np.abs(x) - number * period_s) / width) ** 2) / (width * np.sqrt(2.0 * np.pi))
    return np.asarray(density.sum(axis=0))


def _steps(beats: int, beat_s: float) -> tuple[FloatArray, FloatArray]:
    """Return how the rate between neighbouring beats enters each beat (beats - 1, beats), newest first, and its age.

    With T_k the mean of the beat k ago, T_k = T_0 - (r_1 + ... + r_k) beat_s / 3600; r_j is j beats old at the end.
    """
    number = np.arange(1, beats)
    entered: FloatArray = np.where(np.arange(beats) >= number[:, None], -beat_s / 3600.0, 0.0)
    return entered, np.asarray(number * (beat_s / 60.0), dtype=np.float64)


def _likeness(distance_min: FloatArray, ware: Ware) -> FloatArray:
    """Return the covariance of the ware's rate at a distance in time, (degC/h)^2: Matern with exponent 3/2."""
    d = np.sqrt(3.0) * np.abs(distance_min) / ware.rate_time_min
    covariance: FloatArray = ware.rate_sd_c_per_h**2 * (1.0 + d) * np.exp(-d)
    return covariance


def covariance_matrix(row: FloatArray) -> FloatArray:
    """Return the matrix (n, n) of a stationary process of autocovariance `row` (n,)."""
    n = np.arange(len(row))
    return np.asarray(row[np.abs(np.subtract.outer(n, n))])


def _least_error(
    steps: FloatArray, linear: FloatArray, *, ripple: FloatArray, ware: Ware, goals: tuple[float, float]
) -> FloatArray:
    """Return w, oldest first, of least w'(R + S'QS)w - 2 w'linear with sum(w) and the slope's answer as `goals` say.

    R is the covariance of ripple, Q that of the rates, S the steps; two Lagrange multipliers keep the goals.
    """
    beats = steps.shape[1]
    age_min = -steps[:, -1].cumsum() * 60.0
    rates = _likeness(np.subtract.outer(age_min, age_min), ware)
    quadratic = covariance_matrix(ripple) + steps.T @ rates @ steps
    lines = np.vstack([np.ones(beats), steps.sum(axis=0)])
    matrix = np.block([[quadratic, lines.T], [lines, np.zeros((2, 2))]])
    weights: FloatArray = np.linalg.solve(matrix, np.concatenate([linear, goals]))[:beats]
    return weights[::-1].copy()
