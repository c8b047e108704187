"""Drift against a neighbour: two sensors at one place whose difference grows as it never did.

Two probes in one place differ by their tolerance, by what they see, and by how deep they stand. That changes over
hours, by a small share of what the kiln climbs. Their difference now, less what it was some hours ago, must stay within
`DRIFT_C`, a share of the climb, and what it did in earlier hours. Two that never read alike are no neighbours, whatever
the site file says of their place. What goes wrong with a probe (metal lost, insulation
that leaks, wires that touch) makes it read less, so the one that fell behind is told. A sensor alone at its place
cannot be judged: between places the difference changes by ten times as much.
"""

from dataclasses import dataclass

import numpy as np

from monitor.engine.limits import (
    DRIFT_C,
    PAIR_ALIKE_C,
    PAIR_ALIKE_SHARE,
    PAIR_CALM_C,
    PAIR_CLIMB_SHARE,
    PAIR_HEALED,
    PAIR_LEARN_TICKS,
    PAIR_OVER_USUAL,
    PAIR_WARM_C,
    TICK_S,
)
from monitor.engine.setup import BoolArray, EngineSetup
from monitor.engine.told import FaultChange
from monitor.model import FloatArray, SensorFault

KEPT = 73
"""Ticks kept: 6 h."""
HOUR = 12
LOOKBACKS = (12, 24, 48, 72)
"""Ticks over which a difference is compared: 1, 2, 4 and 6 h."""


@dataclass(slots=True, eq=False)
class Neighbours:
    """What is remembered of each sensor (K, S): `ring` (K, S, n) degC at the newest ticks, newest last.

    `wander_c` (K, S, S) is what the difference of two usually does in an hour, learnt from before the ring; `told`
    whether it is told, at a difference `behind_c` to the other at its place.
    """

    ring: FloatArray
    wander_c: FloatArray
    behind_c: FloatArray
    told: BoolArray


def new_neighbours(shape: tuple[int, int]) -> Neighbours:
    """Return the state of kilns and sensors of `shape` before the first tick."""
    return Neighbours(
        ring=np.full((*shape, KEPT), np.nan),
        wander_c=np.full((*shape, shape[1]), np.nan),
        behind_c=np.full(shape, np.nan),
        told=np.zeros(shape, bool),
    )


def judge_neighbours(
    near: Neighbours, setup: EngineSetup, celsius: FloatArray, *, able: BoolArray, now: float
) -> list[FaultChange]:
    """Take up what sensors read (K, S) at the tick `now`; `able` (K, S) masks those that can be compared.

    A sensor that cannot loses its history: nothing from before compares with what comes after.
    """
    near.ring = np.concatenate([near.ring[:, :, 1:], np.where(able, celsius, np.nan)[:, :, None]], axis=2)
    near.ring = np.where(able[:, :, None], near.ring, np.nan)
    pairs = (setup.path[:, :, None] == setup.path[:, None, :]) & (setup.path >= 0)[:, :, None]
    pairs &= ~np.eye(celsius.shape[1], dtype=bool)
    if not pairs.any():
        return []
    apart = np.where(pairs[..., None], near.ring[:, None, :, :] - near.ring[:, :, None, :], np.nan)
    behind = _fell_behind(near, apart)
    begun = behind & ~near.told & able
    if not begun.any():
        _learn(near, apart)
    most = np.nan_to_num(np.fmax.reduce(np.abs(apart[..., -1]), axis=2))
    near.behind_c = np.where(begun, most, near.behind_c)
    ended = near.told & able & (most < near.behind_c * PAIR_HEALED)
    near.told = (near.told | begun) & ~ended
    near.ring[(pairs & ended[:, None, :]).any(axis=2) | ended] = np.nan
    if not (begun.any() or ended.any()):
        return []
    return [
        FaultChange(SensorFault.DRIFT, begun, ended, np.full(begun.shape, now - TICK_S), measure_c=most, why="pair")
    ]


def _fell_behind(near: Neighbours, apart: FloatArray) -> BoolArray:
    """Return which sensors (K, S) fell behind all others of their place, `apart` (K, S, S, n) behind each other."""
    behind = np.zeros(near.told.shape, bool)
    known = (near.wander_c < PAIR_CALM_C) & np.isfinite(apart[..., -1]) & ~near.told[:, None, :]
    for back in LOOKBACKS:
        then_c = near.ring[:, :, None, -1 - back]
        alike = np.abs(apart[..., -1 - back]) < PAIR_ALIKE_C + PAIR_ALIKE_SHARE * then_c
        grown = np.where(alike & (then_c > PAIR_WARM_C), apart[..., -1] - apart[..., -1 - back], np.nan)
        climbed = np.abs(near.ring[:, :, -1] - near.ring[:, :, -1 - back])
        allowed = DRIFT_C + PAIR_CLIMB_SHARE * climbed[:, :, None]
        usual = PAIR_OVER_USUAL * near.wander_c * np.sqrt(back / HOUR)
        further = grown > np.fmax(allowed, usual)
        behind |= (further & known).any(axis=2) & (further | ~known).all(axis=2)
    return behind


def _learn(near: Neighbours, apart: FloatArray) -> None:
    """Learn what differences usually do in an hour, from the oldest hour kept."""
    hour = np.abs(apart[..., HOUR] - apart[..., 0])
    nearer = near.wander_c + (hour - near.wander_c) / PAIR_LEARN_TICKS
    near.wander_c = np.where(np.isnan(hour), near.wander_c, np.where(np.isnan(near.wander_c), hour, nearer))
