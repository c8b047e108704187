"""Stokes: each charge of wood through the stoke door, from what it does to the firebox's and the chamber's sensors.

Minute by minute changes are taken in, each is compared with what is usual (`stoke_noise`), evidence is gathered
for every slot (`stoke_answer`), and where evidence and the time since the last one (`stoke_times`) together speak
for a stoke, the best slot is told. Evidence needs 70 s, choosing the best slot half a minute more. A stoke that was too
weak to be told may be told once the next one shows that an interval had room for it.
"""

from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from monitor.engine.limits import (
    BEAT_S,
    SLOTS_PER_BEAT,
    STOKE_APART_S,
    STOKE_BLOCK_BEATS,
    STOKE_FIT_BLOCKS,
    STOKE_LEAST_DIP_C,
    STOKE_LEAST_EVIDENCE,
    STOKE_LEAST_LOG_ODDS,
    STOKE_SURE_AGAINST_LOOK,
)
from monitor.engine.setup import BoolArray, EngineSetup, IntArray
from monitor.engine.stoke_answer import (
    AGES,
    Answer,
    burns_after,
    evidence,
    learn_answer,
    new_answer,
    shows_after,
    without_aftermath,
)
from monitor.engine.stoke_between import find_between
from monitor.engine.stoke_cells import BLOCK, KEPT, LEAD, Cells, new_cells, newest_begin, spacing_s, take_block
from monitor.engine.stoke_noise import Noise, fit_weights, forget, learn_calm, new_noise, surprises
from monitor.engine.stoke_shapes import WINDOW, Shapes
from monitor.engine.stoke_strength import Strength, learn_strength, new_strength, odds_against_look, refuse_look
from monitor.engine.stoke_times import Times, learn_interval, log_odds, new_times
from monitor.model import SLOT_S, FloatArray

HISTORY = 320
"""Slots for which evidence is kept: 27 min."""

NEXT = 6
"""Slots after a candidate that must not be better: 30 s."""

AFTER = 24
"""Slots after its window that a doubtful candidate waits for: 2 min."""

RECENT = 2 * NEXT + BLOCK + AFTER
"""Slots for which it is kept by shapes alone."""

_MOVED = 18
_APART = round(STOKE_APART_S / SLOT_S)
_FIRST = 1.0e6
_NOTHING = -99.0
_PASSED_OVER = KEPT // BLOCK + 1


@dataclass(slots=True, eq=False)
class Stokes:
    """What is remembered between beats.

    `waiting` (K, S, BLOCK) degC of `block` (1,), the open one, -1 before the first; `moved` (K, n) slots that a stoke
    has moved, `age` (K, n) slots since the newest stoke, both as `Cells.change`; `found` (K, HISTORY) evidence by slot,
    newest last, `plain` (K, RECENT) likewise by the shapes alone.
    """

    waiting: FloatArray
    block: IntArray
    moved: BoolArray
    age: IntArray
    found: FloatArray
    plain: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Watch:
    """All state of the stoke detector."""

    cells: Cells
    noise: Noise
    answer: Answer
    times: Times
    strength: Strength
    stokes: Stokes
    shapes: Shapes

    def records(self) -> dict[str, Any]:
        """Return the records that make up the state."""
        return {f"stoke-{f.name}": getattr(self, f.name) for f in fields(self) if f.name != "shapes"}


@dataclass(frozen=True, slots=True)
class Stoke:
    """A stoke that became known: `kiln`, `sensor` that shows it best, dip in degC (NaN: none), onset in epoch seconds.

    `evidence` is the log likelihood ratio it was told with; `is_late` one told only after the next.
    """

    kiln: int
    sensor: int
    dip_c: float
    onset: float
    evidence: float
    is_late: bool = False


def new_stokes(shape: tuple[int, int]) -> Watch:
    """Return the state of kilns and sensors of `shape` before the first slot."""
    kilns = shape[0]
    stokes = Stokes(
        waiting=np.full((*shape, BLOCK), np.nan),
        block=np.full(1, -1),
        moved=np.zeros((kilns, KEPT), bool),
        age=np.full((kilns, KEPT), AGES),
        found=np.full((kilns, HISTORY), _NOTHING),
        plain=np.full((kilns, RECENT), _NOTHING),
    )
    return Watch(
        new_cells(shape),
        new_noise(shape),
        new_answer(shape),
        new_times(kilns),
        new_strength(kilns),
        stokes,
        Shapes(shape),
    )


