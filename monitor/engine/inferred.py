"""Reduction inferred from temperatures alone, where no oxygen probe speaks: a hint with a probability.

How firebox, front and flue swing between stokes (`stoke_swing.py`) says whether wood or air is short. Their swings are
weighed by a logistic model; its probability, averaged while it is looked at twice more, is the confidence that is told.
Nothing is inferred in a cold or closed kiln, from one place alone or a sensor in doubt; a gap holds what was told.
"""

from dataclasses import dataclass

import numpy as np

from monitor.engine.beats import Beats, IntArray
from monitor.engine.limits import (
    BEAT_S,
    HISTORY_BEATS,
    INFERRED_BEGIN,
    INFERRED_BIAS,
    INFERRED_BREAK_S,
    INFERRED_CONFIRM_S,
    INFERRED_END,
    INFERRED_HOT_C,
    INFERRED_LOOK_BEATS,
    INFERRED_LOST_S,
    INFERRED_OF_PLACE,
    INFERRED_PER_SWING,
    INFERRED_PLACES_LEAST,
)
from monitor.engine.setup import FLAME_PATH, BoolArray, EngineSetup
from monitor.engine.stoke_swing import newest_intervals, swing
from monitor.engine.told import Change
from monitor.model import FloatArray
from monitor.site_file import Place

PLACES = (Place.FIREBOX, Place.FRONT, Place.FLUE)
"""Where swings are looked at, in the order of the model's weights."""
_STEPS = [FLAME_PATH.index(place) for place in PLACES]


@dataclass(slots=True, eq=False)
class Inferred:
    """What is remembered of each kiln (K,); times are epoch seconds, NaN where they do not run.

    `look` (1,) is the number of the newest look, `swing` (K, places) what it showed, NaN where unknown. `since` is the
    first look in a row that says reduction, `onset` when that began, `chance` (K, 2) sum and count of probabilities
    since; `broken` the first in a row that denies it, `over` when that began; `lost` seconds heard without knowing.
    `open` whether it is told.
    """

    look: IntArray
    swing: FloatArray
    since: FloatArray
    onset: FloatArray
    chance: FloatArray
    broken: FloatArray
    over: FloatArray
    lost: FloatArray
    open: BoolArray


@dataclass(frozen=True, slots=True, eq=False)
class Fire:
    """What a look needs: histories, `level` (K, S) degC and `onsets` (K, m) of stokes.

    `doubtful` (K, S) marks sensors that must not be believed; `measured` (K,) kilns whose oxygen probe has the word.
    """

    beats: Beats
    level: FloatArray
    onsets: FloatArray
    doubtful: BoolArray
    measured: BoolArray


@dataclass(frozen=True, slots=True, eq=False)
class Hint:
    """A change of inferred reduction; `confidence` (K,) of a begin, `shown` (K,) where temperatures tell of an end."""

    change: Change
    confidence: FloatArray
    shown: BoolArray


def new_inferred(kilns: int) -> Inferred:
    """Return the state of `kilns` kilns before the first beat."""
    return Inferred(
        look=np.zeros(1, np.int64),
        swing=np.full((kilns, len(PLACES)), np.nan),
        since=np.full(kilns, np.nan),
        onset=np.full(kilns, np.nan),
        chance=np.zeros((kilns, 2)),
        broken=np.full(kilns, np.nan),
        over=np.full(kilns, np.nan),
        lost=np.zeros(kilns),
        open=np.zeros(kilns, bool),
    )


def chance_of(swings: FloatArray) -> FloatArray:
    """Return the probability (K,) of reduction by `swings` (K, places), NaN where too few places are known."""
    known = np.isfinite(swings)
    odds = np.where(known, np.array(INFERRED_OF_PLACE) + np.array(INFERRED_PER_SWING) * swings, 0.0).sum(axis=1)
    chance = 1.0 / (1.0 + np.exp(-(INFERRED_BIAS + odds)))
    return np.where(known.sum(axis=1) >= INFERRED_PLACES_LEAST, chance, np.nan)


