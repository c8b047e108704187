"""Cold junctions against each other: a converter's own thermometer that is off, or a box that a flame has warmed.

The inputs of one node sit in one box and share its warmth. Where three or more tell their cold junction, each is
compared with their median; of two, the one that moved is to blame; a lone one can only be seen to jump. What an input
always was, up to `COLD_USUAL_C`, is its own.
"""

from dataclasses import dataclass

import numpy as np

from monitor.engine.beats import IntArray
from monitor.engine.limits import (
    BEAT_S,
    COLD_BEATS,
    COLD_HOT_C,
    COLD_LEARN_BEATS,
    COLD_MOVED_BEATS,
    COLD_OFF_C,
    COLD_USUAL_C,
)
from monitor.engine.setup import BoolArray, EngineSetup
from monitor.engine.told import FaultChange
from monitor.model import FloatArray, SensorFault

BOX_OF = 3
"""Inputs of one node from which their median is a reference."""


@dataclass(slots=True, eq=False)
class Cold:
    """What is remembered of each input (K, S), degC.

    `usual_c` by how much it is usually above its reference, `slow_c` its own mean of the last hours; `beats` in a row
    that it has been off (below 0: well again), since `since`; `told` whether it is told.
    """

    usual_c: FloatArray
    slow_c: FloatArray
    beats: IntArray
    since: FloatArray
    told: BoolArray


def new_cold(shape: tuple[int, int]) -> Cold:
    """Return the state of kilns and sensors of `shape` before the first beat."""
    return Cold(
        usual_c=np.zeros(shape),
        slow_c=np.full(shape, np.nan),
        beats=np.zeros(shape, np.int64),
        since=np.full(shape, np.nan),
        told=np.zeros(shape, bool),
    )


def judge_cold(cold: Cold, setup: EngineSetup, cold_c: FloatArray, now: float) -> list[FaultChange]:
    """Take up the cold junctions (K, S) of the beat that ends at `now`, NaN where none is told."""
    if _is_plain(cold, setup, cold_c):
        return []
    known = np.isfinite(cold_c)
    moved_c = np.abs(cold_c - cold.slow_c)
    above_c, count = _above_reference(setup, cold_c, cold.slow_c)
    off_c = above_c - cold.usual_c
    is_off = np.abs(off_c) > np.where(cold.told, 0.75, 1.0) * COLD_OFF_C
    is_off &= (count != 2) | (moved_c >= _moved_of_other(setup, moved_c))
    is_off |= cold_c > COLD_HOT_C
    _learn(cold, cold_c, off_c, is_off=is_off, is_lone=count < 2)
    return _told(cold, known, is_off=known & is_off, off_c=off_c, now=now)


def _is_plain(cold: Cold, setup: EngineSetup, cold_c: FloatArray) -> bool:
    """Return whether all cold junctions of boxes of three or more lie so close together that nothing can be off."""
    if (setup.sharing < BOX_OF).any() or cold.told.any() or cold.beats.any():
        return False
    spread = np.fmax.reduce(cold_c, axis=1) - np.fmin.reduce(cold_c, axis=1)
    return bool((spread < COLD_OFF_C - COLD_USUAL_C).all() and not (cold_c > COLD_HOT_C).any())


def _above_reference(
    setup: EngineSetup, cold_c: FloatArray, slow_c: FloatArray
) -> tuple[FloatArray, IntArray]:  # fmt: skip
    """Return each input's degC above its reference and how many cold junctions its node tells (K, S)."""
    same = setup.node[:, :, None] == setup.node[:, None, :]
    others = np.sort(np.where(same, cold_c[:, None, :], np.nan), axis=2)
    count = np.isfinite(others).sum(axis=2)
    low, high = (np.take_along_axis(others, np.maximum(i, 0)[:, :, None], axis=2)[:, :, 0]
                 for i in ((count - 1) // 2, count // 2 - (count == 0)))  # fmt: skip
    above = cold_c - 0.5 * (low + high)
    above = np.where(count == 2, 2.0 * above, above)
    return np.where(count < 2, cold_c - slow_c, above), count


def _moved_of_other(setup: EngineSetup, moved_c: FloatArray) -> FloatArray:
    """Return the most that any other input of the same node moved (K, S), 0 without one."""
    same = setup.node[:, :, None] == setup.node[:, None, :]
    same &= ~np.eye(moved_c.shape[1], dtype=bool)
    return np.asarray(np.where(same, np.nan_to_num(moved_c)[:, None, :], 0.0).max(axis=2))


def _learn(cold: Cold, cold_c: FloatArray, off_c: FloatArray, *, is_off: BoolArray, is_lone: BoolArray) -> None:
    """Follow what is usual, slowly, while nothing is off; a lone input is compared with its own last minutes."""
    learns = ~is_off & np.isfinite(off_c) & ~is_lone
    usual = np.clip(cold.usual_c + off_c / COLD_LEARN_BEATS, -COLD_USUAL_C, COLD_USUAL_C)
    cold.usual_c = np.where(learns, usual, cold.usual_c)
    beats = np.where(is_lone, COLD_BEATS, COLD_MOVED_BEATS)
    follows = np.isfinite(cold_c) & ~(is_off & cold.told)
    nearer = np.where(np.isnan(cold.slow_c), cold_c, cold.slow_c + (cold_c - cold.slow_c) / beats)
    cold.slow_c = np.where(follows & ~is_off | np.isnan(cold.slow_c), nearer, cold.slow_c)


def _told(cold: Cold, known: BoolArray, *, is_off: BoolArray, off_c: FloatArray, now: float) -> list[FaultChange]:
    turns = is_off != cold.told
    cold.since = np.where(turns & (cold.beats == 0), now - BEAT_S, cold.since)
    cold.beats = np.where(known | cold.told, np.where(turns, cold.beats + 1, 0), cold.beats)
    due = cold.beats >= COLD_BEATS
    begun, ended = due & ~cold.told, due & cold.told
    cold.told = (cold.told | begun) & ~ended
    cold.beats[due] = 0
    if not due.any():
        return []
    return [FaultChange(SensorFault.COLD_JUNCTION, begun, ended, cold.since, measure_c=off_c, why="cold-off")]
