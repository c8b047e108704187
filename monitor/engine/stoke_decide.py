"""Which candidates are stokes: likelier than not, the best of their half minute, apart from others, and no looks.

What may be a look through the door waits until it is seen whether wood burns after it. A stoke that people told of is
one whatever the sensors say; where they show it too it is told once, at the time that they show. A switch tells that a
door was opened: a stoke unless this kiln's sensors know by now what a stoke is and show too little when none is due.
"""

import numpy as np

from monitor.engine.limits import (
    STOKE_APART_S,
    STOKE_LEAST_DIP_C,
    STOKE_LEAST_EVIDENCE,
    STOKE_LEAST_LOG_ODDS,
    STOKE_SURE_AGAINST_LOOK,
    STOKE_TAPPED_S,
)
from monitor.engine.setup import BoolArray, EngineSetup
from monitor.engine.stoke_answer import AGES, burns_after, shows_after
from monitor.engine.stoke_between import find_between
from monitor.engine.stoke_cells import BLOCK, KEPT, spacing_s
from monitor.engine.stoke_noise import surprises
from monitor.engine.stoke_shapes import WINDOW
from monitor.engine.stoke_state import AFTER, HISTORY, NEXT, RECENT, Stoke, Watch
from monitor.engine.stoke_strength import learn_strength, odds_against_look, refuse_look
from monitor.engine.stoke_times import learn_interval, log_odds
from monitor.model import SLOT_S, FloatArray

_MOVED = 18
_APART = round(STOKE_APART_S / SLOT_S)
_FIRST = 1.0e6
_NEAR_NOTE = (30, 12)
_NEAR_SWITCH = (2, 7)


def decide(watch: Watch, setup: EngineSetup, newest: float, closed: BoolArray) -> list[Stoke]:
    """Tell stokes among the candidates; `newest` is the newest one's onset.

    What may be a look through the door waits until it is seen whether wood burns after it.
    """
    told = take_notes(watch, setup, newest)
    for wait in (AFTER, 0):
        first = HISTORY - NEXT - BLOCK - wait
        likely = (watch.stokes.found[:, first : first + BLOCK] >= STOKE_LEAST_EVIDENCE) & ~closed[:, None]
        for kiln in np.flatnonzero(likely.any(axis=1)).tolist() if likely.any() else ():
            for at in (first + np.flatnonzero(likely[kiln])).tolist():
                onset = newest - SLOT_S * (HISTORY - 1 - at)
                odds = _odds_of(watch, kiln, at, onset, has_waited=wait > 0)
                if odds is not None:
                    told += _place(watch, setup, kiln, at, onset=onset, odds=odds)
    return told


def _odds_of(watch: Watch, kiln: int, at: int, onset: float, *, has_waited: bool) -> float | None:
    """Return the log odds of the candidate at `at`, None unless it is a stoke.

    One is apart from other stokes, likelier than not, the best of its half minute, and no look.
    """
    stokes = watch.stokes
    slot = _slot_of(at)
    if onset - watch.times.last[kiln] < STOKE_APART_S and not has_waited:
        return None
    if has_waited and stokes.moved[kiln, max(slot, 0) : slot + _APART].any():
        return None
    moments: FloatArray = onset + SLOT_S * np.arange(NEXT + 1, dtype=np.float64)
    due = log_odds(watch.times, kiln, moments)
    score = np.asarray(stokes.found[kiln, at : at + NEXT + 1] + due)
    if score[0] < max(STOKE_LEAST_LOG_ODDS, float(score.max())):
        return None
    odds = odds_against_look(watch.strength, kiln, float(stokes.found[kiln, at]), float(due[0]))
    is_doubtful = odds < STOKE_SURE_AGAINST_LOOK and shows_after(watch.answer, kiln)
    if has_waited != is_doubtful:
        return None
    if has_waited:
        slots = (slot + WINDOW, slot + WINDOW + AFTER)
        later = surprises(watch.noise, watch.cells, *slots)[kiln]
        later[:, stokes.moved[kiln, slots[0] : slots[1]]] = np.nan
        odds += burns_after(watch.answer, kiln, later)
    return None if refuse_look(watch.strength, kiln, odds, onset) else min(float(score[0]), odds)


def _slot_of(at: int) -> int:
    """Return the first slot, as in `Cells.change`, of the window of the candidate at `at`."""
    return KEPT - WINDOW - (HISTORY - 1 - at)


def _place(watch: Watch, setup: EngineSetup, kiln: int, at: int, *, onset: float, odds: float) -> list[Stoke]:
    """Tell a stoke where the shapes fit best near `at`, unless a firebox sensor shows no dip."""
    begin = at + _creep(watch.stokes.plain[kiln], at - HISTORY + RECENT)
    shown = _shown_by(watch, setup, kiln, _slot_of(begin))
    if shown[1] < STOKE_LEAST_DIP_C:
        return []
    return _tell(watch, kiln, begin, onset + (begin - at) * SLOT_S, shown, odds=odds)


def _creep(plain: FloatArray, at: int) -> int:
    """Return how far from `at` the shapes fit best: what was learnt would let the begin creep away over the stokes."""
    return int(plain[at - NEXT : at + NEXT + 1].argmax()) - NEXT


