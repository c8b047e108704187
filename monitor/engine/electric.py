"""Faults that show in the emf itself: frozen, spikes, reversed.

None of them needs a neighbour, but "reversed" wants to know that a fire is lit. Slots with a spike are left out of all
temperatures; ten of them in ten minutes are a finding.
"""

from dataclasses import dataclass

import numpy as np

from monitor.engine.limits import (
    FROZEN_FINISHED_S,
    FROZEN_S,
    HUM_SHARE,
    HUM_SLOTS,
    HUM_VOLTS,
    NEGATIVE_VOLTS,
    REVERSED_AT_ONCE_S,
    REVERSED_AT_ONCE_VOLTS,
    REVERSED_S,
    REVERSED_WARM_C,
    SPIKE_RETURN,
    SPIKE_VOLTS,
    SPIKES_TOLD,
    SPIKES_WITHIN_S,
)
from monitor.engine.seen import Seen
from monitor.engine.setup import BoolArray, EngineSetup
from monitor.engine.told import FaultChange
from monitor.model import SLOT_S, FloatArray, SensorFault

FAULTS = (SensorFault.FROZEN, SensorFault.REVERSED, SensorFault.SPIKES)
FROZEN, REVERSED, SPIKES = range(3)


@dataclass(slots=True, eq=False)
class Electric:
    """What is remembered of each sensor (K, S); times are epoch seconds, NaN for none.

    `same_since` since when the value has been the very same, `negative_since` since when the emf has been negative,
    `spike_at` (K, S, n) the newest spikes, newest last, `lone_volts` and `lone_from_volts` a lone sample far off and
    the one before it, `wide_volts` the width of a wide slot just seen, `wide_from_volts` and `wide_from_width_volts`
    middle and width of the one before it; `hum` the share of newest slots that are wider than a fire makes them, since
    `hum_since`; `told` (K, S, F) which of `FAULTS` is open.
    """

    same_since: FloatArray
    negative_since: FloatArray
    spike_at: FloatArray
    lone_volts: FloatArray
    lone_from_volts: FloatArray
    wide_volts: FloatArray
    wide_from_volts: FloatArray
    wide_from_width_volts: FloatArray
    hum: FloatArray
    hum_since: FloatArray
    told: BoolArray


def new_electric(shape: tuple[int, int]) -> Electric:
    """Return the state of kilns and sensors of `shape` before the first slot."""
    return Electric(
        same_since=np.full(shape, np.nan),
        negative_since=np.full(shape, np.nan),
        spike_at=np.full((*shape, SPIKES_TOLD), np.nan),
        lone_volts=np.full(shape, np.nan),
        lone_from_volts=np.full(shape, np.nan),
        wide_volts=np.full(shape, np.nan),
        wide_from_volts=np.full(shape, np.nan),
        wide_from_width_volts=np.full(shape, np.nan),
        hum=np.zeros(shape),
        hum_since=np.full(shape, np.nan),
        told=np.zeros((*shape, len(FAULTS)), bool),
    )


def rests(electric: Electric) -> bool:
    """Return whether nothing is told or under way, so that a plain slot changes nothing."""
    memories = (
        electric.same_since, electric.negative_since, electric.lone_volts, electric.wide_volts, electric.spike_at
    )  # fmt: skip
    return not (electric.told.any() or electric.hum.any()) and all(np.isnan(memory).all() for memory in memories)


def judge_electric(
    electric: Electric, setup: EngineSetup, seen: Seen, *, end: float, warm: BoolArray
) -> list[FaultChange]:
    """Take up the slot that ends at `end`; `warm` (K, S) where another sensor of the kiln shows that a fire is lit."""
    frozen = _judge_frozen(electric, seen, end)
    reversed_ = _judge_reversed(electric, seen, end=end, warm=warm)
    spikes = _with_hum(electric, seen, end, spikes=_judge_spikes(electric, seen, end))
    changes = []
    for fault, (begins, ends, onset) in enumerate((frozen, reversed_, spikes)):
        begun, ended = begins & ~electric.told[:, :, fault] & setup.present, ends & electric.told[:, :, fault]
        electric.told[:, :, fault] = (electric.told[:, :, fault] | begun) & ~ended
        if begun.any() or ended.any():
            hums = fault == SPIKES and bool((electric.hum > 0.5 * HUM_SHARE)[begun | ended].any())
            changes.append(FaultChange(FAULTS[fault], begun, ended, onset, why="hum" if hums else ""))
    return changes


_Judged = tuple[BoolArray, BoolArray, FloatArray]
"""Begun and ended (K, S), and the time (K, S) from which either counts."""


