"""Reduction inferred from temperatures alone, where no oxygen probe speaks: a hint with a probability.

How firebox, front and flue swing between stokes (`stoke_swing.py`) says whether wood or air is short. Their swings are
weighed by a logistic model; its probability, averaged while it is looked at twice more, is the confidence that is told.
Nothing is inferred in a cold or closed kiln, from one place alone or a sensor in doubt; a gap holds what was told.
"""

from dataclasses import dataclass

import numpy as np

from monitor.engine.beats import Beats
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
_LOOK_S = INFERRED_LOOK_BEATS * BEAT_S


@dataclass(slots=True, eq=False)
class Inferred:
    """What is remembered of each kiln (K,); times are epoch seconds, NaN where they do not run.

    `said` (K, 3) is the first look in a row that says reduction, and sum and count of probabilities since; `broken` the
    first that denies what is told; `lost` for how many seconds of what is told sensors spoke and showed nothing, NaN
    where nothing is told.
    """

    said: FloatArray
    broken: FloatArray
    lost: FloatArray

    @property
    def is_open(self) -> BoolArray:
        """Where reduction is told (K,)."""
        told: BoolArray = np.isfinite(self.lost)
        return told


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
    """A change of inferred reduction; `confidence` (K,) of a begin, `shown` (K,) where temperatures tell of an end.

    `swings` (K, places) is what a look showed, NaN where unknown and between looks.
    """

    change: Change
    confidence: FloatArray
    shown: BoolArray
    swings: FloatArray


def new_inferred(kilns: int) -> Inferred:
    """Return the state of `kilns` kilns before the first beat."""
    return Inferred(np.full((kilns, 3), np.nan), np.full(kilns, np.nan), np.full(kilns, np.nan))


def chance_of(swings: FloatArray) -> FloatArray:
    """Return the probability (K,) of reduction by `swings` (K, places), NaN where too few places are known."""
    known = np.isfinite(swings)
    odds = np.where(known, np.array(INFERRED_OF_PLACE) + np.array(INFERRED_PER_SWING) * swings, 0.0).sum(axis=1)
    chance = 1.0 / (1.0 + np.exp(-(INFERRED_BIAS + odds)))
    return np.where(known.sum(axis=1) >= INFERRED_PLACES_LEAST, chance, np.nan)


def judge_inferred(inferred: Inferred, setup: EngineSetup, fire: Fire, closed: BoolArray) -> Hint | None:
    """Take up a beat; kilns `closed` (K,) up and measured ones end and begin none. None where there is no look."""
    beat = int(fire.beats.beat[0])
    now, barred = beat * BEAT_S, closed | fire.measured
    if beat % INFERRED_LOOK_BEATS and not (barred & inferred.is_open).any():
        return None
    begun, denied = (np.zeros(len(closed), bool) for _ in range(2))
    middle, swings = np.full(len(closed), np.nan), np.full((len(closed), len(PLACES)), np.nan)
    if beat % INFERRED_LOOK_BEATS == 0:
        middle, swings = _look(setup, fire)
        chance = np.where(barred, np.nan, chance_of(swings))
        begun, denied = _begins(inferred, chance, now), _denied(inferred, chance, now)
        heard = (setup.heat & (fire.beats.last_beat == beat)).any(axis=1)
        inferred.lost = np.where(np.isfinite(chance), 0.0 * inferred.lost, inferred.lost + _LOOK_S * heard)
    ended = denied | (inferred.is_open & (barred | (inferred.lost >= INFERRED_LOST_S)))
    since, total, count = inferred.said.T
    change = Change(
        begun=begun,
        ended=ended,
        sensor=np.full(len(closed), -1),
        onset=middle - (now - since),
        ended_at=np.where(denied, middle - (now - inferred.broken), now),
        measure=np.full(len(closed), np.nan),
    )
    confidence = np.where(begun, total / count, np.nan)
    inferred.lost = np.where(begun, 0.0, np.where(ended, np.nan, inferred.lost))
    inferred.said[begun | barred] = np.nan
    inferred.broken = np.where(ended, np.nan, inferred.broken)
    return Hint(change, confidence, denied, swings)


def _look(setup: EngineSetup, fire: Fire) -> tuple[FloatArray, FloatArray]:
    """Return the middle of the newest intervals, epoch seconds (K,), and how the places swing in them (K, places)."""
    beats = fire.beats
    intervals = newest_intervals(fire.onsets, float(beats.beat[0] * BEAT_S))
    hottest = np.where(setup.chamber & ~fire.doubtful & np.isfinite(fire.level), fire.level, -np.inf).max(axis=1)
    tells = np.isfinite(intervals.middle) & (hottest >= INFERRED_HOT_C)
    if not tells.any():
        return intervals.middle, np.full((len(tells), len(PLACES)), np.nan)
    fresh = np.arange(HISTORY_BEATS) >= HISTORY_BEATS - beats.span[..., None]
    believed = fresh & ~beats.bridged & ~fire.doubtful[..., None]
    history, there = _at_places(setup, np.where(believed, beats.ring, np.nan))
    return intervals.middle, np.where(there & tells[:, None], swing(history, intervals.place), np.nan)


def _at_places(setup: EngineSetup, ring: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Return the history (K, places, n) of the best known sensor at each place, and whether there is one."""
    count = np.isfinite(ring).sum(axis=2)
    at = setup.path[:, :, None] == _STEPS
    best = np.where(at, count[:, :, None], -1).argmax(axis=1)
    return np.take_along_axis(ring, best[:, :, None], axis=1), at.any(axis=1)


def _begins(inferred: Inferred, chance: FloatArray, now: float) -> BoolArray:
    """Follow a run of looks that say reduction; return where it has lasted."""
    says = ~inferred.is_open & (chance >= INFERRED_BEGIN)
    inferred.said[~says] = np.nan
    inferred.said[says & np.isnan(inferred.said[:, 0])] = now, 0.0, 0.0
    inferred.said[says, 1] += chance[says]
    inferred.said[says, 2] += 1.0
    return np.asarray(says & (now - inferred.said[:, 0] >= INFERRED_CONFIRM_S))


def _denied(inferred: Inferred, chance: FloatArray, now: float) -> BoolArray:
    """Follow a run of looks that deny what is told; one that shows nothing holds it. Return where it has lasted."""
    denies = inferred.is_open & (chance < INFERRED_END)
    holds = np.isnan(chance)
    inferred.broken = np.where(denies, np.fmin(inferred.broken, now), np.where(holds, inferred.broken, np.nan))
    return np.asarray(denies & (now - inferred.broken >= INFERRED_BREAK_S))
