"""The node: what the probes and converters make of a firing's truth, as scans of the wire contract.

`track` and `probe_chain` say what each converter is offered; here it is measured, with what is drawn, and told. Where a
converter has no emf to give, the node says why, and where it has nothing at all the node says nothing of that input.
Scans are numbered and carry the time of the kiln.
"""

import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from monitor.model import FloatArray, InputFault, Reading, Scan
from simulator.firing import FINE_S, Trace
from simulator.probe.contacts import door_share, is_open
from simulator.probe.converter import codes_from_emf, cold_junction_read, volts_from_codes
from simulator.probe.converter_faults import Told, broken, picked_up_volts, repeated, turns_of
from simulator.probe.moments import BoolArray, moments_of
from simulator.probe.probe_chain import Offered, gains_of, misplaced, offered, said_letters, told_at
from simulator.probe.track import Tracker
from simulator.probe.zirconia import temperature_read, volts_read
from simulator.script.probe_faults import ProbeFault
from simulator.script.spells import Spell
from simulator.spec.kiln_file import KilnSpec
from simulator.spec.sensor_spec import ZIRCONIA
from simulator.spec.tolerance import draw_shares

CHIP_SPREAD_C = 0.2
"""Standard error of a converter's own cold-junction sensor (data sheet: within 0.7 degC)."""
FAULTS = {Told.COLD_JUNCTION: InputFault.COLD_JUNCTION, Told.RANGE: InputFault.RANGE, Told.OPEN: InputFault.OPEN}


@dataclass(frozen=True, slots=True, eq=False)
class Readout:
    """Inputs over n scans: `clock_s` (n,) since lighting; emf, cold junction and `Told` (n, S); doors open (n, D).

    An oxygen probe's emf and temperature stand in the columns of emf and cold junction. The emf counts only where
    `told` says so, the cold junction unless `told` says that there is none.
    """

    clock_s: npt.NDArray[np.int64]
    emf_volts: FloatArray
    cold_junction_c: FloatArray
    told: npt.NDArray[np.uint8]
    doors: BoolArray


def boot_of(seed: int, lit: int, live_h: float) -> str:
    """Return the node's boot string: another for each seed and start, the same for the same run."""
    return f"{zlib.crc32(f'{seed} {lit} {live_h}'.encode()):08x}"


