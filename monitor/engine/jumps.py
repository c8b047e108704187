"""Jumps: a reading that is elsewhere from one slot to the next and stays there.

Heat cannot do that: a junction in a sheath goes on moving for a minute after whatever happened. A contact can: a lead
shorted at the connection head reads the head from then on (short); two inputs exchanged read each other's emf from then
on (swapped); a probe that slipped, or a part of its circuit that gave way, reads the fire by another measure (a step,
told as drift). Each ends with the jump back.

A slot that differs from the one before is followed for seven more; then a line is laid through the seven slots before
and one through the seven after. A jump is a gap between the two lines that is large beside what either does, and that
came at once: cold air from a stoke door takes three slots and more to pass a sheath. Where a probe is read less often
than every slot that cannot be seen, and a step is left to the neighbours.
"""

from dataclasses import dataclass

import numpy as np

from monitor.engine.beats import NEVER, Beats, IntArray
from monitor.engine.exchange import exchanged_with
from monitor.engine.limits import (
    DRIFT_C,
    JUMP_AT_ONCE,
    JUMP_LEAST_C,
    JUMP_LEAST_IN_FLAME_C,
    JUMP_OVER_USUAL,
    JUMP_RESIDUAL,
    JUMP_SLOPE,
    JUMP_SLOT_C,
    JUMP_THEN_REST,
    SHORT_ABOVE_C,
    SHORT_BELOW_C,
    SHORT_FALL_C,
    STEP_HEALED_C,
)
from monitor.engine.seen import Seen
from monitor.engine.setup import BoolArray
from monitor.engine.told import FaultChange
from monitor.model import SLOT_S, FloatArray, SensorFault

FAULTS = (SensorFault.SHORT, SensorFault.SWAPPED, SensorFault.DRIFT)
SHORT, SWAPPED, STEP = range(3)
USUAL_BEATS = 20
"""Beats whose changes say what is usual: 10 min."""
SIDE = 7
"""Slots of each line."""
KEPT = 2 * SIDE + 1


def _line() -> FloatArray:
    """Return weights (2, SIDE) that give value and slope of a line one slot before the first of `SIDE` slots."""
    return np.asarray(np.linalg.pinv(np.stack([np.ones(SIDE), np.arange(1.0, SIDE + 1.0)], axis=1)))


AFTER = _line()
BEFORE = AFTER[:, ::-1] * np.array([[1.0], [-1.0]])


@dataclass(slots=True, eq=False)
class Jumps:
    """What is remembered of each sensor (K, S); degC and epoch seconds.

    `ring` (K, S, n) the slots heard, newest last at `kept_at`, `apart_s` after the one before, `run` how many of them
    without a gap; `volts` (2, K, S) the emf of the last two; `slots` heard since a jump began, 0 for none under way,
    `at` its begin and `is_slow` whether slots were missing there; `held_volts` (K, S, S) every emf before it;
    `jumped_at` the begin of the last that was one. `offset_c` is the sum of steps that stand, at a reading of
    `offset_at_c`; `told` (K, S, F) which of `FAULTS` is open, and `partner` (K, S) with whom an input was exchanged.
    """

    ring: FloatArray
    kept_at: FloatArray
    apart_s: FloatArray
    run: IntArray
    volts: FloatArray
    slots: IntArray
    at: FloatArray
    is_slow: BoolArray
    held_volts: FloatArray
    jumped_at: FloatArray
    offset_c: FloatArray
    offset_at_c: FloatArray
    partner: IntArray
    told: BoolArray


@dataclass(frozen=True, slots=True, eq=False)
class Gap:
    """The two lines at the slot between them (K, S): degC before and after, and where they are a jump."""

    from_c: FloatArray
    to_c: FloatArray
    is_jump: BoolArray

    @property
    def size_c(self) -> FloatArray:
        """How far it went."""
        return self.to_c - self.from_c


def new_jumps(shape: tuple[int, int]) -> Jumps:
    """Return the state of kilns and sensors of `shape` before the first slot."""
    return Jumps(
        ring=np.full((*shape, KEPT), np.nan),
        kept_at=np.full(shape, np.nan),
        apart_s=np.full(shape, np.nan),
        run=np.zeros(shape, np.int64),
        volts=np.full((2, *shape), np.nan),
        slots=np.zeros(shape, np.int64),
        at=np.full(shape, np.nan),
        is_slow=np.zeros(shape, bool),
        held_volts=np.full((*shape, shape[1]), np.nan),
        jumped_at=np.full(shape, np.nan),
        offset_c=np.zeros(shape),
        offset_at_c=np.full(shape, np.nan),
        partner=np.full(shape, -1),
        told=np.zeros((*shape, len(FAULTS)), bool),
    )


def is_under_way(jumps: Jumps) -> bool:
    """Return whether a jump is being watched, so that plain slots matter too."""
    return bool(jumps.slots.any())