def judge_stokes(watch: Watch, setup: EngineSetup, beat: int, celsius: FloatArray, closed: BoolArray) -> list[Stoke]:
    """Take in the slots of `beat` (K, S, 6), degC, NaN where unknown; return stokes that became known.

    Beats that were passed over count as beats without a sample. Kilns `closed` (K,) up are not stoked.
    """
    stokes = watch.stokes
    block = -(-beat // STOKE_BLOCK_BEATS)
    told: list[Stoke] = []
    if (last := int(stokes.block[0])) >= 0:
        for number in range(last, min(block, last + _PASSED_OVER)):
            told += _take_waiting(watch, setup, number, closed)
        if block > last + _PASSED_OVER:
            stokes.found[:], stokes.plain[:] = _NOTHING, _NOTHING
    stokes.block[0] = block
    place = (beat - 1) % STOKE_BLOCK_BEATS * SLOTS_PER_BEAT
    stokes.waiting[:, :, place : place + SLOTS_PER_BEAT] = np.where(setup.heat[:, :, None], celsius, np.nan)
    if beat == block * STOKE_BLOCK_BEATS:
        told += _take_waiting(watch, setup, block, closed)
        stokes.block[0] = block + 1
    return told


def _take_waiting(watch: Watch, setup: EngineSetup, block: int, closed: BoolArray) -> list[Stoke]:
    """Take in the slots that wait, those of `block`."""
    told = _take(watch, setup, block, watch.stokes.waiting, closed)
    watch.stokes.waiting[:] = np.nan
    return told


def _take(watch: Watch, setup: EngineSetup, block: int, celsius: FloatArray, closed: BoolArray) -> list[Stoke]:
    cells, noise, stokes, n = watch.cells, watch.noise, watch.stokes, BLOCK
    changed = take_block(cells, celsius)
    _move_on(stokes)
    learn_calm(noise, cells, ~stokes.moved[:, : LEAD + n])
    old_age = stokes.age[:, LEAD : LEAD + n]
    if (old_age < AGES).any():
        learn_answer(watch.answer, surprises(noise, cells, LEAD, LEAD + n), old_age)
    if changed.any():
        forget(noise, changed)
    if changed.any() or block % STOKE_FIT_BLOCKS == 0:
        fit_weights(noise)
    shapes = watch.shapes.of(noise.weights, cells.coarse)
    begin = KEPT - WINDOW - n + 1
    fresh = without_aftermath(watch.answer, surprises(noise, cells, begin, KEPT), stokes.age[:, begin:])
    stokes.found[:, :-n] = stokes.found[:, n:]
    stokes.plain[:, :-n] = stokes.plain[:, n:]
    stokes.found[:, -n:], stokes.plain[:, -n:] = evidence(watch.answer, fresh, shapes, tells_best(watch, setup))
    newest = newest_begin(block * STOKE_BLOCK_BEATS * BEAT_S) - (WINDOW - 2) * SLOT_S
    return _decide(watch, setup, newest, closed)


def tells_best(watch: Watch, setup: EngineSetup) -> BoolArray:
    """Return which sensors (K, S) are searched for a stoke's shapes: at the firebox, without one there all of them."""
    fire = (setup.path == 0) & watch.cells.real[:, :, -BLOCK:].any(axis=2)
    return np.where(fire.any(axis=1, keepdims=True), fire, setup.heat)


def _move_on(stokes: Stokes) -> None:
    n = BLOCK
    stokes.moved[:, :-n] = stokes.moved[:, n:]
    stokes.moved[:, -n:] = False
    newest = stokes.age[:, -1:].copy()
    stokes.age[:, :-n] = stokes.age[:, n:]
    stokes.age[:, -n:] = np.minimum(newest + np.arange(1, n + 1), AGES)


def _decide(watch: Watch, setup: EngineSetup, newest: float, closed: BoolArray) -> list[Stoke]:
    """Tell stokes among the candidates; `newest` is the newest one's onset.

    What may be a look through the door waits until it is seen whether wood burns after it.
    """
    told: list[Stoke] = []
    for wait in (AFTER, 0):
        first = HISTORY - NEXT - BLOCK - wait
        likely = (watch.stokes.found[:, first : first + BLOCK] >= STOKE_LEAST_EVIDENCE) & ~closed[:, None]
        for kiln in np.flatnonzero(likely.any(axis=1)).tolist():
            for at in (first + np.flatnonzero(likely[kiln])).tolist():
                onset = newest - SLOT_S * (HISTORY - 1 - at)
                if _is_stoke(watch, kiln, at, onset, has_waited=wait > 0):
                    told += _place(watch, setup, kiln, at, onset)
    return told


def _is_stoke(watch: Watch, kiln: int, at: int, onset: float, *, has_waited: bool) -> bool:
    """Judge the candidate at `at`: apart from other stokes, likelier than not, best of its half minute, no look."""
    stokes = watch.stokes
    slot = _slot_of(at)
    if onset - watch.times.last[kiln] < STOKE_APART_S and not has_waited:
        return False
    if has_waited and stokes.moved[kiln, max(slot, 0) : slot + _APART].any():
        return False
    moments: FloatArray = onset + SLOT_S * np.arange(NEXT + 1, dtype=np.float64)
    due = log_odds(watch.times, kiln, moments)
    score = np.asarray(stokes.found[kiln, at : at + NEXT + 1] + due)
    if score[0] < max(STOKE_LEAST_LOG_ODDS, float(score.max())):
        return False
    odds = odds_against_look(watch.strength, kiln, float(stokes.found[kiln, at]), float(due[0]))
    is_doubtful = odds < STOKE_SURE_AGAINST_LOOK and shows_after(watch.answer, kiln)
    if has_waited != is_doubtful:
        return False
    if has_waited:
        slots = (slot + WINDOW, slot + WINDOW + AFTER)
        later = surprises(watch.noise, watch.cells, *slots)[kiln]
        later[:, stokes.moved[kiln, slots[0] : slots[1]]] = np.nan
        odds += burns_after(watch.answer, kiln, later)
    return not refuse_look(watch.strength, kiln, odds, onset)


def _slot_of(at: int) -> int:
    """Return the first slot, as in `Cells.change`, of the window of the candidate at `at`."""
    return KEPT - WINDOW - (HISTORY - 1 - at)


def _place(watch: Watch, setup: EngineSetup, kiln: int, at: int, onset: float) -> list[Stoke]:
    """Tell a stoke where the shapes fit best near `at`, unless a firebox sensor shows no dip."""
    begin = at + _creep(watch.stokes.plain[kiln], at - HISTORY + RECENT)
    shown = _shown_by(watch, setup, kiln, _slot_of(begin))
    if shown[1] < STOKE_LEAST_DIP_C:
        return []
    return _tell(watch, kiln, begin, onset + (begin - at) * SLOT_S, shown)


def _creep(plain: FloatArray, at: int) -> int:
    """Return how far from `at` the shapes fit best: what was learnt would let the begin creep away over the stokes."""
    return int(plain[at - NEXT : at + NEXT + 1].argmax()) - NEXT


def _tell(watch: Watch, kiln: int, at: int, onset: float, shown: tuple[int, float]) -> list[Stoke]:
    times, stokes = watch.times, watch.stokes
    told: list[Stoke] = []
    first, strength = _slot_of(at), float(stokes.found[kiln, at])
    stokes.moved[kiln, max(first - 1, 0) : first + _MOVED] = True
    learn_strength(watch.strength, kiln, strength)
    if onset < times.last[kiln]:
        return [Stoke(kiln, *shown, onset, strength, is_late=True)]
    since = float(onset - times.last[kiln])
    parts: tuple[float, ...] = (since,) if np.isfinite(since) else ()
    missed = find_between(times, kiln, stokes.found[kiln], at, since)
    if missed is not None:
        ago_s = (at - missed) * SLOT_S
        weak = float(stokes.found[kiln, missed])
        told.append(Stoke(kiln, -1, np.nan, onset - ago_s, weak, is_late=True))
        parts = (since - ago_s, ago_s)
    for part in parts:
        learn_interval(times, kiln, part)
    times.previous[kiln], times.last[kiln] = times.last[kiln], onset
    times.count[kiln] += 1
    stokes.age[kiln, first:] = np.minimum(np.arange(KEPT - first), AGES)
    told.append(Stoke(kiln, *shown, onset, strength))
    return told


def _shown_by(watch: Watch, setup: EngineSetup, kiln: int, first: int) -> tuple[int, float]:
    """Return which sensor shows the stoke best, firebox sensors first, and how far it dips, degC."""
    slots = slice(first + 1, first + WINDOW)
    share = SLOT_S / spacing_s(watch.cells)[kiln, :, None]
    line = np.cumsum(np.nan_to_num(watch.cells.change[kiln, :, slots]) * share, axis=1)
    dip_c = np.maximum(-line.min(axis=1), 0.0)
    is_fire = setup.path[kiln] == 0
    heard = setup.heat[kiln] & watch.cells.real[kiln, :, slots].any(axis=1)
    size = np.where(is_fire, dip_c, np.abs(line).max(axis=1))
    sensor = int(np.where(heard, size + _FIRST * is_fire, -1.0).argmax())
    return sensor, float(dip_c[sensor]) if is_fire[sensor] else np.nan