def _tell(
    watch: Watch, kiln: int, at: int, onset: float, shown: tuple[int, float], *, odds: float = np.nan
) -> list[Stoke]:
    """Tell a stoke, and one before it that its interval had room for; without `odds` somebody noted it."""
    is_noted = bool(np.isnan(odds))
    times, stokes = watch.times, watch.stokes
    told: list[Stoke] = []
    first, strength = _slot_of(at), float(stokes.found[kiln, at])
    stokes.moved[kiln, max(first - 1, 0) : first + _MOVED] = True
    if not is_noted:
        learn_strength(watch.strength, kiln, strength)
    if onset < times.last[kiln]:
        return [Stoke(kiln, *shown, onset, strength, odds, is_late=True)]
    since = float(onset - times.last[kiln])
    parts: tuple[float, ...] = (since,) if np.isfinite(since) else ()
    missed = find_between(times, kiln, stokes.found[kiln], at, since)
    if missed is not None:
        ago_s = (at - missed) * SLOT_S
        weak = float(stokes.found[kiln, missed])
        told.append(Stoke(kiln, -1, np.nan, onset - ago_s, weak, weak, is_late=True))
        parts = (since - ago_s, ago_s)
    for part in parts:
        learn_interval(times, kiln, part)
    times.previous[kiln], times.last[kiln] = times.last[kiln], onset
    times.count[kiln] += 1
    stokes.age[kiln, first:] = np.minimum(np.arange(KEPT - first), AGES)
    told.append(Stoke(kiln, *shown, onset, strength, odds, is_noted=is_noted))
    return told


def _shown_by(watch: Watch, setup: EngineSetup, kiln: int, first: int) -> tuple[int, float]:
    """Return which sensor shows the stoke best, firebox sensors first, and how far it dips below its course, degC."""
    slots = slice(first + 1, first + WINDOW)
    share = SLOT_S / spacing_s(watch.cells)[kiln, :, None]
    moved_c = watch.cells.change[kiln, :, slots] - watch.noise.mean[kiln, :, None]
    line = np.cumsum(np.nan_to_num(moved_c) * share, axis=1)
    dip_c = np.maximum(-line.min(axis=1), 0.0)
    is_fire = setup.path[kiln] == 0
    heard = setup.heat[kiln] & watch.cells.real[kiln, :, slots].any(axis=1)
    size = np.where(is_fire, dip_c, np.abs(line).max(axis=1))
    sensor = int(np.where(heard, size + _FIRST * is_fire, -1.0).argmax())
    return sensor, float(dip_c[sensor]) if is_fire[sensor] else np.nan


def take_notes(watch: Watch, setup: EngineSetup, newest: float) -> list[Stoke]:
    """Tell what people or a switch noted, once the sensors' evidence for its time is complete."""
    stokes = watch.stokes
    due = stokes.noted <= newest - NEXT * SLOT_S
    told: list[Stoke] = []
    for kiln, place in np.argwhere(due).tolist() if due.any() else ():
        told += _take_note(watch, setup, kiln, place, newest)
        stokes.noted[kiln, place] = np.nan
    return told


def _take_note(watch: Watch, setup: EngineSetup, kiln: int, place: int, newest: float) -> list[Stoke]:
    moment = float(watch.stokes.noted[kiln, place])
    if watch.stokes.noted_side[kiln, place]:
        return [Stoke(kiln, -1, np.nan, moment, 0.0, is_noted=True, is_side=True)]
    times, is_switch = watch.times, bool(watch.stokes.noted_look[kiln, place])
    if _is_known(watch, kiln, moment, is_switch=is_switch):
        return []
    at = HISTORY - 1 - round((newest - moment) / SLOT_S)
    if _slot_of(at) < 0 or moment < times.last[kiln]:
        return [Stoke(kiln, -1, np.nan, moment, 0.0, is_late=True, is_noted=True)]
    before, after = _NEAR_SWITCH if is_switch else _NEAR_NOTE
    first = max(at - before, 0)
    near = watch.stokes.found[kiln, first : min(at + after, HISTORY - NEXT)]
    best, shows = first + int(near.argmax()), bool(near.max() >= STOKE_LEAST_EVIDENCE)
    begin = best if shows and _slot_of(best) >= 0 else at
    if is_switch:
        if _is_look(watch, kiln, moment, float(near.max())):
            return []
        if shows:
            learn_strength(watch.strength, kiln, float(near.max()))
    shown = _shown_by(watch, setup, kiln, _slot_of(begin))
    return _tell(watch, kiln, begin, moment + (begin - at) * SLOT_S, shown)


def _is_known(watch: Watch, kiln: int, moment: float, *, is_switch: bool) -> bool:
    """Return whether a note at `moment` is of a stoke that was told: people tap when their hands are free again."""
    times = watch.times
    since = moment - np.array([times.last[kiln], times.previous[kiln]])
    tapped_s = STOKE_APART_S if is_switch else max(STOKE_APART_S, min(STOKE_TAPPED_S, 0.6 * times.interval_s[kiln]))
    return bool(((since > -STOKE_APART_S) & (since < tapped_s)).any())


def _is_look(watch: Watch, kiln: int, moment: float, evidence: float) -> bool:
    due = float(log_odds(watch.times, kiln, np.array([moment]))[0])
    return refuse_look(watch.strength, kiln, odds_against_look(watch.strength, kiln, evidence, due), moment)
