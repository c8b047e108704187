"""Rate of rise net of stoke ripple, and level net of stoke ripple, of every sensor at every beat.

Both are weighted sums over the last 40 min, with the weights that `filters` derives. A history that has only begun
takes shorter weights, with a greater uncertainty. The rate is that of 8 min ago, the level that of 3.5 min ago: this
is the price of knowing it net of ripple. Beside this plain rate there is one of the history that `answers` has cleaned;
the rougher of the two, as it has shown over the last hours, counts for less.
"""

from dataclasses import dataclass

import numpy as np

from monitor.engine.answers import (
    BEFORE_BEATS,
    WINDOW_BEATS,
    Answers,
    Looks,
    cleaned,
    lay_out_looks,
    learn,
    look_at_terms,
    take_pushes,
)
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
    whitening_weights,
)
from monitor.engine.limits import BEAT_S, CLIMB_LAG_MIN, HISTORY_BEATS, LEVEL_LAG_MIN
from monitor.engine.setup import BoolArray
from monitor.model import FloatArray

PERIODS_BEATS = range(6, 31)
"""Stoke intervals that are looked for in the ripple, beats: 3 to 15 min."""

SPANS_BEATS = (24, 32, 44, 60, HISTORY_BEATS)
"""Lengths of unbroken history for which weights are laid out: 12, 16, 22, 30 and 40 min."""

PLAIN, CLEAN = 0, 1
"""The two rates: of the history as it is, and of the history without the answers to stokes."""

_CLEAN_ROW = len(SPANS_BEATS)
_STEADY_CREW = Crew(interval_scatter=0.015, charge_scatter=0.02)
_SCATTERED_CREW = Crew(interval_scatter=0.15, charge_scatter=0.2)
_DESIGN_CREW = Crew(interval_scatter=0.02, charge_scatter=0.03)
_BRIDGED = 2.0
_LONGER = 0.01
_RIPPLE_SD_C = 6.0
_NOISE_SD_C = 0.5
_CLEAN_RIPPLE_SD_C = 1.0
_CLEAN_NOISE_SD_C = 0.3
_LEARN_RIPPLE_SD_C = 0.5
_LEARN_CREW = Crew(interval_scatter=0.1, charge_scatter=0.1)
_BENDS_AT = (-1, -9, -17, -33)
_ROUGH_MEMORY_BEATS = 180.0
_ROUGH_LEAST = 16
_SMOOTHEST = 0.05
_CLIMBING_WARE = Ware(rate_sd_c_per_h=20.0, rate_time_min=60.0)
_LIVELY_WARE = Ware(rate_sd_c_per_h=30.0, rate_time_min=45.0)
_USUAL_WARE = Ware(rate_sd_c_per_h=15.0, rate_time_min=60.0)
_FALLING_WARE = Ware(rate_sd_c_per_h=60.0, rate_time_min=20.0)