def keep_plain_slots(
    jumps: Jumps, mean_c: FloatArray, middle_volts: FloatArray, *, end: FloatArray, who: BoolArray
) -> None:
    """Take up slots (n, K, S) that end at `end` (n,), without a gap, `who` (K, S) speaking in all of them."""
    newest = mean_c[-KEPT:].transpose(1, 2, 0)
    ring = np.concatenate([jumps.ring[:, :, newest.shape[2] :], newest], axis=2)
    jumps.ring = np.where(who[:, :, None], ring, jumps.ring)
    volts = np.concatenate([jumps.volts, middle_volts])[-2:]
    jumps.volts = np.where(who, volts, jumps.volts)
    run = np.where(end[0] - jumps.kept_at <= 3 * SLOT_S, jumps.run, 0) + len(end)
    jumps.run = np.where(who, run, jumps.run)
    jumps.apart_s = np.where(who, end[-1] - (end[-2] if len(end) > 1 else jumps.kept_at), jumps.apart_s)
    jumps.kept_at = np.where(who, end[-1], jumps.kept_at)


def keep_slot(jumps: Jumps, seen: Seen, speaks: BoolArray, end: float) -> None:
    """Take up one slot of those that `speaks` (K, S) marks."""
    shifted = np.concatenate([jumps.ring[:, :, 1:], seen.mean_c[:, :, None]], axis=2)
    jumps.ring = np.where(speaks[:, :, None], shifted, jumps.ring)
    jumps.volts = np.where(speaks, np.stack([jumps.volts[1], seen.middle_volts]), jumps.volts)
    near = end - jumps.kept_at <= 3 * SLOT_S
    jumps.run = np.where(speaks, np.where(near, jumps.run, 0) + 1, jumps.run)
    jumps.apart_s = np.where(speaks, end - jumps.kept_at, jumps.apart_s)
    jumps.kept_at = np.where(speaks, end, jumps.kept_at)


def judge_jumps(
    jumps: Jumps, beats: Beats, seen: Seen, *, end: float, able: BoolArray, in_flame: BoolArray
) -> list[FaultChange]:
    """Take up the slot that ends at `end`, kept before.

    `able` (K, S) masks sensors of fire or ware whose emf lives, `in_flame` (K, S) those where flame passes.
    """
    speaks = seen.heard & np.isfinite(seen.mean_c)
    jumps.slots = np.where(speaks & (jumps.slots > 0), jumps.slots + 1, jumps.slots)
    arrived = speaks & (jumps.slots > SIDE)
    changes = _told(jumps, beats, seen, arrived & (jumps.run >= KEPT), in_flame) if arrived.any() else []
    jumps.slots = np.where(arrived, 0, jumps.slots)
    change_c = np.abs(seen.mean_c - jumps.ring[:, :, -2])
    starts = able & speaks & (jumps.run > 1) & (jumps.slots == 0) & (change_c > JUMP_SLOT_C)
    if starts.any():
        jumps.slots = np.where(starts, 1, jumps.slots)
        jumps.at = np.where(starts, end - SLOT_S, jumps.at)
        jumps.is_slow = np.where(starts, jumps.apart_s > SLOT_S, jumps.is_slow)
        before = np.where(speaks, jumps.volts[0], jumps.volts[1])
        jumps.held_volts = np.where(starts[:, :, None], before[:, None, :], jumps.held_volts)
    return changes


def judge_offsets(jumps: Jumps, now_c: FloatArray, now: float) -> list[FaultChange]:
    """Tell steps that have grown to `DRIFT_C` with the temperature (K, S), and those that have become small again.

    A stretch of wire that changed is off by a share of what it reads.
    """
    if not (jumps.offset_c.any() or jumps.told[:, :, STEP].any()):
        return []
    off_c = np.abs(_present_offset_c(jumps, now_c))
    begun = (off_c >= DRIFT_C) & ~jumps.told[:, :, STEP]
    ended = (jumps.offset_c == 0.0) & jumps.told[:, :, STEP]
    jumps.told[:, :, STEP] = (jumps.told[:, :, STEP] | begun) & ~ended
    if not (begun.any() or ended.any()):
        return []
    recent = jumps.at > now - 120.0
    onset = np.where(recent, jumps.at, now)
    return [FaultChange(SensorFault.DRIFT, begun, ended, onset, measure_c=jumps.offset_c.copy(), why="step")]


def _present_offset_c(jumps: Jumps, now_c: FloatArray) -> FloatArray:
    growth = np.clip(now_c / jumps.offset_at_c, 0.25, 4.0)
    return jumps.offset_c * np.where(np.isfinite(growth), growth, 1.0)


