"""True sensor faults: which sensor fails how and from when to when, in the words of findings.

Most faults are true for as long as their spell lasts. A drift is true from the first to the last moment at which the
fault leads more than 10 degC away from what the same probe would have read without it; a cold junction that is told
wrong, where it is more than 2 degC off; an input is out of range wherever its emf is beyond the converter or above its
letter (one below its letter is reversed). What every probe has (tolerance,
wander with age, noise) is no fault.
"""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from monitor.model import FloatArray, SensorFault, Status
from monitor.thermocouple.inverse import temperature_from_emf
from monitor.thermocouple.junction import total_emf
from simulator.probe.converter import FULL_SCALE_VOLTS
from simulator.probe.converter_faults import Told
from simulator.probe.moments import BoolArray
from simulator.probe.probe_chain import Offered, gains_of, offered, said_letters, swapped_pair, told_at
from simulator.probe.track import Happened, Track, Tracker
from simulator.script.probe_faults import TOLD_AS, WHOLE_NODE, ProbeFault
from simulator.script.spells import Spell
from simulator.spec.kiln_file import KilnSpec
from simulator.spec.sensor_spec import ZIRCONIA

DRIFT_BEYOND_C = 10.0
COLD_OFF_BEYOND_C = 2.0
BREAK_H = 1.0 / 6.0
"""Two stretches out of range closer than this are one."""


@dataclass(frozen=True, slots=True)
class TrueFault:
    """Sensor `sensor` fails as `fault` says from `begin_h` to `end_h`, hours from lighting; `cause` is what was wrong.

    `cause` is None where nothing was, but the kiln too hot for the probe's letter.
    """

    sensor: str
    fault: SensorFault
    begin_h: float
    end_h: float
    cause: ProbeFault | None


def true_sensor_faults(
    spec: KilnSpec, spells: tuple[Spell, ...], happened: Happened, *, clock_s: FloatArray, lit: int
) -> list[TrueFault]:
    """Return the faults that `spells` cause along what `happened`, rows that end at `clock_s` (n,), evenly spaced."""
    step_s = float(clock_s[1] - clock_s[0]) if len(clock_s) > 1 else 1.0
    track = Tracker(spec, spells, seed=0, lit=lit, step_s=step_s).add(happened, clock_s).at(clock_s)
    track = replace(track, wander_c=np.zeros_like(track.wander_c))  # what every probe does is left out
    found = [fault for spell in spells for fault in _of_spell(spec, spell, track)]
    return sorted(found + _out_of_range(spec, spells, track), key=lambda f: (f.begin_h, f.sensor, f.fault))


def _of_spell(spec: KilnSpec, spell: Spell, track: Track) -> list[TrueFault]:
    if not isinstance(spell.what, ProbeFault) or (word := TOLD_AS[spell.what]) is None:
        return []
    hours = track.clock_s / 3600.0
    found = []
    for i in _concerned(spec, spell, spell.what):
        on = _is_true(spec, spell, word, track, i)
        if on.any():
            begin_h = max(spell.begin_h, float(hours[int(np.argmax(on))]) - _step_h(hours))
            end_h = min(_end_h(spell, word), float(hours[len(on) - 1 - int(np.argmax(on[::-1]))]))
            found.append(TrueFault(spec.sensors[i].id, word, begin_h, end_h, spell.what))
    return found


def _concerned(spec: KilnSpec, spell: Spell, what: ProbeFault) -> list[int]:
    if what in WHOLE_NODE:
        return list(range(len(spec.sensors)))
    if what is ProbeFault.SWAPPED:
        return list(swapped_pair(spec, spell))
    return [i for i, s in enumerate(spec.sensors) if s.id == spell.sensor]


def _end_h(spell: Spell, word: SensorFault) -> float:
    """Return the hour at which it is over at the latest: a drifted probe may stay off."""
    return np.inf if word in (SensorFault.DRIFT, SensorFault.COLD_JUNCTION) else spell.end_h