@dataclass(frozen=True, slots=True, eq=False)
class Bank:
    """Weights per span, padded at the old end: `rate`, `level` (B, n), and what they leave of ripple.

    The last row is for cleaned histories, whose newest beats are unknown; `whiten` (m,) leaves of such a history what
    its past does not foretell, and `looks` are these two for `look_at_terms`. `lag_s` (B,) is how long ago the rate
    holds. `steady` (B, P) is degC/h of error per degC of ripple that repeats itself after each of `PERIODS_BEATS`,
    `scattered` (B,) of ripple that does not, `noise` (B,) per degC of noise, `own` (B,) degC/h from the ware's own
    changes. `ripple` (n, n) is the covariance of ripple of unit variance.
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
    whiten: FloatArray
    looks: Looks


@dataclass(slots=True, eq=False)
class Climb:
    """The newest rate, degC/h, and level, degC, of each sensor (K, S), NaN while unknown; `row` which weights made it.

    `beat` (K, S) is the beat of the newest rate that was known. Of the plain and the clean rate: `tried` (K, S, 2, n)
    their last values, `rough` (K, S, 2) how much they moved back and forth, (degC/h)^2, `seen` (K, S, 2) in how many
    beats; `trust` (K, S) is the share of the clean one in the rate.
    """

    rate: FloatArray
    level: FloatArray
    row: IntArray
    beat: IntArray
    tried: FloatArray
    rough: FloatArray
    seen: IntArray
    trust: FloatArray


def new_climb(shape: tuple[int, int]) -> Climb:
    """Return the state of kilns and sensors of `shape` before the first beat."""
    return Climb(
        rate=np.full(shape, np.nan),
        level=np.full(shape, np.nan),
        row=np.full(shape, -1),
        beat=np.full(shape, 0),
        tried=np.full((*shape, 2, -min(_BENDS_AT)), np.nan),
        rough=np.zeros((*shape, 2)),
        seen=np.zeros((*shape, 2), np.int64),
        trust=np.zeros(shape),
    )


def lay_out_bank() -> Bank:
    """Return the weights of every span; some hundredths of a second of work at the start."""
    rows = len(SPANS_BEATS) + 1
    rate, level, lag_s, own = (np.zeros(shape) for shape in [(rows, HISTORY_BEATS)] * 2 + [(rows,)] * 2)
    ripple = ripple_covariance(HISTORY_BEATS, BEAT_S, _DESIGN_CREW)
    noise = np.where(np.arange(HISTORY_BEATS) == 0, 1.0, 0.0)
    rest = _RIPPLE_SD_C**2 * ripple + _NOISE_SD_C**2 * noise
    for i, span in enumerate(SPANS_BEATS):
        lag_min = min(CLIMB_LAG_MIN, span * BEAT_S / 120.0)
        weights = rate_weights(span, BEAT_S, lag_min=lag_min, ripple=rest[:span], ware=_CLIMBING_WARE)
        rate[i, -span:], lag_s[i] = weights, lag_min * 60.0
        level[i, -span:] = level_weights(span, BEAT_S, lag_min=LEVEL_LAG_MIN, ripple=rest[:span], ware=_FALLING_WARE)
        own[i] = rate_spread(weights, BEAT_S, lag_min=lag_min, ware=_USUAL_WARE)
    rate[_CLEAN_ROW, :WINDOW_BEATS], own[_CLEAN_ROW] = _clean_weights(ripple, noise)
    lag_s[_CLEAN_ROW] = CLIMB_LAG_MIN * 60.0
    whiten = _learning_weights(noise)
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
        whiten=whiten,
        looks=lay_out_looks(whiten, rate[_CLEAN_ROW, :WINDOW_BEATS]),
    )


def _clean_weights(ripple: FloatArray, noise: FloatArray) -> tuple[FloatArray, float]:
    """Return the rate's weights for a cleaned history, and the error that the ware's own changes leave, degC/h."""
    lag_min = CLIMB_LAG_MIN - BEFORE_BEATS * BEAT_S / 60.0
    rest = (_CLEAN_RIPPLE_SD_C**2 * ripple + _CLEAN_NOISE_SD_C**2 * noise)[:WINDOW_BEATS]
    weights = rate_weights(WINDOW_BEATS, BEAT_S, lag_min=lag_min, ripple=rest, ware=_LIVELY_WARE)
    return weights, rate_spread(weights, BEAT_S, lag_min=lag_min, ware=_USUAL_WARE)


def _learning_weights(noise: FloatArray) -> FloatArray:
    """Return the weights that take off a history what ware, and some ripple that is no answer, explain."""
    ripple = _LEARN_RIPPLE_SD_C**2 * ripple_covariance(WINDOW_BEATS, BEAT_S, _LEARN_CREW)
    rest = ripple + _NOISE_SD_C**2 * noise[:WINDOW_BEATS]
    return whitening_weights(WINDOW_BEATS, BEAT_S, ripple=rest, ware=_CLIMBING_WARE)


def judge_climb(climb: Climb, answers: Answers, bank: Bank, beats: Beats, *, heard: Heard, cells: FloatArray) -> None:
    """Take up the beat that `heard` tells of, of slots `cells`: rate and level become NaN where it brought nothing."""
    take_pushes(answers, beats, heard, cells)
    row = np.searchsorted(bank.spans, beats.span, side="right") - 1
    known = heard.valid & (row >= 0)
    row = np.where(known, row, 0)
    newest = beats.ring[:, :, -1:]
    # the newest reading is taken off first: weights that sum to nothing then keep their digits
    rise = beats.ring - newest
    rise[np.isnan(rise)] = 0.0
    plain = np.where(known, _weighed(rise, bank.rate, row), np.nan)
    new, rated = rise[:, :, :WINDOW_BEATS] @ bank.whiten, rise @ bank.rate[_CLEAN_ROW]
    terms = look_at_terms(answers.ring, answers.held, bank.looks)
    learn(answers, beats, heard, reading=new, terms=terms[..., 0])
    whole = known & (beats.span == HISTORY_BEATS) & ~beats.bridged.any(axis=2) & (answers.answer != 0.0).any(axis=2)
    clean = rated - (answers.answer * terms[..., 1]).sum(axis=2)
    if heard.forget.any():
        climb.tried[heard.forget] = np.nan
    rates = np.empty((*plain.shape, 2))
    rates[..., PLAIN], rates[..., CLEAN] = plain, np.where(whole, clean, np.nan)
    climb.rate = _mixed(climb, rates, heard.elapsed)
    climb.level = np.where(known, newest[:, :, 0] + _weighed(rise, bank.level, row), np.nan)
    climb.row = np.where(known, row, climb.row)
    climb.beat = np.where(known, heard.beat, climb.beat)


def _weighed(rise: FloatArray, weights: FloatArray, row: IntArray) -> FloatArray:
    """Return the sums (K, S) of `rise` (K, S, n) by `row` (K, S) of `weights` (B, n); most often all share one."""
    first = row.flat[0]
    rows = weights[first] if (row == first).all() else weights[row]
    return np.asarray((rise * rows).sum(axis=2))


def _mixed(climb: Climb, rates: FloatArray, elapsed: int) -> FloatArray:
    """Return the rate (K, S) from plain and clean `rates` (K, S, 2), each by how smooth it has been.

    The ware's rate changes slowly; what moves back and forth within minutes is ripple that got through. Second
    differences over 4 and 8 min measure it: of an error that is independent over such times, six times its variance.
    """
    n = min(elapsed, climb.tried.shape[3])
    climb.tried[..., :-n] = climb.tried[..., n:]
    climb.tried[..., -n:] = np.nan
    climb.tried[..., -1] = rates
    now, near, far, farthest = (climb.tried[..., at] for at in _BENDS_AT)
    bend = ((now - 2.0 * near + far) ** 2 + (now - 2.0 * far + farthest) ** 2) / 12.0
    moved = np.isfinite(bend)
    climb.seen += moved
    share = np.maximum(1.0 / _ROUGH_MEMORY_BEATS, 1.0 / np.maximum(climb.seen, 1))
    climb.rough = np.where(moved, climb.rough + share * (bend - climb.rough), climb.rough)
    weight = np.where(np.isfinite(rates), 1.0 / np.maximum(climb.rough, _SMOOTHEST) ** 2, 0.0)
    weight[..., CLEAN] *= climb.seen[..., CLEAN] >= _ROUGH_LEAST
    climb.trust = weight[..., CLEAN] / np.maximum(weight.sum(axis=2), 1e-12)
    clean = np.where(climb.trust > 0.0, rates[..., CLEAN], 0.0)
    return np.asarray((1.0 - climb.trust) * rates[..., PLAIN] + climb.trust * clean)


def told_climb(climb: Climb, answers: Answers, bank: Bank, beats: Beats, kilns: slice) -> tuple[FloatArray, FloatArray]:
    """Return climb and its standard uncertainty (k, S) of some kilns in degC/h, as a person may read them.

    NaN while unknown. Plain and clean rate each have an error by what their history holds, and one by how rough they
    have been: the greater counts, the ware's own changes are added, and both are mixed as the rates are.
    """
    rate, trust = climb.rate[kilns], climb.trust[kilns]
    known = np.isfinite(rate)
    span = np.where(known, beats.span[kilns], 0)
    row = np.maximum(climb.row[kilns], 0)
    plain = _history_error(bank, beats.ring[kilns], span, row, beats.bridged[kilns])
    history = cleaned(answers, beats, kilns)
    whole = np.where(span == HISTORY_BEATS, WINDOW_BEATS, 0)
    none = np.zeros(history.shape, bool)
    clean = _history_error(bank, history, whole, np.full(row.shape, _CLEAN_ROW), none)
    rough = np.where(climb.seen[kilns] >= _ROUGH_LEAST, climb.rough[kilns], 0.0)
    plain = np.maximum(plain, rough[..., PLAIN]) + bank.own[row] ** 2
    clean = np.maximum(clean, rough[..., CLEAN]) + bank.own[_CLEAN_ROW] ** 2
    error = (1.0 - trust) * plain + trust * clean
    return rate, np.where(known, np.sqrt(error), np.nan)


def _history_error(bank: Bank, ring: FloatArray, span: IntArray, row: IntArray, bridged: BoolArray) -> FloatArray:
    """Return the variance (K, S) of rates by weights `row` (K, S) from histories `ring` (K, S, n), (degC/h)^2.

    The ripple of the history is split into what repeats itself and what does not, by the highest correlation of the
    history with itself 3 to 15 min before; each leaves its own share, and so does ripple that a gap has hidden.
    """
    n = ring.shape[2]
    rest = ripple_of(ring, span)
    power = np.nan_to_num(rest * rest).sum(axis=2) / np.maximum(np.isfinite(rest).sum(axis=2), 1)
    likeness, period = self_likeness(np.nan_to_num(rest))
    scattered = (1.0 - likeness) * bank.scattered[row]
    hidden = np.where(bridged, bank.rate[row][..., -n:], 0.0)
    lost = _BRIDGED * ((hidden @ bank.ripple[:n, :n]) * hidden).sum(axis=2)
    error = power * (bank.steady[row, period] ** 2 + scattered**2 + lost)
    return np.asarray(error + (_NOISE_SD_C * bank.noise[row]) ** 2)


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