def _told(
    jumps: Jumps, beats: Beats, seen: Seen, arrived: BoolArray, in_flame: BoolArray
) -> list[FaultChange]:  # fmt: skip
    gap = _gap(jumps.ring)
    unusual = np.abs(gap.size_c) > np.maximum(JUMP_LEAST_C, JUMP_OVER_USUAL * _usual_change_c(beats))
    jumped = arrived & gap.is_jump & unusual
    if not jumped.any():
        return []
    is_short = jumps.told[:, :, SHORT]
    swaps = _exchanged(jumps, seen, jumped, size_c=gap.size_c)
    pairs = np.zeros(jumped.shape, bool)
    for change in swaps:
        pairs |= jumped & (change.begun | change.ended)
    shorted = jumped & ~pairs & (gap.to_c < SHORT_BELOW_C) & (gap.to_c > SHORT_ABOVE_C) & (gap.size_c < -SHORT_FALL_C)
    back = jumped & is_short & (gap.size_c > SHORT_FALL_C)
    changes = _switched(jumps, SHORT, begins=shorted, ends=back, size_c=gap.size_c)
    steps = jumped & ~shorted & ~back & ~pairs & ~is_short
    may_be_heat = steps & (jumps.is_slow | (in_flame & (np.abs(gap.size_c) < JUMP_LEAST_IN_FLAME_C)))
    _step(jumps, gap, steps & ~may_be_heat)
    jumped &= ~may_be_heat
    jumps.jumped_at = np.where(jumped, jumps.at, jumps.jumped_at)
    beats.last_beat[jumped] = NEVER
    beats.tainted |= jumped
    return changes + swaps


def _exchanged(jumps: Jumps, seen: Seen, jumped: BoolArray, size_c: FloatArray) -> list[FaultChange]:
    """Tell inputs that were exchanged; the next jump of either puts them back."""
    ends = _with_partners(jumps.partner, jumped & jumps.told[:, :, SWAPPED])
    now_volts = np.where(seen.heard, seen.middle_volts, np.nan)
    other = exchanged_with(jumps.held_volts, now_volts, jumped & ~ends)
    begins = _with_partners(other, other >= 0)
    jumps.partner = np.where(begins, other, jumps.partner)
    return _switched(jumps, SWAPPED, begins=begins, ends=ends, size_c=size_c, other=jumps.partner)


def _step(jumps: Jumps, gap: Gap, steps: BoolArray) -> None:
    jumps.offset_c = np.where(steps, _present_offset_c(jumps, gap.from_c) + gap.size_c, jumps.offset_c)
    jumps.offset_at_c = np.where(steps, gap.to_c, jumps.offset_at_c)
    healed = steps & (np.abs(jumps.offset_c) < np.maximum(STEP_HEALED_C, 0.3 * np.abs(gap.size_c)))
    jumps.offset_c = np.where(healed, 0.0, jumps.offset_c)


def _switched(
    jumps: Jumps, fault: int, *, begins: BoolArray, ends: BoolArray, size_c: FloatArray, other: IntArray | None = None
) -> list[FaultChange]:
    begun, ended = begins & ~jumps.told[:, :, fault], ends & jumps.told[:, :, fault]
    jumps.told[:, :, fault] = (jumps.told[:, :, fault] | begun) & ~ended
    if not (begun.any() or ended.any()):
        return []
    onset = np.broadcast_to(np.nanmax(jumps.at, axis=1, keepdims=True), begun.shape)
    return [FaultChange(FAULTS[fault], begun, ended, onset, measure_c=size_c, other=other)]


def _with_partners(other: IntArray, marked: BoolArray) -> BoolArray:
    """Return `marked` (K, S) with the `other` of each marked too; each is then the other's."""
    both = marked.copy()
    for k, s in np.argwhere(marked & (other >= 0)).tolist():
        both[k, other[k, s]] = True
        other[k, other[k, s]] = s
    return both


def _gap(ring: FloatArray) -> Gap:
    """Return the gap between the lines through the slots before and after the middle of `ring`."""
    before, after = ring[:, :, :SIDE], ring[:, :, -SIDE:]
    from_c, slope_before = before @ BEFORE[0], before @ BEFORE[1]
    to_c, slope_after = after @ AFTER[0], after @ AFTER[1]
    steps = np.arange(1.0, SIDE + 1.0)
    rest_before = before - from_c[:, :, None] + slope_before[:, :, None] * steps[::-1]
    rest_after = after - to_c[:, :, None] - slope_after[:, :, None] * steps
    rest = np.sqrt(0.5 * ((rest_before**2).mean(axis=2) + (rest_after**2).mean(axis=2)))
    size = np.abs(to_c - from_c)
    bends = np.abs(slope_after - slope_before)
    at_once = np.abs(after[:, :, 0] - before[:, :, -1]) > JUMP_AT_ONCE * size
    rests = np.abs(after[:, :, 1] - after[:, :, 0]) < JUMP_THEN_REST * size
    still = (bends < JUMP_SLOPE * size) & (rest < JUMP_RESIDUAL * size)
    return Gap(from_c, to_c, np.asarray(still & at_once & rests))


def _usual_change_c(beats: Beats) -> FloatArray:
    """Return the median change (K, S) between the newest beats, degC; 0 where fewer than half of them are known."""
    change = np.sort(np.abs(np.diff(beats.ring[:, :, -USUAL_BEATS - 1 :], axis=2)), axis=2)
    known = np.isfinite(change).sum(axis=2)
    middle = np.take_along_axis(change, np.maximum(known - 1, 0)[:, :, None] // 2, axis=2)[:, :, 0]
    return np.where(known >= USUAL_BEATS // 2, middle, 0.0)
