"""Faults at the converter: volts that leak in, a repeated answer, the wrong gain, and what the node says instead."""

from collections.abc import Callable, Iterable, Mapping
from enum import IntEnum

import numpy as np
import numpy.typing as npt

from monitor.model import FloatArray
from simulator.probe.moments import BoolArray, Moment
from simulator.script.probe_faults import ProbeFault

VOLTS_PER_MILLIVOLT = 1e-3
SPIKES_ONE_IN = 50
HUM_BEAT_HZ = 3.07
"""What is left of mains of one frequency behind a filter for the other: a beat, seen once a second."""
RESET_UNSEEN_S = 5.0
"""Until its read-back shows a node that a converter has lost its set-up, nothing from it is believed or sent."""
HOT_WIRE_TURN_S = (1.0, 20.0)


class Told(IntEnum):
    """What a node says about one input in one scan; of several the highest counts."""

    EMF = 0
    COLD_JUNCTION = 1
    RANGE = 2
    OPEN = 3
    NOTHING = 4


def spikes(moment: Moment, draws: FloatArray) -> FloatArray:
    """Return the volts (n,) of spikes up and down, `draws` (n,) uniform in 0 to 1."""
    hit = moment.on & (draws < 1.0 / SPIKES_ONE_IN)
    sign = np.where(draws < 0.5 / SPIKES_ONE_IN, 1.0, -1.0)
    return np.where(hit, sign * moment.size * VOLTS_PER_MILLIVOLT, 0.0)


def hum(moment: Moment, _draws: FloatArray) -> FloatArray:
    """Return the volts (n,) of the beat between mains and filter."""
    beat = np.sin(2.0 * np.pi * HUM_BEAT_HZ * moment.since_s)
    return np.where(moment.on, beat * moment.size * VOLTS_PER_MILLIVOLT, 0.0)


PICKED_UP: Mapping[ProbeFault, Callable[[Moment, FloatArray], FloatArray]] = {
    ProbeFault.SPIKES: spikes,
    ProbeFault.HUM: hum,
}


def picked_up_volts(moments: Iterable[Moment], draws: FloatArray) -> FloatArray:
    """Return all volts (n,) that leak in."""
    total = np.zeros(draws.shape)
    for moment in moments:
        if moment.what in PICKED_UP:
            total = total + PICKED_UP[moment.what](moment, draws)
    return total


def always(moment: Moment) -> BoolArray:
    """The node says so for as long as the spell lasts."""
    return moment.on


def after_resets(moment: Moment) -> BoolArray:
    """The converter falls back to its power-on settings again and again."""
    return moment.on & (moment.since_s % (60.0 * moment.size) < RESET_UNSEEN_S)


WORDS: Mapping[ProbeFault, tuple[Told, Callable[[Moment], BoolArray]]] = {
    ProbeFault.OPEN: (Told.OPEN, always),
    ProbeFault.OVER_VOLTAGE: (Told.RANGE, always),
    ProbeFault.COLD_LOST: (Told.COLD_JUNCTION, always),
    ProbeFault.CONVERTER_RESET: (Told.NOTHING, after_resets),
    ProbeFault.DEAD_BUS: (Told.NOTHING, always),
    ProbeFault.NO_RESULT: (Told.NOTHING, always),
}
"""A hot wire is not among them: when it breaks is drawn (`turns_of` and `broken`)."""


def told_for(moments: Iterable[Moment], count: int) -> npt.NDArray[np.uint8]:
    """Return what the node says (n,) as `Told` for `count` scans, hot wires aside."""
    told = np.zeros(count, dtype=np.uint8)
    for moment in moments:
        if moment.what in WORDS:
            word, where = WORDS[moment.what]
            told = np.maximum(told, np.where(where(moment), np.uint8(word), np.uint8(Told.EMF)))
    return told


def turns_of(length_s: float, rng: np.random.Generator) -> FloatArray:
    """Return seconds at which a hot wire breaks and closes in turn; it breaks at 0 and closes last at `length_s`."""
    shortest_s, longest_s = HOT_WIRE_TURN_S
    turns = rng.uniform(shortest_s, longest_s, int(length_s / shortest_s) + 2)
    at_s = np.concatenate([[0.0], np.cumsum(turns)])
    inside = at_s[at_s < max(length_s - longest_s, shortest_s)]
    if len(inside) % 2 == 0:
        inside = inside[:-1]
    return np.append(inside, length_s)


def broken(since_s: FloatArray, turns: FloatArray) -> BoolArray:
    """Return where (n,) a hot wire is open, `turns` as `turns_of` gives them."""
    is_open: BoolArray = np.searchsorted(turns, since_s, side="right") % 2 == 1
    return is_open


def repeated(values: FloatArray, on: BoolArray, held: float | None) -> tuple[FloatArray, float | None]:
    """Return `values` (n,) with one value repeated where `on`, and that value for the scans to come.

    It is the first one where the fault is on, or `held` from scans before.
    """
    if not on.any():
        return values, held
    first = float(values[int(np.argmax(on))]) if held is None else held
    return np.where(on, first, values), first
