"""What stokes are read from: each sensor's change from slot to slot, over the last minutes.

The newest two slots wait, so that a hole of one or two slots between samples can be bridged by a straight line. A
sensor that is read too seldom for 5 s is taken at 10 s: its changes then are over two slots, and only slots with a
sample count.
"""

from dataclasses import dataclass

import numpy as np

from monitor.engine.limits import SLOTS_PER_BEAT, SPIKE_C, STOKE_BLOCK_BEATS, STOKE_COARSE_SHARE, STOKE_FINE_SHARE
from monitor.engine.setup import BoolArray
from monitor.model import SLOT_S, FloatArray

BLOCK = STOKE_BLOCK_BEATS * SLOTS_PER_BEAT
"""Slots that are taken in at once."""

WAIT = 2
"""Slots that wait for their right neighbours."""

ORDER = 3
"""How many changes before say what the next one will be."""

LEAD = 2 * ORDER
"""Older cells that a prediction at the old end reaches back to, at 10 s."""

SLOTS = 60
"""Slots that are looked at: 5 min."""

KEPT = LEAD + SLOTS

_HOLES_GAIN = 0.15


@dataclass(slots=True, eq=False)
class Cells:
    """Slots of each sensor (K, S), newest last.

    `raw` (K, S, n) degC of the last two blocks as they came; `before` (K, S, 2) degC before the newest bridged ones;
    `holes` (K, S) share of slots that had to be bridged, `coarse` (K, S) whether the sensor is taken at 10 s,
    `mixed` (1,) whether any is. `change`
    (K, S, n) degC from one taken slot to the next, `real` (K, S, n) where a slot held a sample.
    """

    raw: FloatArray
    before: FloatArray
    holes: FloatArray
    coarse: BoolArray
    mixed: BoolArray
    change: FloatArray
    real: BoolArray


def new_cells(shape: tuple[int, int]) -> Cells:
    """Return the state of kilns and sensors of `shape` before the first slot."""
    return Cells(
        raw=np.full((*shape, 2 * BLOCK), np.nan),
        before=np.full((*shape, 2), np.nan),
        holes=np.zeros(shape),
        coarse=np.zeros(shape, bool),
        mixed=np.zeros(1, bool),
        change=np.full((*shape, KEPT), np.nan),
        real=np.zeros((*shape, KEPT), bool),
    )


def newest_begin(block_end: float) -> float:
    """Return when the newest looked-at slot began, once the block that ends at `block_end` is in."""
    return block_end - (WAIT + 1) * SLOT_S


def take_block(cells: Cells, celsius: FloatArray) -> BoolArray:
    """Take in a block's slots (K, S, BLOCK), NaN where there is none; return which sensors changed their spacing."""
    n = BLOCK
    cells.raw[:, :, :n] = cells.raw[:, :, n:]
    cells.raw[:, :, n:] = _without_spikes(celsius)
    fresh = cells.raw[:, :, n - WAIT : 2 * n - WAIT]
    real = np.isfinite(fresh)
    bridged = fresh if real.all() else _bridge(cells.raw, fresh)
    changed = _choose_spacing(cells, np.isfinite(bridged), real)
    line = np.concatenate([cells.before, bridged], axis=2)
    step = line[:, :, 2:] - line[:, :, 1:-1]
    if cells.mixed[0]:
        step = np.where(cells.coarse[:, :, None], line[:, :, 2:] - line[:, :, :-2], step)
    cells.before = line[:, :, -2:].copy()
    cells.change[:, :, :-n] = cells.change[:, :, n:]
    cells.change[:, :, -n:] = step
    cells.real[:, :, :-n] = cells.real[:, :, n:]
    cells.real[:, :, -n:] = real
    return changed


def spacing_s(cells: Cells) -> FloatArray:
    """Return seconds from one taken slot of each sensor to the next (K, S)."""
    return np.where(cells.coarse, 2.0 * SLOT_S, SLOT_S)


def _without_spikes(celsius: FloatArray) -> FloatArray:
    span = np.fmax.reduce(celsius, axis=2) - np.fmin.reduce(celsius, axis=2)
    if not (span > SPIKE_C).any():
        return celsius
    ordered = np.sort(celsius, axis=2)
    count = np.isfinite(celsius).sum(axis=2, keepdims=True)
    middle = np.take_along_axis(ordered, np.maximum(count - 1, 0) // 2, axis=2)
    return np.where(np.abs(celsius - middle) <= SPIKE_C, celsius, np.nan)


def _bridge(raw: FloatArray, fresh: FloatArray) -> FloatArray:
    """Fill holes of one or two slots of `fresh`, the middle of `raw`, by straight lines."""
    n, first = BLOCK, BLOCK - WAIT
    left1, left2 = raw[:, :, first - 1 : first - 1 + n], raw[:, :, first - 2 : first - 2 + n]
    right1, right2 = raw[:, :, first + 1 : first + 1 + n], raw[:, :, first + 2 : first + 2 + n]
    filled = fresh
    for line in (0.5 * (left1 + right1), (2.0 * left1 + right2) / 3.0, (left2 + 2.0 * right1) / 3.0):
        filled = np.where(np.isnan(filled), line, filled)
    return filled


def _choose_spacing(cells: Cells, known: BoolArray, real: BoolArray) -> BoolArray:
    """Learn how many slots are holes and choose 5 or 10 s."""
    if real.all() and not cells.holes.any():
        return np.zeros(cells.coarse.shape, bool)
    seen = known.any(axis=2)
    share = (known & ~real).mean(axis=2)
    cells.holes = np.where(seen, cells.holes + _HOLES_GAIN * (share - cells.holes), cells.holes)
    coarse = cells.holes > np.where(cells.coarse, STOKE_FINE_SHARE, STOKE_COARSE_SHARE)
    changed: BoolArray = coarse != cells.coarse
    cells.coarse = coarse
    cells.mixed[0] = coarse.any()
    return changed
