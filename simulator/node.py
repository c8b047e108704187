"""The node: what the thermocouples and converters make of a firing's truth, as scans of the wire contract.

Emf as the converter sees it is E(junction) - E(cold junction) by the reference functions; a junction beyond its
type's range, and an input at full scale, are told as `range`. Scans are numbered and carry the time of the kiln.
"""

import zlib
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from monitor.model import FloatArray, InputFault, Reading, Scan
from monitor.thermocouple.reference import emf_from_temperature
from simulator.climate import terminal_c
from simulator.converter import (
    FULL_SCALE_CODE,
    codes_from_emf,
    cold_junction_read,
    gain_of,
    volts_from_codes,
)
from simulator.firing import FINE_S, Trace
from simulator.kiln_file import KilnSpec
from simulator.probe_faults import ProbeFault
from simulator.spells import Spell

OFFSET_AT_C = 1000.0
"""Temperature at which a thermocouple's own offset is told; it grows in proportion (common practice, no source)."""
CHIP_SPREAD_C = 0.2
"""Standard error of a converter's own cold-junction sensor (data sheet: within 0.7 degC)."""


@dataclass(frozen=True, slots=True, eq=False)
class Readout:
    """Inputs over n scans: `clock_s` (n,) since lighting; emf, cold junction and fault (n, S), emf unused at a fault.

    `fault` holds 0 for none, else 1 more than the position in `FAULTS`.
    """

    clock_s: npt.NDArray[np.int64]
    emf_volts: FloatArray
    cold_junction_c: FloatArray
    fault: npt.NDArray[np.uint8]


FAULTS = (InputFault.OPEN, InputFault.RANGE)


def boot_of(seed: int, lit: int, live_h: float) -> str:
    """Return the node's boot string: another for each seed and start, the same for the same run."""
    return f"{zlib.crc32(f'{seed} {lit} {live_h}'.encode()):08x}"


class Node:
    """One node reading all sensors of `spec`; noise after `seed`, probes broken after `spells`."""

    def __init__(self, spec: KilnSpec, spells: tuple[Spell, ...], *, seed: int, lit: int, boot: str) -> None:
        self._spec = spec
        self._spells = spells
        self._lit = lit
        self._boot = boot
        self._seq = 0
        self._noise_rng = np.random.default_rng([seed, 3])
        chip_rng = np.random.default_rng([seed, 4])
        self._chip_c = chip_rng.normal(0.0, CHIP_SPREAD_C, len(spec.sensors))
        self._guide_zone = spec.zone_index(spec.guide_zone)
        self._last: tuple[float, FloatArray, float] | None = None
        self._inputs = [f"{spec.node}/{s.input}" for s in spec.sensors]

    def read(self, trace: Trace, every_s: int) -> Readout:
        """Read the inputs every `every_s` seconds of kiln time along `trace`, which follows the last one read."""
        clock_s, junction_c, terminals_c = self._points(trace)
        first_s = int(clock_s[0]) + every_s
        at = np.arange(first_s - first_s % every_s, int(clock_s[-1]) + 1, every_s)
        sensors = len(self._spec.sensors)
        draws = self._noise_rng.standard_normal((len(at), sensors))
        cold_c = np.interp(at, clock_s, terminals_c)
        readout = Readout(
            clock_s=at,
            emf_volts=np.empty((len(at), sensors)),
            cold_junction_c=np.empty((len(at), sensors)),
            fault=np.zeros((len(at), sensors), dtype=np.uint8),
        )
        for i in range(sensors):
            self._read_input(readout, i, np.interp(at, clock_s, junction_c[:, i]), cold_c, draws[:, i])
        return readout

    def scans(self, readout: Readout) -> Iterator[Scan]:
        """Yield `readout` as numbered scans."""
        emf = readout.emf_volts.tolist()
        cold = readout.cold_junction_c.tolist()
        fault = readout.fault.tolist()
        for row, clock_s in enumerate(readout.clock_s.tolist()):
            readings = tuple(
                Reading(name, emf_volts=e, cold_junction_c=c)
                if f == 0
                else Reading(name, cold_junction_c=c, fault=FAULTS[f - 1])
                for name, e, c, f in zip(self._inputs, emf[row], cold[row], fault[row], strict=True)
            )
            yield Scan(self._spec.node, float(self._lit + clock_s), readings, boot=self._boot, seq=self._seq)
            self._seq += 1

    def _points(self, trace: Trace) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return clock, junctions and terminals along `trace`, led by the last row of the trace before."""
        terminals_c = terminal_c(trace.shed_c, trace.ware_c[:, self._guide_zone])
        before = self._last
        if before is None:
            before = (float(trace.clock_s[0]) - FINE_S, trace.junction_c[0], float(terminals_c[0]))
        self._last = (float(trace.clock_s[-1]), trace.junction_c[-1], float(terminals_c[-1]))
        return (
            np.concatenate([[before[0]], trace.clock_s]),
            np.concatenate([before[1][None, :], trace.junction_c]),
            np.concatenate([[before[2]], terminals_c]),
        )

    def _read_input(
        self, readout: Readout, i: int, junction_c: FloatArray, cold_c: FloatArray, draws: FloatArray
    ) -> None:
        sensor = self._spec.sensors[i]
        gain = gain_of(sensor.type)
        hot = emf_from_temperature(sensor.type, junction_c + sensor.offset_c * junction_c / OFFSET_AT_C)
        emf = hot - emf_from_temperature(sensor.type, cold_c)
        known = np.isfinite(emf)
        codes = codes_from_emf(np.where(known, emf, 0.0), gain, draws)
        readout.emf_volts[:, i] = volts_from_codes(codes, gain)
        readout.cold_junction_c[:, i] = cold_junction_read(cold_c + self._chip_c[i])
        beyond = ~known | (np.abs(codes) == FULL_SCALE_CODE)
        readout.fault[beyond, i] = 1 + FAULTS.index(InputFault.RANGE)
        readout.fault[self._broken(sensor.id, readout.clock_s), i] = 1 + FAULTS.index(InputFault.OPEN)

    def _broken(self, sensor: str, clock_s: npt.NDArray[np.int64]) -> npt.NDArray[np.bool_]:
        broken = np.zeros(len(clock_s), dtype=np.bool_)
        for spell in self._spells:
            if spell.what is ProbeFault.OPEN and spell.sensor == sensor:
                broken |= (clock_s >= spell.begin_h * 3600.0) & (clock_s < spell.end_h * 3600.0)
        return broken
