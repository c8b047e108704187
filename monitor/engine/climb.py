"""Rate of rise net of stoke ripple, and level net of stoke ripple, of every sensor at every beat.

Both are weighted sums over the last 40 min, with the weights that `filters` derives. A history that has only begun
takes shorter weights, with a greater uncertainty. The rate is that of 8 min ago, the level that of 3.5 min ago: this
is the price of knowing it net of ripple.
"""

from dataclasses import dataclass

import numpy as np

from monitor.engine.beats import Beats, Heard, IntArray
from monitor.engine.filters import (
    Crew,
    Ware,
    covariance_matrix,
    level_weights,
    rate_spread,
    rate_weights,
    ripple_covariance,
    spread,
)
from monitor.engine.limits import BEAT_S, CLIMB_LAG_MIN, HISTORY_BEATS, LEVEL_LAG_MIN
from monitor.model import FloatArray

PERIODS_BEATS = range(6, 31)
"""Stoke intervals that are looked for in the ripple, beats: 3 to 15 min."""

SPANS_BEATS = (24, 32, 44, 60, HISTORY_BEATS)
"""Lengths of unbroken history for which weights are laid out: 12, 16, 22, 30 and 40 min."""

_STEADY_CREW = Crew(interval_scatter=0.015, charge_scatter=0.02)
_SCATTERED_CREW = Crew(interval_scatter=0.15, charge_scatter=0.2)
_DESIGN_CREW = Crew(interval_scatter=0.02, charge_scatter=0.03)
_BRIDGED = 2.0
_LONGER = 0.01
_RIPPLE_SD_C = 6.0
_NOISE_SD_C = 0.5
_CLIMBING_WARE = Ware(rate_sd_c_per_h=20.0, rate_time_min=60.0)
_USUAL_WARE = Ware(rate_sd_c_per_h=15.0, rate_time_min=60.0)
_FALLING_WARE = Ware(rate_sd_c_per_h=60.0, rate_time_min=20.0)


@dataclass(frozen=True, slots=True, eq=False)
class Bank:
    """Weights per span, padded at the old end: `rate`, `level` (B, n), and what they leave of ripple.

    `lag_s` (B,) is how long ago the rate holds. `steady` (B, P) is degC/h of error per degC of ripple that repeats
    itself after each of `PERIODS_BEATS`, `scattered` (B,) of ripple that does not, `noise` (B,) per degC of noise,
    `own` (B,) degC/h from the ware's own changes. `ripple` (n, n) is the covariance of ripple of unit variance.
    """

    spans: IntArray
    rate: FloatArray
    level: FloatArray
    lag_s: FloatArray
    steady: FloatArray
    scattered: FloatArray
    noise: FloatArray
    own: FloatArray
    ripple: FloatArray


@dataclass(slots=True, eq=False)
class Climb:
    """The newest rate, degC/h, and level, degC, of each sensor (K, S), NaN while unknown; `row` which weights made it.

    `beat` (K, S) is the beat of the newest rate that was known.
    """

    rate: FloatArray
    level: FloatArray
    row: IntArray
    beat: IntArray


def new_climb(shape: tuple[int, int]) -> Climb:
    """Return the state of kilns and sensors of `shape` before the first beat."""
    return Climb(np.full(shape, np.nan), np.full(shape, np.nan), np.full(shape, -1), np.full(shape, 0))


def lay_out_bank() -> Bank:
    """Return the weights of every span; some hundredths of a second of work at the start."""
    shape = (len(SPANS_BEATS), HISTORY_BEATS)
    rate, level, lag_s, own = np.zeros(shape), np.zeros(shape), np.zeros(shape[0]), np.zeros(shape[0])
    ripple = ripple_covariance(HISTORY_BEATS, BEAT_S, _DESIGN_CREW)
    noise = np.where(np.arange(HISTORY_BEATS) == 0, 1.0, 0.0)
    rest = _RIPPLE_SD_C**2 * ripple + _NOISE_SD_C**2 * noise
    for i, span in enumerate(SPANS_BEATS):
        lag_min = min(CLIMB_LAG_MIN, span * BEAT_S / 120.0)
        weights = rate_weights(span, BEAT_S, lag_min=lag_min, ripple=rest[:span], ware=_CLIMBING_WARE)
        rate[i, -span:], lag_s[i] = weights, lag_min * 60.0
        level[i, -span:] = level_weights(span, BEAT_S, lag_min=LEVEL_LAG_MIN, ripple=rest[:span], ware=_FALLING_WARE)
        own[i] = rate_spread(weights, BEAT_S, lag_min=lag_min, ware=_USUAL_WARE)
    periods = [np.array([beats * BEAT_S / 60.0]) for beats in PERIODS_BEATS]
    steady = [ripple_covariance(HISTORY_BEATS, BEAT_S, _STEADY_CREW, p) for p in periods]
    scattered = ripple_covariance(HISTORY_BEATS, BEAT_S, _SCATTERED_CREW)
    return Bank(
        spans=np.array(SPANS_BEATS),
        rate=rate,
        level=level,
        lag_s=lag_s,
        steady=np.array([[spread(w, covariance) for covariance in steady] for w in rate]),
        scattered=np.array([spread(w, scattered) for w in rate]),
        noise=np.array([spread(w, noise) for w in rate]),
        own=own,
        ripple=covariance_matrix(scattered),
    )