def _step_h(hours: FloatArray) -> float:
    return float(hours[1] - hours[0]) if len(hours) > 1 else 0.0


def _is_true(spec: KilnSpec, spell: Spell, word: SensorFault, track: Track, i: int) -> BoolArray:
    """Return where (n,) the fault of `spell` is true of sensor `i`."""
    hours = track.clock_s / 3600.0
    on: BoolArray = (hours > spell.begin_h) & (hours < spell.end_h + _step_h(hours))
    if spell.what is ProbeFault.COLD_LOST or word not in (SensorFault.DRIFT, SensorFault.COLD_JUNCTION):
        return on
    well = replace(track, rot_c=np.zeros_like(track.rot_c))
    ailing = track if spell.what is ProbeFault.GREEN_ROT else well
    shares = np.zeros(len(spec.sensors))
    right, wrong = offered(spec, (), shares, well), offered(spec, (spell,), shares, ailing)
    if word is SensorFault.COLD_JUNCTION:
        off_c = np.abs(wrong.chip_c[:, i] - right.chip_c[:, i])
        return off_c > COLD_OFF_BEYOND_C
    read = [_temperature(spec, spells, offer, i)[0] for spells, offer in (((), right), ((spell,), wrong))]
    return ~(np.abs(read[1] - read[0]) <= DRIFT_BEYOND_C) & np.isfinite(read[0])


def _temperature(
    spec: KilnSpec, spells: tuple[Spell, ...], offer: Offered, i: int
) -> tuple[FloatArray, npt.NDArray[np.uint8]]:
    """Return degC and `Status` (n,) that a service makes of input `i` without noise."""
    gains, letter = gains_of(spec, spells)[i], said_letters(spec, spells)[i]
    told = offer.volts[:, i] * (FULL_SCALE_VOLTS[gains.reckoned] / FULL_SCALE_VOLTS[gains.measured])
    return temperature_from_emf(letter, total_emf(letter, told, offer.chip_c[:, i]))


def _out_of_range(spec: KilnSpec, spells: tuple[Spell, ...], track: Track) -> list[TrueFault]:
    """Return where inputs are out of range without a spell that says so."""
    hours = track.clock_s / 3600.0
    offer = offered(spec, spells, np.zeros(len(spec.sensors)), track)
    letters, gains = said_letters(spec, spells), gains_of(spec, spells)
    found = []
    for i, sensor in enumerate(spec.sensors):
        if sensor.type == ZIRCONIA:
            continue
        told = told_at(offer, i, letter=letters[i], measured=gains[i].measured, volts=offer.volts[:, i])
        status = _temperature(spec, spells, offer, i)[1]
        beyond = (told == Told.RANGE) | ((told == Told.EMF) & (status == Status.ABOVE))
        cause = _cause(spec, spells, i)
        found += [
            TrueFault(sensor.id, SensorFault.RANGE, begin_h, end_h, cause)
            for begin_h, end_h in _stretches(hours, beyond & (offer.told[:, i] == Told.EMF))
        ]
    return found


def _cause(spec: KilnSpec, spells: tuple[Spell, ...], i: int) -> ProbeFault | None:
    own = (s.what for s in spells if isinstance(s.what, ProbeFault) and i in _concerned(spec, s, s.what))
    return next(own, None)


def _stretches(hours: FloatArray, on: BoolArray) -> list[tuple[float, float]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], on, [False]]).astype(np.int8))).reshape(-1, 2)
    step_h = _step_h(hours)
    joined: list[tuple[float, float]] = []
    for begin, end in edges.tolist():
        begin_h, end_h = float(hours[begin]) - step_h, float(hours[end - 1])
        if joined and begin_h - joined[-1][1] < BREAK_H:
            begin_h = joined.pop()[0]
        joined.append((begin_h, end_h))
    return joined
