"""How this kiln answers a stoke, learnt from the stokes that were told, and evidence for one more.

Each sensor's mean surprise per slot since the last stoke, and its scatter. The first 70 s are a matched filter for the
next stoke, all sensors together; what comes later is taken off, so that a burst that dies down is no new stoke.
"""

from dataclasses import dataclass

import numpy as np

from monitor.engine.limits import STOKE_PENALTY
from monitor.engine.setup import BoolArray, IntArray
from monitor.engine.stoke_cells import BLOCK
from monitor.engine.stoke_shapes import WINDOW
from monitor.model import FloatArray

AGES = 54
"""Slots after a stoke for which the answer is learnt: 4.5 min."""

_MEMORY = 12.0
_LEAST = 4.0
_AMOUNT_SPREAD = 0.5
_TRUST = 6.0
_SCALE_STEP = 0.01
_SCALE_LIMITS = (0.7, 6.0)
_CALM = 2.5
_UNTIL = WINDOW + 24
_LEAST_AFTER, _LEAST_POWER_AFTER, _MOST_AFTER = 8.0, 3.0, 6.0
_MEDIAN_OF_NORMAL = 0.6745
_WINDOWS = np.arange(BLOCK)[:, None] + np.arange(WINDOW)


@dataclass(slots=True, eq=False)
class Answer:
    """What is remembered of each kiln's answers.

    `mean` and `scatter` (K, S, AGES) of surprises since a stoke, scatter as a variance; `count` (K, AGES) stokes learnt
    from; `scale` (K,) how far evidence strays without a stoke, 1 where the noise is as modelled.
    """

    mean: FloatArray
    scatter: FloatArray
    count: FloatArray
    scale: FloatArray


def new_answer(shape: tuple[int, int]) -> Answer:
    """Return the state of kilns and sensors of `shape` before the first stoke."""
    each = (*shape, AGES)
    return Answer(np.zeros(each), np.ones(each), np.zeros((shape[0], AGES)), np.ones(shape[0]))


def learn_answer(answer: Answer, surprise: FloatArray, age: IntArray) -> None:
    """Learn from a block's `surprise` (K, S, n), `age` (K, n) slots after the last stoke."""
    for kiln in np.flatnonzero((age < AGES).any(axis=1)).tolist():
        near = age[kiln] < AGES
        at = age[kiln, near]
        answer.count[kiln, at] += 1.0
        gain = np.maximum(1.0 / answer.count[kiln, at], 1.0 / _MEMORY)
        values = surprise[kiln][:, near]
        known = np.isfinite(values)
        off = np.where(known, values, 0.0) - answer.mean[kiln][:, at]
        answer.mean[kiln, :, at] += np.where(known, gain * off, 0.0).T
        more = gain * (off * off - answer.scatter[kiln][:, at])
        answer.scatter[kiln, :, at] += np.where(known, more, 0.0).T


def without_aftermath(answer: Answer, surprise: FloatArray, age: IntArray) -> FloatArray:
    """Return `surprise` (K, S, n) less what the last stoke, `age` (K, n) slots before, still explains."""
    late = (age >= WINDOW) & (age < AGES)
    if not late.any():
        return surprise
    kiln = np.arange(len(age))[:, None]
    at = np.where(late, age, 0)
    learnt = late & (answer.count[kiln, at] >= 3.0)
    mean = np.where(learnt[:, :, None], answer.mean[kiln, :, at], 0.0)
    scatter = np.where(learnt[:, :, None], np.maximum(answer.scatter[kiln, :, at], 1.0), 1.0)
    return np.asarray((surprise - np.swapaxes(mean, 1, 2)) / np.sqrt(np.swapaxes(scatter, 1, 2)))


def evidence(
    answer: Answer, surprise: FloatArray, shapes: FloatArray, fire: BoolArray
) -> tuple[FloatArray, FloatArray]:
    """Return log likelihood ratios (K, n) that a stoke begins with each window of `surprise` (K, S, n).

    `shapes` (K, S, WINDOW, B) are tried at the sensors `fire` (K, S); what was learnt counts at every one. The second
    is by the shapes alone.
    """
    known = np.isfinite(surprise)
    value = np.where(known, surprise, 0.0)
    windows = value[:, :, _WINDOWS]
    heard = None if known.all() else known.astype(np.float64)[:, :, _WINDOWS]
    general = _general(windows, heard, shapes, fire)
    learnt, weight = _learnt(answer, windows, heard)
    if not weight.any():
        return general, general
    both = np.logaddexp(general + np.log(1.0 - weight), learnt + np.log(np.maximum(weight, 1e-12)))
    return np.asarray(both), general


