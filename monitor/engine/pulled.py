"""A probe that was pulled out of the fire or fell: within two minutes it is on its way to the air, and no other is.

It cools first order and so passes half of what it was above the air early; no fire can do that to one sensor alone.
"""

from dataclasses import dataclass

import numpy as np

from monitor.engine.beats import IntArray
from monitor.engine.limits import AIR_C, BEAT_S, PULLED_BEATS, PULLED_LEAST_C, PULLED_OTHERS, PULLED_SHARE
from monitor.engine.setup import BoolArray
from monitor.engine.told import FaultChange
from monitor.model import FloatArray, SensorFault

LOOKBACK_BEATS = 6
"""Beats over which it falls: 3 min."""


@dataclass(slots=True, eq=False)
class Pulled:
    """What is remembered of each sensor (K, S): `ring` (K, S, n) its newest beats in degC, newest last.

    `beats` in a row that it has been out (while `told`: back in), `held_c` what it read before, `told` whether it is
    told to be out.
    """

    ring: FloatArray
    beats: IntArray
    held_c: FloatArray
    told: BoolArray


def new_pulled(shape: tuple[int, int]) -> Pulled:
    """Return the state of kilns and sensors of `shape` before the first beat."""
    return Pulled(
        ring=np.full((*shape, LOOKBACK_BEATS), np.nan),
        beats=np.zeros(shape, np.int64),
        held_c=np.full(shape, np.nan),
        told=np.zeros(shape, bool),
    )


def judge_pulled(pulled: Pulled, now_c: FloatArray, *, now: float, able: BoolArray) -> list[FaultChange]:
    """Take up the temperatures (K, S) of the beat that ends at `now`; `able` (K, S) masks those that can be judged.

    One that cannot, as its contact has just jumped, loses its history.
    """
    pulled.ring[~able] = np.nan
    before_c = np.where(pulled.told | (pulled.beats > 0), pulled.held_c, np.fmax.reduce(pulled.ring, axis=2))
    pulled.ring[:, :, :-1] = pulled.ring[:, :, 1:]
    pulled.ring[:, :, -1] = now_c
    above_c = np.maximum(before_c - AIR_C, 1.0)
    lost_c = before_c - now_c
    is_out = able & (lost_c > np.maximum(PULLED_LEAST_C, PULLED_SHARE * above_c))
    knows = able & np.isfinite(lost_c)
    stays = (knows & (lost_c < PULLED_OTHERS * above_c)).sum(axis=1, keepdims=True)
    others = knows.sum(axis=1, keepdims=True) - 1
    is_out &= ((stays >= others) & (others > 0)) | pulled.told
    pulled.held_c = np.where(~pulled.told & (pulled.beats == 0), before_c, pulled.held_c)
    pulled.beats = np.where((is_out != pulled.told) & np.isfinite(now_c), pulled.beats + 1, 0)
    due = pulled.beats >= PULLED_BEATS
    if not due.any():
        return []
    begun, ended = due & ~pulled.told, due & pulled.told
    pulled.told = (pulled.told | begun) & ~ended
    pulled.beats[due] = 0
    onset = np.full(due.shape, now - (PULLED_BEATS + 1) * BEAT_S)
    return [FaultChange(SensorFault.DRIFT, begun, ended, onset, measure_c=-lost_c, why="pulled-out")]