def judge_inferred(inferred: Inferred, setup: EngineSetup, fire: Fire, closed: BoolArray) -> Hint:
    """Take up a beat; kilns `closed` (K,) up and measured ones end and begin none."""
    beat = int(fire.beats.beat[0])
    now, barred = beat * BEAT_S, closed | fire.measured
    ended = inferred.open & barred
    begun = np.zeros(len(closed), bool)
    shown = np.zeros(len(closed), bool)
    ended_at = np.full(len(closed), now)
    if beat // INFERRED_LOOK_BEATS > inferred.look[0]:
        inferred.look[0] = beat // INFERRED_LOOK_BEATS
        middle, heard = _look(inferred, setup, fire)
        chance = np.where(barred, np.nan, chance_of(inferred.swing))
        begun = _begins(inferred, chance, middle, now)
        shown = _denied(inferred, chance, middle, now) & ~barred
        inferred.lost = np.where(np.isfinite(chance), 0.0, inferred.lost + INFERRED_LOOK_BEATS * BEAT_S * heard)
        ended |= shown | (inferred.open & (inferred.lost >= INFERRED_LOST_S))
        ended_at = np.where(shown, inferred.over, now)
    inferred.open = (inferred.open | begun) & ~ended
    inferred.since = np.where(inferred.open | barred, np.nan, inferred.since)
    confidence = inferred.chance[:, 0] / np.maximum(inferred.chance[:, 1], 1.0)
    nothing = np.full(len(closed), np.nan)
    sensor = np.full(len(closed), -1)
    change = Change(begun, ended, sensor, inferred.onset.copy(), np.fmax(ended_at, inferred.onset), nothing)
    return Hint(change, confidence, shown)


def _look(inferred: Inferred, setup: EngineSetup, fire: Fire) -> tuple[FloatArray, BoolArray]:
    """Renew the swings; return the middle of what they are of, and which kilns are heard (K,)."""
    beats = fire.beats
    intervals = newest_intervals(fire.onsets, float(beats.beat[0] * BEAT_S))
    fresh = np.arange(HISTORY_BEATS) >= HISTORY_BEATS - beats.span[..., None]
    believed = fresh & ~beats.bridged & ~fire.doubtful[..., None]
    history, there = _at_places(setup, np.where(believed, beats.ring, np.nan))
    hottest = np.where(setup.chamber & ~fire.doubtful & np.isfinite(fire.level), fire.level, -np.inf).max(axis=1)
    is_hot = hottest >= INFERRED_HOT_C
    inferred.swing = np.where(there & is_hot[:, None], swing(history, intervals.place), np.nan)
    return intervals.middle, np.asarray((setup.heat & (beats.last_beat == beats.beat[0])).any(axis=1))


def _at_places(setup: EngineSetup, ring: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Return the history (K, places, n) of the best known sensor at each place, and whether there is one."""
    count = np.isfinite(ring).sum(axis=2)
    at = setup.path[:, :, None] == _STEPS
    best = np.where(at, count[:, :, None], -1).argmax(axis=1)
    return np.take_along_axis(ring, best[:, :, None], axis=1), at.any(axis=1)


def _begins(inferred: Inferred, chance: FloatArray, middle: FloatArray, now: float) -> BoolArray:
    """Follow a run of looks that say reduction; return where it has lasted."""
    says = ~inferred.open & (chance >= INFERRED_BEGIN)
    first = says & np.isnan(inferred.since)
    inferred.chance[first] = 0.0
    inferred.onset = np.where(first, middle, inferred.onset)
    inferred.since = np.where(says, np.fmin(inferred.since, now), np.nan)
    inferred.chance += np.where(says[:, None], np.stack([chance, np.ones_like(chance)], axis=1), 0.0)
    return np.asarray(says & (now - inferred.since >= INFERRED_CONFIRM_S))


def _denied(inferred: Inferred, chance: FloatArray, middle: FloatArray, now: float) -> BoolArray:
    """Follow a run of looks that deny what is told; one that knows nothing holds it. Return where it has lasted."""
    known = np.isfinite(chance)
    denies = inferred.open & known & (chance < INFERRED_END)
    first = denies & np.isnan(inferred.broken)
    inferred.over = np.where(first, middle, inferred.over)
    inferred.broken = np.where(denies, np.fmin(inferred.broken, now), np.where(known, np.nan, inferred.broken))
    return np.asarray(denies & (now - inferred.broken >= INFERRED_BREAK_S))
