"""Track: what the sensors of a node stand in along a firing, on its steps and at any moment between.

From what truly happened: junctions, connection heads and terminals, how aged the probes are, and the emf of oxygen
cells. Blocks join without a seam: each is led by the last step of the one before.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Protocol

import numpy as np

from monitor.model import FloatArray
from simulator.physics.flue_gas import mixed_ratio
from simulator.probe.ageing import Ageing
from simulator.probe.climate import head_c, shed_c, terminal_c
from simulator.probe.zirconia import Cell
from simulator.script.spells import Spell
from simulator.spec.kiln_file import KilnSpec
from simulator.spec.sensor_spec import ZIRCONIA


class Happened(Protocol):
    """Columns of what truly happened, one row a step: as a trace has them."""

    @property
    def junction_c(self) -> FloatArray:
        """DegC of the junctions (n, S)."""

    @property
    def ware_c(self) -> FloatArray:
        """DegC of the ware (n, Z)."""

    @property
    def air_kg_s(self) -> FloatArray:
        """Air that reached each zone (n, Z)."""

    @property
    def demand_kg_s(self) -> FloatArray:
        """Air that all fuel gas there or upstream asks for (n, Z)."""


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """Columns over n moments: `clock_s` (n,) since lighting; all others (n, S).

    degC of junctions, connection heads and terminals; degC at 1000 degC lost by age and by green rot; volts of cells.
    """

    clock_s: FloatArray
    junction_c: FloatArray
    head_c: FloatArray
    terminals_c: FloatArray
    wander_c: FloatArray
    rot_c: FloatArray
    cell_volts: FloatArray

    def at(self, clock_s: FloatArray) -> "Track":
        """Return the track at `clock_s` (m,), linear between its moments."""
        columns = [_between(clock_s, self.clock_s, getattr(self, f.name)) for f in fields(Track)[1:]]
        return Track(clock_s, *columns)

    def led_by(self, last: "Track | None", step_s: float) -> "Track":
        """Return this track behind the last row of the one before; the first is led by its own first row."""
        first = self.clock_s[:1] - step_s if last is None else last.clock_s[-1:]
        rows = [
            np.concatenate([getattr(self, f.name)[:1] if last is None else getattr(last, f.name)[-1:], own])
            for f in fields(Track)[1:]
            for own in [getattr(self, f.name)]
        ]
        return Track(np.concatenate([first, self.clock_s]), *rows)


class Tracker:
    """Makes the track of `spec`'s sensors, block after block, lit at epoch second `lit`; chance after `seed`."""

    def __init__(self, spec: KilnSpec, spells: tuple[Spell, ...], *, seed: int, lit: int, step_s: float) -> None:
        self._spec = spec
        self._lit = lit
        self._step_s = step_s
        self._zones = [spec.zone_index(s.zone) for s in spec.sensors]
        self._guide_zone = spec.zone_index(spec.guide_zone)
        self._ageing = Ageing(spec, spells, np.random.default_rng([seed, 14]))
        moisture = spec.crew.moisture
        self._cells = {
            i: Cell(moisture, np.random.default_rng([seed, 11, i]))
            for i, s in enumerate(spec.sensors)
            if s.type == ZIRCONIA
        }
        self._last: Track | None = None

    def add(self, happened: Happened, clock_s: FloatArray) -> Track:
        """Return the track along `happened`, whose steps end at `clock_s` (n,), led by the step before."""
        shed = shed_c(self._spec, self._lit + clock_s)
        ratio = mixed_ratio(happened.air_kg_s[:, self._zones], happened.demand_kg_s[:, self._zones])
        aged = self._ageing.add(clock_s, happened.junction_c, ratio, self._step_s)
        rises = [s.head_rise_c for s in self._spec.sensors]
        terminals = terminal_c(shed, happened.ware_c[:, self._guide_zone])
        track = Track(
            clock_s=clock_s,
            junction_c=happened.junction_c,
            head_c=head_c(shed, happened.ware_c[:, self._zones], rises),
            terminals_c=np.repeat(terminals[:, None], len(rises), axis=1),
            wander_c=aged.wander_c,
            rot_c=aged.rot_c,
            cell_volts=self._cell_volts(ratio, happened.junction_c),
        )
        led, self._last = track.led_by(self._last, self._step_s), track
        return led

    def _cell_volts(self, ratio: FloatArray, junction_c: FloatArray) -> FloatArray:
        volts = np.zeros(junction_c.shape)
        for i, cell in self._cells.items():
            volts[:, i] = cell.add(np.ascontiguousarray(ratio[:, i]), junction_c[:, i].copy(), self._step_s)
        return volts


def _between(at_s: FloatArray, clock_s: FloatArray, columns: FloatArray) -> FloatArray:
    made: Sequence[FloatArray] = [np.interp(at_s, clock_s, columns[:, i]) for i in range(columns.shape[1])]
    return np.stack(made, axis=1)
