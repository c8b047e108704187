"""Jumps: a reading that is elsewhere from one slot to the next and stays there.

Heat cannot do that: a junction in a sheath goes on moving for a minute after whatever happened. A contact can: a lead
shorted at the connection head reads the head from then on (short); a probe that slipped, or a part of its circuit that
gave way, reads the fire by another measure (a step, told as drift). Either ends with the jump back.
"""

from dataclasses import dataclass

import numpy as np

from monitor.engine.beats import Beats, IntArray
from monitor.engine.limits import (
    JUMP_LASTS_SLOTS,
    JUMP_OVER_USUAL,
    JUMP_SETTLED_SLOTS,
    JUMP_SLOT_C,
    JUMP_WANDERS,
    SHORT_BELOW_C,
    SHORT_FALL_C,
    STEP_HEALED_C,
)
from monitor.engine.seen import Seen
from monitor.engine.setup import BoolArray
from monitor.engine.told import FaultChange
from monitor.model import SLOT_S, FloatArray, SensorFault

FAULTS = (SensorFault.SHORT, SensorFault.DRIFT)
SHORT, STEP = range(2)
USUAL_BEATS = 20
"""Beats whose changes say what is usual: 10 min."""


@dataclass(slots=True, eq=False)
class Jumps:
    """What is remembered of each sensor (K, S); degC and epoch seconds.

    `slots` heard since a jump began, 0 for none under way; `at` its begin, `from_c` and `to_c` the readings before it
    and where it went; `home_c` the reading before one that did not stay, seen at `home_at`; `offset_c` the sum of
    steps that stand, `told` (K, S, F) which of `FAULTS` is open.
    """

    slots: IntArray
    at: FloatArray
    from_c: FloatArray
    to_c: FloatArray
    home_c: FloatArray
    home_at: FloatArray
    offset_c: FloatArray
    told: BoolArray


def new_jumps(shape: tuple[int, int]) -> Jumps:
    """Return the state of kilns and sensors of `shape` before the first slot."""
    return Jumps(
        slots=np.zeros(shape, np.int64),
        at=np.full(shape, np.nan),
        from_c=np.full(shape, np.nan),
        to_c=np.full(shape, np.nan),
        home_c=np.full(shape, np.nan),
        home_at=np.full(shape, np.nan),
        offset_c=np.zeros(shape),
        told=np.zeros((*shape, len(FAULTS)), bool),
    )


def is_under_way(jumps: Jumps) -> bool:
    """Return whether a jump is being watched, so that plain slots matter too."""
    return bool(jumps.slots.any())


def judge_jumps(jumps: Jumps, beats: Beats, seen: Seen, *, end: float, heat: BoolArray) -> list[FaultChange]:
    """Take up the slot that ends at `end`; `heat` (K, S) masks sensors of fire or ware."""
    speaks = seen.heard & np.isfinite(seen.mean_c) & ~seen.is_wide & heat
    _follow(jumps, seen, speaks, end)
    arrived = speaks & (jumps.slots >= JUMP_LASTS_SLOTS)
    changes = _told(jumps, beats, arrived) if arrived.any() else []
    jumps.slots = np.where(arrived, 0, jumps.slots)
    near = end - seen.before_end <= 2 * SLOT_S
    starts = speaks & near & (jumps.slots == 0) & ~arrived & (np.abs(seen.mean_c - seen.before_c) > JUMP_SLOT_C)
    jumps.slots = np.where(starts, 1, jumps.slots)
    jumps.at = np.where(starts, end - SLOT_S, jumps.at)
    jumps.from_c = np.where(starts, seen.before_c, jumps.from_c)
    return changes


def _follow(jumps: Jumps, seen: Seen, speaks: BoolArray, end: float) -> None:
    """Count the slots of jumps under way; forget those that do not stay where they went."""
    jumps.slots = np.where(speaks & (jumps.slots > 0), jumps.slots + 1, jumps.slots)
    settles = speaks & (jumps.slots == JUMP_SETTLED_SLOTS)
    jumps.to_c = np.where(settles, seen.mean_c, jumps.to_c)
    size = np.abs(jumps.to_c - jumps.from_c)
    small = settles & (size <= JUMP_SLOT_C)
    moves = speaks & (jumps.slots > JUMP_SETTLED_SLOTS) & (np.abs(seen.mean_c - jumps.to_c) > JUMP_WANDERS * size)
    jumps.slots = np.where(small | moves, 0, jumps.slots)
    jumps.home_c = np.where(moves, jumps.from_c, jumps.home_c)
    jumps.home_at = np.where(moves, end, jumps.home_at)


def _came_home(jumps: Jumps) -> BoolArray:
    """Return where a jump only took back one that did not stay."""
    size = np.abs(jumps.to_c - jumps.from_c)
    recent = jumps.at - jumps.home_at < JUMP_LASTS_SLOTS * SLOT_S
    return np.asarray(recent & (np.abs(jumps.to_c - jumps.home_c) < JUMP_WANDERS * size))


def _told(jumps: Jumps, beats: Beats, arrived: BoolArray) -> list[FaultChange]:
    size = jumps.to_c - jumps.from_c
    shorted = arrived & (jumps.to_c < SHORT_BELOW_C) & (size < -SHORT_FALL_C)
    back = arrived & jumps.told[:, :, SHORT] & (size > SHORT_FALL_C)
    unusual = np.abs(size) > JUMP_OVER_USUAL * _usual_change_c(beats)
    steps = arrived & unusual & ~shorted & ~back & ~jumps.told[:, :, SHORT] & ~_came_home(jumps)
    jumps.offset_c = np.where(steps, jumps.offset_c + size, jumps.offset_c)
    stands = np.abs(jumps.offset_c) > STEP_HEALED_C
    jumps.offset_c = np.where(steps & ~stands, 0.0, jumps.offset_c)
    judged = ((shorted, back), (steps & stands, steps & ~stands))
    changes = []
    for fault, (begins, ends) in enumerate(judged):
        begun, ended = begins & ~jumps.told[:, :, fault], ends & jumps.told[:, :, fault]
        jumps.told[:, :, fault] = (jumps.told[:, :, fault] | begun) & ~ended
        if begun.any() or ended.any():
            changes.append(FaultChange(FAULTS[fault], begun, ended, jumps.at, measure_c=size))
    return changes


def _usual_change_c(beats: Beats) -> FloatArray:
    """Return the median change (K, S) between the newest beats, degC; 0 where fewer than half of them are known."""
    change = np.sort(np.abs(np.diff(beats.ring[:, :, -USUAL_BEATS - 1 :], axis=2)), axis=2)
    known = np.isfinite(change).sum(axis=2)
    middle = np.take_along_axis(change, np.maximum(known - 1, 0)[:, :, None] // 2, axis=2)[:, :, 0]
    return np.where(known >= USUAL_BEATS // 2, middle, 0.0)
