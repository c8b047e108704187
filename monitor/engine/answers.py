"""What stokes leave in a sensor's reading, learned from the sensor itself and taken off.

Stokes show as quick falls and rises. Each quick move is a push whose size is the move; the reading's answer to a push
is taken as linear and lasting in its shape, and is learned by least squares with a memory of hours, from readings freed
of what the ware explains. No period enters, so that none can be wrong, and a crew may be as uneven as it likes. The
answer begins up to a minute before the push is seen, so all this ends a minute ago. See README.md of this room.
"""

from dataclasses import dataclass

import numpy as np

from monitor.engine.beats import Beats, Heard, IntArray
from monitor.engine.limits import BEAT_S, HISTORY_BEATS, SLOTS_PER_BEAT, SPIKE_C
from monitor.model import FloatArray

BEFORE_BEATS = 2
"""How long before it is seen a push may already be answered: 1 min."""

WINDOW_BEATS = HISTORY_BEATS - BEFORE_BEATS
"""Beats that can be cleaned: all but the newest `BEFORE_BEATS`."""

_TAPS = 6
"""Beats, from `BEFORE_BEATS` before the push on, in which the answer is free to take any shape."""

_DECAYS_MIN = np.array([1.0, 2.0, 4.0, 8.0])
"""Beside them it is a sum of exponentials, minutes. Slower ones could not be told from ware."""

_SHAPES = _TAPS + len(_DECAYS_MIN)
TERMS = 2 * _SHAPES
"""Of one answer: falls and rises have their own."""

_RING_BEATS = WINDOW_BEATS + _TAPS - 1

_QUICK_C = 0.8
"""A move over 15 s that is a push, degC: three times what a noise of 0.3 degC a slot makes of it."""

_QUICK_SHARE = 0.5
"""A move must also be this share of the root mean square of moves over the last `_MOVES_BEATS`."""

_MOVES_BEATS = 60.0
_MEMORY_BEATS = 360.0
"""How long answers are remembered, beats: 3 h, for kilns change from stage to stage."""

_RIDGE = 1e-4
"""Added to the terms' correlations: keeps near twins apart."""

_SOLVE_EVERY = 20
"""Answers are learned from at every beat, and solved for every 10 min."""

_WAITING = 2
"""How many solutions wait before they are used: a change of the ware in the last 20 min cannot pass for an answer."""

_NO_GAP_BEATS = 20
"""Nothing is learned while a bridged gap lies in the newest 10 min."""


@dataclass(slots=True, eq=False)
class Answers:
    """Pushes of each sensor and what has been learned of the answers to them.

    `cells` (K, S, slots) is the beat before, `pushes` (K, S, 2, slots) its falls and rises in degC, `moves` (K, S) the
    mean square of moves, `heard` (K, S) over how many beats. `ring` (K, S, 2, n) are pushes by beat, newest last, and
    `held` (K, S, 2, D) what each decay still holds of older ones. `squares` (K, S, M (M + 1) / 2), the half of a
    symmetric matrix, and `right` (K, S, M) are the sums of least squares, `waiting` (K, S, W, M) the terms' sizes that
    came out, oldest first, `answer` (K, S, M) those in use.
    """

    cells: FloatArray
    pushes: FloatArray
    moves: FloatArray
    heard: IntArray
    ring: FloatArray
    held: FloatArray
    squares: FloatArray
    right: FloatArray
    waiting: FloatArray
    answer: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Looks:
    """W weighted sums over what can be cleaned, as weights over pushes (m, T W) and over what decays hold (D, D W)."""

    ring: FloatArray
    held: FloatArray
    count: int


def new_answers(shape: tuple[int, int]) -> Answers:
    """Return the state of kilns and sensors of `shape` before the first beat."""
    return Answers(
        cells=np.full((*shape, SLOTS_PER_BEAT), np.nan),
        pushes=np.zeros((*shape, 2, SLOTS_PER_BEAT)),
        moves=np.zeros(shape),
        heard=np.zeros(shape, np.int64),
        ring=np.zeros((*shape, 2, _RING_BEATS)),
        held=np.zeros((*shape, 2, len(_DECAYS_MIN))),
        squares=np.zeros((*shape, len(_HALF[0]))),
        right=np.zeros((*shape, TERMS)),
        waiting=np.zeros((*shape, _WAITING, TERMS)),
        answer=np.zeros((*shape, TERMS)),
    )


def take_pushes(answers: Answers, beats: Beats, heard: Heard, cells: FloatArray) -> None:
    """Find the quick moves of the newest beat's `cells` (K, S, slots), NaN where there is none; move the ring on.

    A slot far from its beat's value is a spike, and no push.
    """
    near = np.abs(cells - beats.ring[:, :, -1:]) <= SPIKE_C
    cells = np.where(near, cells, np.nan)
    follows = heard.elapsed == 1
    pushes = _pushes(answers, np.concatenate([answers.cells if follows else cells * np.nan, cells], axis=2))
    n = heard.elapsed
    answers.held = answers.held * _FADE**heard.elapsed + answers.ring[..., :n] @ _LEAVING[_RING_BEATS - n :]
    if n < _RING_BEATS:
        answers.ring[..., :-n] = answers.ring[..., n:]
    answers.ring[..., -n:] = 0.0
    answers.ring[..., -1] = pushes @ _BOX
    if follows:
        answers.ring[..., -1] += answers.pushes @ (1.0 - _BOX)
    answers.cells, answers.pushes = cells, pushes


