"""Ageing: probes that have been above 1000 degC read less and less, base metal more than noble, in reduction faster.

A rate in degC/h at 1000 degC that doubles every 100 degC, slowing down towards `MOST_C` in all; the loss shows in
proportion to the temperature read. It is a few degrees over a firing, which is no fault. Green rot of type
K is one: it takes the chromium out of the wire in reducing gas.
"""

from dataclasses import dataclass

import numpy as np

from monitor.model import FloatArray
from simulator.probe.moments import moments_of
from simulator.script.probe_faults import ProbeFault
from simulator.script.spells import Spell
from simulator.spec.kiln_file import KilnSpec

RATE_C_H = {"K": 0.03, "E": 0.03, "J": 0.03, "T": 0.03, "N": 0.01, "S": 0.002, "R": 0.002, "B": 0.001}
"""degC/h lost at 1000 degC in air (from memory, order of magnitude; an oxygen probe's own thermocouple is noble)."""
IN_REDUCTION = {"K": 3.0, "E": 3.0, "J": 3.0, "T": 3.0, "N": 2.0, "S": 2.0, "R": 2.0, "B": 2.0}
"""How many times faster in reduction (from memory)."""
MOST_C = 7.0
"""What age takes in the end (from memory: a few degrees; more is a fault)."""
BEGINS_C = 1000.0
DOUBLES_C = 100.0
ROT_BEGINS_C = 900.0
"""From where green rot goes on while the gas is reducing (from memory: 800 to 1050 degC)."""


@dataclass(frozen=True, slots=True, eq=False)
class Aged:
    """degC at 1000 degC that probes read too little (n, S): by age, and by green rot beyond that."""

    wander_c: FloatArray
    rot_c: FloatArray


class Ageing:
    """The age of all probes of a kiln, from the run's begin on; `rng` draws how much each is prone to it."""

    def __init__(self, spec: KilnSpec, spells: tuple[Spell, ...], rng: np.random.Generator) -> None:
        letters = [s.type if s.type in RATE_C_H else "S" for s in spec.sensors]
        self._rate_c_h = np.array([RATE_C_H[letter] for letter in letters]) * rng.uniform(0.5, 1.5, len(letters))
        self._in_reduction = np.array([IN_REDUCTION[letter] for letter in letters])
        self._ids = [s.id for s in spec.sensors]
        self._spells = spells
        self._grown_c = np.zeros(len(letters))
        self._rot_c = np.zeros(len(letters))

    def add(self, clock_s: FloatArray, junction_c: FloatArray, air_ratio: FloatArray, step_s: float) -> Aged:
        """Return how aged the probes are after each step, junctions and excess-air ratio around them (n, S)."""
        hours = step_s / 3600.0
        is_rich = air_ratio < 1.0
        rate = self._rate_c_h * np.where(is_rich, self._in_reduction, 1.0)
        grown = rate * np.exp2((junction_c - BEGINS_C) / DOUBLES_C) * (junction_c > BEGINS_C)
        rots = self._rot_rate_c_h(clock_s) * is_rich * (junction_c > ROT_BEGINS_C)
        # summed one by one from the last sum on, so that blocks of any length give the same bits
        grown_c = np.cumsum(np.vstack([self._grown_c, grown * hours]), axis=0)[1:]
        rot_c = np.cumsum(np.vstack([self._rot_c, rots * hours]), axis=0)[1:]
        self._grown_c, self._rot_c = grown_c[-1], rot_c[-1]
        return Aged(MOST_C * (1.0 - np.exp(-grown_c / MOST_C)), rot_c)

    def _rot_rate_c_h(self, clock_s: FloatArray) -> FloatArray:
        rate = np.zeros((len(clock_s), len(self._ids)))
        for i, sensor in enumerate(self._ids):
            for moment in moments_of(self._spells, sensor, clock_s):
                if moment.what is ProbeFault.GREEN_ROT:
                    rate[:, i] += moment.size * moment.on
        return rate