def shows_after(answer: Answer, kiln: int) -> bool:
    """Return whether it is known, and to be seen, what burning wood does after the window of a stoke."""
    mean = answer.mean[kiln, :, WINDOW:_UNTIL]
    count = answer.count[kiln, WINDOW:_UNTIL]
    return bool(count.min() >= _LEAST_AFTER and (mean * mean).sum() - _chance(count, mean) > _LEAST_POWER_AFTER)


def burns_after(answer: Answer, kiln: int, surprise: FloatArray) -> float:
    """Return the log likelihood ratio of burning wood against none, from `surprise` (S, n) after the window."""
    mean = answer.mean[kiln, :, WINDOW : WINDOW + surprise.shape[1]]
    known = np.isfinite(surprise)
    ratio = (np.where(known, mean * surprise, 0.0) - np.where(known, 0.5 * mean * mean, 0.0)).sum()
    return float(np.clip(ratio / answer.scale[kiln] ** 2, -_MOST_AFTER, _MOST_AFTER))


def _chance(count: FloatArray, mean: FloatArray) -> float:
    """Return the power that noise alone leaves in a mean over `count` stokes."""
    return float(mean.shape[0] * (1.0 / np.minimum(count, _MEMORY)).sum())


def _general(windows: FloatArray, heard: FloatArray | None, shapes: FloatArray, fire: BoolArray) -> FloatArray:
    """Generalised likelihood ratio over amounts and shapes, less a penalty for the choice."""
    match = windows @ shapes
    if heard is not None:
        match = match / np.sqrt(heard @ (shapes * shapes) + 1e-9)
    best = np.where(fire[:, :, None], match.max(axis=3), 0.0).max(axis=1)
    return np.asarray(0.5 * np.maximum(best, 0.0) ** 2 - STOKE_PENALTY)


def _learnt(answer: Answer, windows: FloatArray, heard: FloatArray | None) -> tuple[FloatArray, FloatArray]:
    """Likelihood ratio of the learnt answer times an amount of 1 give or take a half; and how far to trust it."""
    count = answer.count[:, 0]
    mean = answer.mean[:, :, :WINDOW]
    power = (mean * mean).sum(axis=2)
    chance = WINDOW / np.minimum(np.maximum(count, 1.0), _MEMORY)
    mean = mean * (np.maximum(power - chance[:, None], 0.0) / np.maximum(power, 1e-9))[:, :, None]
    power = mean * mean
    size = power.sum(axis=(1, 2))[:, None] if heard is None else np.einsum("kscw,ksw->kc", heard, power)
    match = np.einsum("kscw,ksw->kc", windows, mean)
    usable = (count >= _LEAST)[:, None] & (size > 1.0)
    score = match / np.sqrt(np.maximum(size, 1e-9)) / answer.scale[:, None]
    _learn_scale(answer, score, usable)
    q = size / answer.scale[:, None] ** 2
    c = score * np.sqrt(q)
    spread = _AMOUNT_SPREAD**2
    ratio = (c * c * spread + 2.0 * c - q) / (2.0 * (1.0 + spread * q)) - 0.5 * np.log(1.0 + spread * q)
    weight = np.where(usable, count[:, None] / (count[:, None] + _TRUST), 0.0)
    return ratio, weight


def _learn_scale(answer: Answer, score: FloatArray, usable: BoolArray) -> None:
    """Let the median of calm scores tell how far they stray: neighbours share flicker, whitening is never perfect."""
    calm = usable & (np.abs(score) < _CALM)
    over = np.where(calm, np.sign(np.abs(score) - _MEDIAN_OF_NORMAL), 0.0).sum(axis=1)
    scale = answer.scale * np.exp(_SCALE_STEP * over)
    answer.scale = np.minimum(np.maximum(scale, _SCALE_LIMITS[0]), _SCALE_LIMITS[1])
