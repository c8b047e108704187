"""Stokes: each charge of wood through the stoke door, from what it does to the firebox's and the chamber's sensors.

Minute by minute changes are taken in, each is compared with what is usual (`stoke_noise`), evidence is gathered
for every slot (`stoke_answer`), and where evidence and the time since the last one (`stoke_times`) together speak
for a stoke, the best slot is told. Evidence needs 70 s, choosing the best slot half a minute more. A stoke that was too
weak to be told may be told once the next one shows that an interval had room for it.
"""

import numpy as np

from monitor.engine.limits import BEAT_S, SLOTS_PER_BEAT, STOKE_BLOCK_BEATS, STOKE_FIT_BLOCKS, STOKE_WARM_C
from monitor.engine.setup import BoolArray, EngineSetup
from monitor.engine.stoke_answer import AGES, evidence, learn_answer, without_aftermath
from monitor.engine.stoke_cells import BLOCK, KEPT, LEAD, newest_begin, take_block
from monitor.engine.stoke_decide import decide
from monitor.engine.stoke_noise import fit_weights, forget, learn_calm, surprises
from monitor.engine.stoke_shapes import WINDOW
from monitor.engine.stoke_state import NOTHING, Stoke, Stokes, Watch
from monitor.model import SLOT_S, FloatArray

_PASSED_OVER = KEPT // BLOCK + 1


def note_stoke(watch: Watch, kiln: int, at: float, *, is_side: bool, may_be_look: bool = False) -> None:
    """Note a stoke at epoch second `at` that a person or a switch told of; the oldest note gives way to a ninth.

    A switch knows only that the door was opened: it `may_be_look`.
    """
    notes = watch.stokes.noted[kiln]
    place = int(np.where(np.isnan(notes), -np.inf, notes).argmin())
    notes[place] = at
    watch.stokes.noted_side[kiln, place] = is_side
    watch.stokes.noted_look[kiln, place] = may_be_look


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
            stokes.found[:], stokes.plain[:] = NOTHING, NOTHING
            watch.times.last[:], watch.times.previous[:] = np.nan, np.nan
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
    stokes.found[:, -n:], stokes.plain[:, -n:] = evidence(
        watch.answer, fresh, shapes, tells_best(watch, setup, celsius)
    )
    newest = newest_begin(block * STOKE_BLOCK_BEATS * BEAT_S) - (WINDOW - 2) * SLOT_S
    return decide(watch, setup, newest, closed)


def tells_best(watch: Watch, setup: EngineSetup, celsius: FloatArray) -> BoolArray:
    """Return which sensors (K, S) are searched for a stoke's shapes: at the firebox, without one there all of them.

    A chamber that is not yet warm, by `celsius` (K, S, slots), shows the weather rather than the fire.
    """
    fire = (setup.path == 0) & watch.cells.real[:, :, -BLOCK:].any(axis=2)
    has_fire = fire.any(axis=1, keepdims=True)
    if has_fire.all():
        return np.asarray(fire)
    warm = setup.heat & (celsius >= STOKE_WARM_C).any(axis=2)
    return np.where(has_fire, fire, warm)


def _move_on(stokes: Stokes) -> None:
    n = BLOCK
    stokes.moved[:, :-n] = stokes.moved[:, n:]
    stokes.moved[:, -n:] = False
    newest = stokes.age[:, -1:].copy()
    stokes.age[:, :-n] = stokes.age[:, n:]
    stokes.age[:, -n:] = np.minimum(newest + np.arange(1, n + 1), AGES)