class Node:
    """One node reading all sensors and door switches of `spec`; chance after `seed`, probes ailing after `spells`.

    Raises:
        ValueError: a fault among `spells` cannot happen at this kiln.
    """

    def __init__(self, spec: KilnSpec, spells: tuple[Spell, ...], *, seed: int, lit: int, boot: str) -> None:
        if why := misplaced(spec, spells):
            raise ValueError("; ".join(why))
        self._spec = spec
        self._spells = spells
        self._lit = lit
        self._boot = boot
        self._seq = 0
        self._letters = said_letters(spec, spells)
        self._gains = gains_of(spec, spells)
        self._noise_rng = np.random.default_rng([seed, 3])
        chip_rng = np.random.default_rng([seed, 4])
        self._chip_c = chip_rng.normal(0.0, CHIP_SPREAD_C, len(spec.sensors))
        self._shares = _draw_shares(spec, seed)
        self._spike_rng = np.random.default_rng([seed, 12])
        self._turns = [
            turns_of(s.hours * 3600.0, np.random.default_rng([seed, 13, k])) if s.what is ProbeFault.HOT_WIRE else None
            for k, s in enumerate(spells)
        ]
        self._held: dict[tuple[int, int, ProbeFault], float | None] = {}
        self._tracker = Tracker(spec, spells, seed=seed, lit=lit, step_s=FINE_S)
        self._inputs = [f"{spec.node}/{s.input}" for s in spec.sensors]

    def read(self, trace: Trace, every_s: int) -> Readout:
        """Read the inputs every `every_s` seconds of kiln time along `trace`, which follows the last one read."""
        track = self._tracker.add(trace, trace.clock_s)
        first_s = int(track.clock_s[0]) + every_s
        at = np.arange(first_s - first_s % every_s, int(track.clock_s[-1]) + 1, every_s)
        offer = offered(self._spec, self._spells, self._shares, track.at(at.astype(np.float64)))
        shape = offer.volts.shape
        noise = self._noise_rng.standard_normal(shape)
        luck = self._spike_rng.random(shape)
        readout = Readout(at, np.empty(shape), np.empty(shape), np.zeros(shape, np.uint8), self._doors(trace, at))
        for i, sensor in enumerate(self._spec.sensors):
            if sensor.type == ZIRCONIA:
                self._read_oxygen(readout, offer, i, noise[:, i])
            else:
                self._read_thermocouple(readout, offer, i, noise=noise[:, i], luck=luck[:, i])
            self._break_hot_wires(readout, i)
        return readout

    def scans(self, readout: Readout) -> Iterator[Scan]:
        """Yield `readout` as numbered scans."""
        columns = [self._readings(readout, i) for i in range(len(self._inputs))]
        for k, contact in enumerate(self._spec.contacts):
            name = f"{self._spec.node}/{contact.input}"
            columns.append([Reading(name, contact=is_now) for is_now in readout.doors[:, k].tolist()])
        is_whole = not np.any(readout.told == Told.NOTHING)
        for clock_s, *row in zip(readout.clock_s.tolist(), *columns, strict=True):
            readings = tuple(row) if is_whole else tuple(r for r in row if r is not None)
            yield Scan(self._spec.node, float(self._lit + clock_s), readings, boot=self._boot, seq=self._seq)
            self._seq += 1

    def _read_thermocouple(
        self, readout: Readout, offer: Offered, i: int, *, noise: FloatArray, luck: FloatArray
    ) -> None:
        clock_s = readout.clock_s.astype(np.float64)
        moments = moments_of(self._spells, self._spec.sensors[i].id, clock_s)
        gains = self._gains[i]
        volts = offer.volts[:, i] + picked_up_volts(moments, luck)
        told = told_at(offer, i, letter=self._letters[i], measured=gains.measured, volts=volts)
        codes = codes_from_emf(np.nan_to_num(volts), gains.measured, noise)
        emf = volts_from_codes(codes, gains.reckoned)
        cold = cold_junction_read(offer.chip_c[:, i] + self._chip_c[i])
        for k, moment in enumerate(moments):
            if moment.what in (ProbeFault.STUCK, ProbeFault.CACHED):
                emf = self._repeat((i, k, ProbeFault.STUCK), emf, moment.on)
            if moment.what is ProbeFault.CACHED:
                cold = self._repeat((i, k, ProbeFault.CACHED), cold, moment.on)
        readout.emf_volts[:, i] = emf
        readout.told[:, i] = told
        readout.cold_junction_c[:, i] = cold

    def _read_oxygen(self, readout: Readout, offer: Offered, i: int, noise: FloatArray) -> None:
        readout.emf_volts[:, i] = volts_read(offer.volts[:, i], noise)
        readout.cold_junction_c[:, i] = temperature_read(offer.chip_c[:, i])
        readout.told[:, i] = offer.told[:, i]

    def _break_hot_wires(self, readout: Readout, i: int) -> None:
        for spell, turns in zip(self._spells, self._turns, strict=True):
            if turns is not None and spell.sensor == self._spec.sensors[i].id:
                is_open_now = broken(readout.clock_s.astype(np.float64) - spell.begin_h * 3600.0, turns)
                readout.told[is_open_now, i] = np.maximum(readout.told[is_open_now, i], Told.OPEN)

    def _repeat(self, key: tuple[int, int, ProbeFault], values: FloatArray, on: BoolArray) -> FloatArray:
        values, self._held[key] = repeated(values, on, self._held.get(key))
        return values

    def _doors(self, trace: Trace, at: npt.NDArray[np.int64]) -> BoolArray:
        doors = np.zeros((len(at), len(self._spec.contacts)), dtype=np.bool_)
        for k, contact in enumerate(self._spec.contacts):
            share = door_share(self._spec, contact, trace.door, trace.ports)
            doors[:, k] = is_open(at.astype(np.float64), trace.clock_s, share, FINE_S)
        return doors

    def _readings(self, readout: Readout, i: int) -> Sequence[Reading | None]:
        name, is_oxygen = self._inputs[i], self._spec.sensors[i].type == ZIRCONIA
        emf, cold = readout.emf_volts[:, i].tolist(), readout.cold_junction_c[:, i].tolist()
        if is_oxygen:
            column = [Reading(name, oxygen_emf_volts=e, temperature_c=c) for e, c in zip(emf, cold, strict=True)]
        else:
            column = [Reading(name, emf_volts=e, cold_junction_c=c) for e, c in zip(emf, cold, strict=True)]
        out: list[Reading | None] = list(column)
        for row in np.flatnonzero(readout.told[:, i]).tolist():
            told = Told(readout.told[row, i])
            has_cold = not is_oxygen and told is not Told.COLD_JUNCTION
            out[row] = _without_emf(name, told, cold[row] if has_cold else None)
        return out


def _without_emf(name: str, told: Told, cold_c: float | None) -> Reading | None:
    """Return what is said of an input that has no emf to give; None for nothing at all."""
    if told is Told.NOTHING:
        return None
    return Reading(name, cold_junction_c=cold_c, fault=FAULTS[told])


def _draw_shares(spec: KilnSpec, seed: int) -> FloatArray:
    """Return by what share of its temperature each probe (S,) reads too high; an oxygen probe has a thermocouple S."""
    letters = ["S" if s.type == ZIRCONIA else s.type for s in spec.sensors]
    return draw_shares(letters, [s.tolerance_class for s in spec.sensors], np.random.default_rng([seed, 10]))