def _judge_frozen(electric: Electric, seen: Seen, end: float) -> _Judged:
    moved = seen.heard & ~seen.is_same
    began = np.where(np.isnan(electric.same_since), seen.before_end - SLOT_S, electric.same_since)
    onset = np.where(moved, end - SLOT_S, began)
    electric.same_since = np.where(moved, np.nan, np.where(seen.is_same, began, electric.same_since))
    enough_s = np.where(np.isnan(seen.middle_volts), FROZEN_FINISHED_S, FROZEN_S)
    return seen.is_same & (end - electric.same_since >= enough_s), moved, onset


def _judge_reversed(electric: Electric, seen: Seen, *, end: float, warm: BoolArray) -> _Judged:
    known = seen.heard & np.isfinite(seen.middle_volts)
    negative = known & (seen.middle_volts < NEGATIVE_VOLTS)
    began = np.where(np.isnan(electric.negative_since), end - SLOT_S, electric.negative_since)
    over = known & ~negative
    onset = np.where(over, end - SLOT_S, began)
    electric.negative_since = np.where(over, np.nan, np.where(negative, began, electric.negative_since))
    lasts_s = end - electric.negative_since
    at_once = (seen.middle_volts < REVERSED_AT_ONCE_VOLTS) & (lasts_s >= REVERSED_AT_ONCE_S)
    return negative & (at_once | (warm & (lasts_s >= REVERSED_S))), over, onset


def _judge_spikes(electric: Electric, seen: Seen, end: float) -> _Judged:
    """Call a wide slot, or a lone sample, a spike once the next slot shows that the emf has come back."""
    size = electric.lone_volts - electric.lone_from_volts
    came_back = np.abs(seen.middle_volts - electric.lone_from_volts) < SPIKE_RETURN * np.abs(size)
    spike = seen.heard & ((np.isfinite(size) & came_back) | _wide_came_back(electric, seen))
    alone = seen.heard & ~spike & (seen.width_volts == 0.0)
    alone &= np.abs(seen.middle_volts - seen.before_volts) > SPIKE_VOLTS
    electric.lone_volts = np.where(alone, seen.middle_volts, np.where(seen.heard, np.nan, electric.lone_volts))
    electric.lone_from_volts = np.where(alone, seen.before_volts, electric.lone_from_volts)
    newer = np.concatenate([electric.spike_at[:, :, 1:], np.full((*spike.shape, 1), end - SLOT_S)], axis=2)
    electric.spike_at = np.where(spike[:, :, None], newer, electric.spike_at)
    oldest, newest = electric.spike_at[:, :, 0], electric.spike_at[:, :, -1]
    ended = seen.heard & ~(end - newest < SPIKES_WITHIN_S)
    onset = np.where(ended, np.where(np.isnan(newest), end - SLOT_S, newest), oldest - SLOT_S)
    electric.spike_at[ended] = np.nan
    return spike & (newest - oldest <= SPIKES_WITHIN_S), ended, onset


def _wide_came_back(electric: Electric, seen: Seen) -> BoolArray:
    """Return where the slot before was wide and this one reaches again what was read before it.

    What is pulled out of the fire falls as fast, but does not come back.
    """
    reach = 0.5 * (seen.width_volts + electric.wide_from_width_volts) + SPIKE_RETURN * electric.wide_volts
    back = seen.heard & (np.abs(seen.middle_volts - electric.wide_from_volts) < reach)
    wide = seen.heard & seen.is_wide
    electric.wide_volts = np.where(wide, seen.width_volts, np.where(seen.heard, np.nan, electric.wide_volts))
    electric.wide_from_volts = np.where(wide, seen.before_volts, electric.wide_from_volts)
    electric.wide_from_width_volts = np.where(wide, seen.before_width_volts, electric.wide_from_width_volts)
    return np.asarray(back)


def _with_hum(electric: Electric, seen: Seen, end: float, spikes: _Judged) -> _Judged:
    """Call it spikes, too, where slot after slot is wider than a fire makes it: the mains leak in."""
    begins, ends, onset = spikes
    is_wide = seen.heard & (seen.width_volts > HUM_VOLTS)
    nearer = electric.hum + (is_wide - electric.hum) / HUM_SLOTS
    electric.hum_since = np.where(is_wide & (electric.hum < 0.2 * HUM_SHARE), end - SLOT_S, electric.hum_since)
    electric.hum = np.where(seen.heard, np.where(nearer < 0.02 * HUM_SHARE, 0.0, nearer), electric.hum)
    hums = is_wide & (electric.hum > HUM_SHARE)
    onset = np.where(hums & ~begins, electric.hum_since, onset)
    return begins | hums, ends & (electric.hum < 0.5 * HUM_SHARE), onset


def warm_elsewhere(setup: EngineSetup, last_c: FloatArray) -> BoolArray:
    """Return where another sensor of fire or ware reads more than `REVERSED_WARM_C`, from `last_c` (K, S)."""
    is_warm = setup.heat & (last_c > REVERSED_WARM_C)
    count = is_warm.sum(axis=1, keepdims=True)
    return np.asarray(count - is_warm > 0)
