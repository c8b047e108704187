"""Reduction as an oxygen probe measures it: less air than the fuel asks for.

The definition compares mean air with mean demand over a window of a few stokes. The air through a kiln hardly changes
with a stoke, its demand does: so the mean of demand over air, one over the excess-air ratio, is what must be averaged.
One span joins all probes. Where none speaks, the state is held and nothing begins.
"""

from dataclasses import dataclass

import numpy as np

from monitor.engine.beats import IntArray
from monitor.engine.limits import (
    BEAT_S,
    CELL_WORKS_C,
    REDUCTION_BREAK_S,
    REDUCTION_CONFIRM_S,
    REDUCTION_HEARD,
    REDUCTION_WINDOW_BEATS,
)
from monitor.engine.setup import BoolArray, EngineSetup
from monitor.engine.told import Change
from monitor.model import FloatArray, Slots
from monitor.oxygen.nernst import oxygen_share_from_emf
from monitor.oxygen.wood_gas import excess_air_from_oxygen

WINDOW_S = REDUCTION_WINDOW_BEATS * BEAT_S


@dataclass(slots=True, eq=False)
class Reduction:
    """Demand over air at each oxygen probe, and the span it makes.

    `total`, `count` (K, S) of the open beat, `ring` (K, S, n) of closed ones, `newest` (1,) the number of its newest.
    Per kiln (K,): `since` and `broken` epoch seconds since when the mean says reduction and since when not, NaN where
    they do not run, `open` whether it is told, `sensor` the probe that showed it first.
    """

    total: FloatArray
    count: IntArray
    ring: FloatArray
    newest: IntArray
    since: FloatArray
    broken: FloatArray
    open: BoolArray
    sensor: IntArray


def new_reduction(shape: tuple[int, int]) -> Reduction:
    """Return the state of kilns and sensors of `shape` before the first slot."""
    kilns = shape[0]
    return Reduction(
        total=np.zeros(shape),
        count=np.zeros(shape, np.int64),
        ring=np.full((*shape, REDUCTION_WINDOW_BEATS), np.nan),
        newest=np.zeros(1, np.int64),
        since=np.full(kilns, np.nan),
        broken=np.full(kilns, np.nan),
        open=np.zeros(kilns, bool),
        sensor=np.full(kilns, -1),
    )


def demand_over_air(setup: EngineSetup, slots: Slots) -> FloatArray:
    """Return one over the excess-air ratio (n, K, S) at oxygen probes, NaN elsewhere and where a cell does not work."""
    demand = np.full(slots.mean_c.shape, np.nan)
    if not setup.oxygen.any():
        return demand
    cell_c = slots.mean_c[:, setup.oxygen]
    emf_volts = 0.5 * (slots.emf_min_volts + slots.emf_max_volts)[:, setup.oxygen]
    ratio = excess_air_from_oxygen(oxygen_share_from_emf(emf_volts, cell_c), cell_c)
    works = (cell_c >= CELL_WORKS_C) & (ratio > 0.0)
    demand[:, setup.oxygen] = np.where(works, 1.0 / np.where(works, ratio, 1.0), np.nan)
    return demand


def take_demand(reduction: Reduction, demand: FloatArray) -> None:
    """Take a slot's demand over air (K, S) into the open beat."""
    known = np.isfinite(demand)
    reduction.total += np.where(known, demand, 0.0)
    reduction.count += known


def judge_reduction(reduction: Reduction, beat: int, closed: BoolArray) -> Change:
    """Close the beat; kilns `closed` (K,) up end and begin none."""
    now = beat * BEAT_S
    mean = _mean_over_window(reduction, beat)
    known = np.isfinite(mean).any(axis=1)
    most = np.where(np.isfinite(mean), mean, -np.inf).argmax(axis=1)
    kiln = np.arange(len(closed))
    reduces = known & (mean[kiln, most] > 1.0)
    reduction.broken = np.where(known & ~reduces, np.fmin(reduction.broken, now), reduction.broken)
    over = known & ~reduces & (now - reduction.broken >= REDUCTION_BREAK_S)
    reduction.since = np.where(over, np.nan, np.where(reduces, np.fmin(reduction.since, now), reduction.since))
    begun = reduces & (now - reduction.since >= REDUCTION_CONFIRM_S) & ~reduction.open & ~closed
    ended = reduction.open & (over | closed)
    reduction.sensor = np.where(begun, most, reduction.sensor)
    reduction.open = (reduction.open | begun) & ~ended
    change = Change(
        begun=begun,
        ended=ended,
        sensor=reduction.sensor.copy(),
        onset=reduction.since - WINDOW_S / 2.0,
        ended_at=reduction.broken - WINDOW_S / 2.0,
        measure=1.0 / mean[kiln, most],
    )
    reduction.broken = np.where(reduces, np.nan, reduction.broken)
    return change


def probe_speaks(reduction: Reduction) -> BoolArray:
    """Return the kilns (K,) where a probe measured of late, or told what has not ended since: it alone counts there."""
    return np.asarray(np.isfinite(reduction.ring).any(axis=(1, 2)) | reduction.open)


def _mean_over_window(reduction: Reduction, beat: int) -> FloatArray:
    """Move the ring on by the open beat and return its mean (K, S), NaN where too little of it was heard."""
    elapsed = min(beat - int(reduction.newest[0]), REDUCTION_WINDOW_BEATS)
    reduction.newest[0] = beat
    ring = reduction.ring
    if elapsed < REDUCTION_WINDOW_BEATS:
        ring[:, :, :-elapsed] = ring[:, :, elapsed:]
    ring[:, :, -elapsed:] = np.nan
    count = reduction.count
    ring[:, :, -1] = np.where(count > 0, reduction.total / np.maximum(count, 1), np.nan)
    reduction.total[...], reduction.count[...] = 0.0, 0
    heard = np.isfinite(ring)
    enough = (heard.mean(axis=2) >= REDUCTION_HEARD) & heard[:, :, -1]
    return np.where(enough, np.where(heard, ring, 0.0).sum(axis=2) / np.maximum(heard.sum(axis=2), 1), np.nan)
