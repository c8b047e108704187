"""What a slot shows against the one heard before it: values, changes, and whether anything about it is odd.

All slots of a call are compared at once, each with the last heard one before it, so that gaps and blocks change
nothing. Most slots are plain: only the odd ones need to be judged one by one.
"""

from dataclasses import dataclass, fields

import numpy as np

from monitor.engine.limits import HUM_VOLTS, JUMP_SLOT_C, NEGATIVE_VOLTS, SPIKE_VOLTS
from monitor.engine.setup import BoolArray
from monitor.model import SLOT_S, FloatArray, Slots, Status


@dataclass(slots=True, eq=False)
class LastHeard:
    """Each sensor's last slot with a sample (K, S): its end, mean and cold junction in degC, its emf in volts."""

    end: FloatArray
    mean_c: FloatArray
    middle_volts: FloatArray
    width_volts: FloatArray
    cold_c: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """n slots of K kilns by S sensors (n, K, S), or one of them (K, S); NaN where nothing is known.

    `mean_c` is of valid samples, NaN where the emf is wide; `middle_volts` and `width_volts` are of raw emf. The fields
    that begin with `before` are those of the last slot heard before. `is_same` marks the very same value as before,
    `is_wide` an emf that moved within one slot as no junction does. `raw` (n, 4, K, S) has middle of the emf, cold
    junction, status and end as rows.
    """

    heard: BoolArray
    mean_c: FloatArray
    middle_volts: FloatArray
    width_volts: FloatArray
    before_end: FloatArray
    before_c: FloatArray
    before_volts: FloatArray
    before_width_volts: FloatArray
    before_cold_c: FloatArray
    cold_c: FloatArray
    is_same: BoolArray
    is_wide: BoolArray
    raw: FloatArray

    @property
    def end(self) -> float:
        """End of one slot, epoch seconds."""
        return float(self.raw[3, 0, 0])

    def at(self, slot: int) -> "Seen":
        """Return one slot."""
        return Seen(*(getattr(self, field.name)[slot] for field in fields(Seen)))


def new_last_heard(shape: tuple[int, int]) -> LastHeard:
    """Return the state of kilns and sensors of `shape` before the first slot."""
    return LastHeard(*(np.full(shape, np.nan) for _ in range(5)))


def see(last: LastHeard, slots: Slots, present: BoolArray) -> Seen:
    """Return what `slots` show and keep the last heard of them; `present` (K, S) masks the sensors looked at."""
    heard = (slots.status != Status.ABSENT) & present
    middle = 0.5 * (slots.emf_min_volts + slots.emf_max_volts)
    width = slots.emf_max_volts - slots.emf_min_volts
    is_wide = (width > SPIKE_VOLTS) & present
    mean_c = np.where((slots.count > 0) & ~is_wide, slots.mean_c, np.nan)
    number = np.where(heard, np.arange(1, len(slots.end) + 1)[:, None, None], 0)
    newest = np.maximum.accumulate(number, axis=0)
    earlier = np.concatenate([np.zeros_like(newest[:1]), newest[:-1]])
    end = np.broadcast_to(slots.end[:, None, None], heard.shape)
    before_end, before_c, before_volts, before_width, before_cold = (
        np.take_along_axis(np.concatenate([old[None], new]), earlier, axis=0)
        for old, new in (
            (last.end, end), (last.mean_c, mean_c), (last.middle_volts, middle), (last.width_volts, width),
            (last.cold_c, slots.cold_c),
        )
    )  # fmt: skip
    if len(slots.end):
        _keep(last, (end, mean_c, middle, width, slots.cold_c), newest[-1])
    still = (width == 0.0) & (before_width == 0.0) & (middle == before_volts)
    finished = np.isnan(middle) & (mean_c == before_c)
    return Seen(
        heard, mean_c, middle, width, before_end, before_c, before_volts, before_width, before_cold, slots.cold_c,
        is_same=heard & (still | finished), is_wide=is_wide,
        raw=np.stack([middle, slots.cold_c, slots.status.astype(np.float64), end], axis=1),
    )  # fmt: skip


def is_odd(seen: Seen, end: FloatArray) -> BoolArray:
    """Return which slots, ending at `end` (n,), must be judged one by one (n,)."""
    near = end[:, None, None] - seen.before_end <= 2 * SLOT_S
    jump = near & (np.abs(seen.mean_c - seen.before_c) > JUMP_SLOT_C)
    spike = np.abs(seen.middle_volts - seen.before_volts) > SPIKE_VOLTS
    negative = seen.middle_volts < NEGATIVE_VOLTS
    # an emf may be there without being looked at, an oxygen cell's
    unlike = seen.heard & ((seen.width_volts > HUM_VOLTS) | negative)
    odd = seen.is_same | unlike | jump | spike
    return np.asarray(odd.any(axis=(1, 2)))


def _keep(last: LastHeard, columns: tuple[FloatArray, ...], newest: FloatArray) -> None:
    pick = np.maximum(newest - 1, 0)[None]
    for name, column in zip((f.name for f in fields(LastHeard)), columns, strict=True):
        value = np.take_along_axis(column, pick, axis=0)[0]
        setattr(last, name, np.where(newest > 0, value, getattr(last, name)))