def lay_out_looks(*weights: FloatArray) -> Looks:
    """Return what `look_at_terms` needs to weight every term with each of `weights` (n,), oldest first."""
    count = len(weights)
    ring, held = np.zeros((_RING_BEATS, _SHAPES, count)), np.zeros((len(_DECAYS_MIN), len(_DECAYS_MIN), count))
    at = np.arange(_TAPS - 1, _RING_BEATS)
    since = np.subtract.outer(at, np.arange(_RING_BEATS))
    for j, each in enumerate(weights):
        for tap in range(_TAPS):
            ring[tap : tap + WINDOW_BEATS, tap, j] = each
        for i, fade in enumerate(_FADE):
            ring[:, _TAPS + i, j] = each @ np.where(since >= 0, fade ** np.maximum(since, 0), 0.0)
            held[i, i, j] = each @ fade ** (at + 1)
    return Looks(ring.reshape(_RING_BEATS, -1), held.reshape(len(_DECAYS_MIN), -1), count)


def look_at_terms(ring: FloatArray, held: FloatArray, looks: Looks) -> FloatArray:
    """Return the weighted sums (K, S, M, W) of what each term of an answer gives for pushes `ring` and `held`."""
    sums = ring @ looks.ring
    sums[..., _TAPS * looks.count :] += held @ looks.held
    return np.asarray(sums.reshape(*ring.shape[:2], TERMS, looks.count))


def learn(answers: Answers, beats: Beats, heard: Heard, *, reading: FloatArray, terms: FloatArray) -> None:
    """Learn from the newest beat that can be cleaned.

    `reading` (K, S) is what its past does not foretell of it, and `terms` (K, S, M) the same of each term.
    """
    if heard.forget.any():
        for kept in (answers.squares, answers.right, answers.waiting, answers.answer):
            kept[heard.forget] = 0.0
    whole = heard.valid & (beats.span == HISTORY_BEATS) & ~beats.bridged[:, :, -_NO_GAP_BEATS:].any(axis=2)
    whole = whole[:, :, None]
    fade = np.where(whole, _FORGET, 1.0)
    terms = terms * whole
    rows, columns = (terms.take(half, axis=2, mode="wrap") for half in _HALF)  # "wrap" is the fastest gather
    answers.squares = fade * answers.squares + rows * columns
    answers.right = fade * answers.right + terms * reading[:, :, None]
    if heard.beat % _SOLVE_EVERY == 0:
        answers.answer = answers.waiting[:, :, 0].copy()
        answers.waiting[:, :, :-1] = answers.waiting[:, :, 1:]
        answers.waiting[:, :, -1] = _solved(answers.squares, answers.right)


def cleaned(answers: Answers, beats: Beats, kilns: slice) -> FloatArray:
    """Return some kilns' histories (k, S, n) up to `BEFORE_BEATS` ago without what stokes left in them, degC."""
    terms = look_at_terms(answers.ring[kilns], answers.held[kilns], _EACH_BEAT)
    ripple = (answers.answer[kilns][..., None] * terms).sum(axis=2)
    return np.asarray(beats.ring[kilns][:, :, :WINDOW_BEATS] - ripple)


def _pushes(answers: Answers, cells: FloatArray) -> FloatArray:
    """Return quick falls and rises (K, S, 2, slots), degC, of the newer half of `cells` (K, S, 2 slots)."""
    mean = (cells[:, :, 2:] + cells[:, :, 1:-1] + cells[:, :, :-2]) / 3.0
    move = (mean[:, :, 3:] - mean[:, :, :-3])[:, :, -SLOTS_PER_BEAT:]
    known = np.isfinite(move)
    move = np.where(known, move, 0.0)
    count = known.sum(axis=2)
    answers.heard += count > 0
    share = np.maximum(1.0 / _MOVES_BEATS, 1.0 / np.maximum(answers.heard, 1))
    square = (move * move).sum(axis=2) / np.maximum(count, 1)
    answers.moves += np.where(count > 0, share * (square - answers.moves), 0.0)
    quick = np.maximum(_QUICK_C, _QUICK_SHARE * np.sqrt(answers.moves))[:, :, None]
    push = np.where(np.abs(move) > quick, move, 0.0)
    both = np.empty((*push.shape[:2], 2, SLOTS_PER_BEAT))
    np.maximum(-push, 0.0, out=both[:, :, 0])
    np.maximum(push, 0.0, out=both[:, :, 1])
    return both


def _solved(squares: FloatArray, right: FloatArray) -> FloatArray:
    """Return the terms' sizes (K, S, M) by least squares with a ridge, 0 for terms that never were."""
    normal = squares[..., _PLACE]
    scale = 1.0 / np.sqrt(squares[..., _PLACE.diagonal()] + 1e-9)
    ridged = normal * scale[..., :, None] * scale[..., None, :] + _RIDGE * np.eye(TERMS)
    return np.asarray(np.linalg.solve(ridged, (right * scale)[..., None])[..., 0] * scale)


_FADE = np.exp(-BEAT_S / 60.0 / _DECAYS_MIN)
"""What is left of each decay after a beat (D,)."""

_FORGET = np.exp(-1.0 / _MEMORY_BEATS)
"""What a beat leaves of what was learned before it."""

_LEAVING = _FADE ** np.arange(_RING_BEATS)[::-1, None]
"""What each decay holds of a push of each beat of the ring as the newest leaves it (n, D)."""

_BOX = (SLOTS_PER_BEAT - np.arange(SLOTS_PER_BEAT)) / SLOTS_PER_BEAT
"""How a push at each slot shows in its own beat when its answer lasts as long as a beat; the rest in the next."""

_HALF = np.triu_indices(TERMS)
_PLACE = np.zeros((TERMS, TERMS), np.int64)
_PLACE[_HALF] = _PLACE.T[_HALF] = np.arange(len(_HALF[0]))
"""Where each cell of the symmetric matrix stands in its half."""

_EACH_BEAT = lay_out_looks(*np.eye(WINDOW_BEATS))
