"""Moments: where along some scans a spell of a probe fault is on, and how far what it warms or cools has come."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from monitor.model import FloatArray
from simulator.script.probe_faults import WHOLE_NODE, ProbeFault
from simulator.script.spells import Spell

BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Moment:
    """One fault along n scans: `since_s` (n,) seconds since its begin (below 0 before), its length and its size."""

    what: ProbeFault
    since_s: FloatArray
    length_s: float
    size: float

    @property
    def on(self) -> BoolArray:
        """Where it is on (n,)."""
        return (self.since_s >= 0.0) & (self.since_s < self.length_s)

    def presence(self, settles_s: float) -> FloatArray:
        """Return how far it has come (n,), 0 to 1, for something that follows it to first order in `settles_s`."""
        rise = 1.0 - np.exp(-np.clip(self.since_s, 0.0, self.length_s) / settles_s)
        share: FloatArray = rise * np.exp(-np.maximum(self.since_s - self.length_s, 0.0) / settles_s)
        return share


def moments_of(spells: tuple[Spell, ...], sensor: str, clock_s: FloatArray) -> list[Moment]:
    """Return the probe faults of `sensor` among `spells` at `clock_s` (n,) seconds since lighting."""
    return [
        Moment(s.what, clock_s - s.begin_h * 3600.0, s.hours * 3600.0, s.size)
        for s in spells
        if isinstance(s.what, ProbeFault) and (s.what in WHOLE_NODE or s.sensor == sensor)
    ]