def judge_climb(climb: Climb, bank: Bank, beats: Beats, heard: Heard) -> None:
    """Take up the beat that `heard` tells of: rate and level become NaN where the beat brought nothing."""
    row = np.searchsorted(bank.spans, beats.span, side="right") - 1
    known = heard.valid & (row >= 0)
    row = np.where(known, row, 0)
    newest = beats.ring[:, :, -1:]
    rise = np.nan_to_num(beats.ring - newest)
    climb.rate = np.where(known, (rise * bank.rate[row]).sum(axis=2), np.nan)
    climb.level = np.where(known, newest[:, :, 0] + (rise * bank.level[row]).sum(axis=2), np.nan)
    climb.row = np.where(known, row, climb.row)
    climb.beat = np.where(known, heard.beat, climb.beat)


def told_climb(climb: Climb, bank: Bank, beats: Beats, kilns: slice) -> tuple[FloatArray, FloatArray]:
    """Return climb and its standard uncertainty (k, S) of some kilns in degC/h, as a person may read them.

    NaN while unknown. The ripple of the history is split into what repeats itself and what does not, by the highest
    correlation of the history with itself 3 to 15 min before; each leaves its own share in the climb, and so does the
    ripple that a bridged gap has hidden.
    """
    rate, bridged = climb.rate[kilns], beats.bridged[kilns]
    known = np.isfinite(rate)
    row = np.maximum(climb.row[kilns], 0)
    rest = ripple_of(beats.ring[kilns], np.where(known, beats.span[kilns], 0))
    power = np.nan_to_num(rest * rest).sum(axis=2) / np.maximum(np.isfinite(rest).sum(axis=2), 1)
    likeness, period = self_likeness(np.nan_to_num(rest))
    scattered = (1.0 - likeness) * bank.scattered[row]
    hidden = np.where(bridged, bank.rate[row], 0.0)
    lost = _BRIDGED * ((hidden @ bank.ripple) * hidden).sum(axis=2)
    error = power * (bank.steady[row, period] ** 2 + scattered**2 + lost)
    error = error + bank.own[row] ** 2 + (_NOISE_SD_C * bank.noise[row]) ** 2
    return rate, np.where(known, np.sqrt(error), np.nan)


def ripple_of(ring: FloatArray, span: IntArray) -> FloatArray:
    """Return what a parabola leaves of each history (K, S, n), NaN beyond its `span` (K, S)."""
    n = ring.shape[2]
    x = np.linspace(-1.0, 1.0, n)
    inside = np.arange(n) >= n - span[:, :, None]
    design = np.stack([np.ones(n), x, x * x], axis=1)
    masked = np.where(inside[..., None], design, 0.0)
    normal = (masked[..., :, None] * masked[..., None, :]).sum(axis=2) + 1e-9 * np.eye(3)
    right = (masked * np.where(inside, ring, 0.0)[..., None]).sum(axis=2)
    fit = (masked * np.linalg.solve(normal, right[..., None])[:, :, None, :, 0]).sum(axis=3)
    return np.where(inside, ring - fit, np.nan)


def self_likeness(rest: FloatArray) -> tuple[FloatArray, IntArray]:
    """Return the highest correlation (K, S) of ripple `rest` (K, S, n) with itself before, and which period gave it."""
    found = np.zeros((len(PERIODS_BEATS), *rest.shape[:2]))
    for i, lag in enumerate(PERIODS_BEATS):
        late, early = rest[:, :, lag:], rest[:, :, :-lag]
        size = np.sqrt((late * late).sum(axis=2) * (early * early).sum(axis=2))
        found[i] = (late * early).sum(axis=2) / np.maximum(size, 1e-12)
    shorter = found - _LONGER * np.arange(len(PERIODS_BEATS))[:, None, None]
    return np.clip(found.max(axis=0), 0.0, 1.0), shorter.argmax(axis=0)
