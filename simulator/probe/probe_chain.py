"""The chain from junctions to what converters are offered, without chance: parts, leads, and inputs exchanged.

What is drawn (noise, spikes, turns of a hot wire) and what a converter makes of it is added by `node`; truth uses this
chain alone, with and without a fault, to say how far the fault leads astray.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from monitor.model import FloatArray
from monitor.thermocouple.junction import is_cold_junction_valid
from simulator.probe.converter import FULL_SCALE_VOLTS, gain_of
from simulator.probe.converter_faults import Told, told_for
from simulator.probe.lead_faults import lead_volts, other_letter
from simulator.probe.moments import Moment, moments_of
from simulator.probe.place_faults import CHIP, HEAD, READS, TERMINALS, displaced, moved_junction
from simulator.probe.track import Track
from simulator.script.probe_faults import FROM_THE_START, TOLD_BY_NODE, WHOLE_NODE, ProbeFault
from simulator.script.spells import Spell
from simulator.spec.kiln_file import KilnSpec
from simulator.spec.sensor_spec import ZIRCONIA

OTHER_GAIN = {8: 32, 32: 8}


@dataclass(frozen=True, slots=True, eq=False)
class Offered:
    """What converters are offered over n scans, all (n, S): volts, degC at the chip, and what the node must say.

    `volts` are those of the cell for an oxygen probe, and `chip_c` its temperature; NaN where there are none.
    """

    volts: FloatArray
    chip_c: FloatArray
    told: npt.NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class Gains:
    """The gain that the node reckons with for one input and the one that its converter is set to."""

    reckoned: int
    measured: int


def offered(spec: KilnSpec, spells: tuple[Spell, ...], shares: FloatArray, track: Track) -> Offered:
    """Return what converters are offered along `track`, probes reading `shares` (S,) of their temperature too high."""
    shape = track.junction_c.shape
    volts, chip_c = np.empty(shape), np.empty(shape)
    told = np.zeros(shape, dtype=np.uint8)
    for i, sensor in enumerate(spec.sensors):
        moments = moments_of(spells, sensor.id, track.clock_s)
        told[:, i] = told_for(moments, shape[0])
        junction = _reads(track, i, float(shares[i]), moments)
        if sensor.type == ZIRCONIA:
            volts[:, i], chip_c[:, i] = track.cell_volts[:, i], junction
            continue
        terminals = displaced(track.terminals_c[:, i], moments, TERMINALS)
        head = displaced(track.head_c[:, i], moments, HEAD)
        volts[:, i] = lead_volts(sensor.type, junction, head, terminals, moments)
        chip_c[:, i] = displaced(track.terminals_c[:, i], moments, CHIP)
    _swap(spec, spells, track.clock_s, volts)
    return Offered(volts, chip_c, told)


def told_at(offer: Offered, i: int, *, letter: str, measured: int, volts: FloatArray) -> npt.NDArray[np.uint8]:
    """Return what the node says (n,) about input `i`, whose converter of gain `measured` sees `volts` (n,)."""
    told = offer.told[:, i]
    beyond = ~(np.abs(volts) < FULL_SCALE_VOLTS[measured])
    cold = ~is_cold_junction_valid(letter, offer.chip_c[:, i])
    told = np.maximum(told, np.where(beyond, np.uint8(Told.RANGE), np.uint8(Told.EMF)))
    return np.maximum(told, np.where(cold, np.uint8(Told.COLD_JUNCTION), np.uint8(Told.EMF)))


def said_letters(spec: KilnSpec, spells: tuple[Spell, ...]) -> list[str]:
    """Return the type that node and site file say of each sensor."""
    wrong = {s.sensor for s in spells if s.what is ProbeFault.LETTER}
    return [other_letter(s.type) if s.id in wrong and s.type != ZIRCONIA else s.type for s in spec.sensors]


def gains_of(spec: KilnSpec, spells: tuple[Spell, ...]) -> list[Gains]:
    """Return the gains of each input; an oxygen probe's counts for nothing."""
    wrong = {s.sensor for s in spells if s.what is ProbeFault.WRONG_GAIN}
    reckoned = [gain_of(letter) for letter in said_letters(spec, spells)]
    return [
        Gains(gain, OTHER_GAIN[gain] if s.id in wrong else gain) for s, gain in zip(spec.sensors, reckoned, strict=True)
    ]


def misplaced(spec: KilnSpec, spells: tuple[Spell, ...]) -> list[str]:
    """Return why spells of probe faults cannot happen at this kiln, in words; empty where all can."""
    return [
        f"{s.what}: {why}"
        for s in spells
        if isinstance(s.what, ProbeFault) and (why := _why_not(spec, s, s.what)) is not None
    ]


def swapped_pair(spec: KilnSpec, spell: Spell) -> tuple[int, int]:
    """Return the positions of the two sensors that a spell of exchanged inputs names."""
    first = [s.id for s in spec.sensors].index(spell.sensor or "")
    return first, first + round(spell.size)


def _why_not(spec: KilnSpec, spell: Spell, what: ProbeFault) -> str | None:
    types = {s.id: s.type for s in spec.sensors}
    letter = types.get(spell.sensor or "")
    why = None
    if what in WHOLE_NODE:
        return why
    if letter is None:
        why = f"no sensor '{spell.sensor}'; there are {', '.join(types)}"
    elif letter == ZIRCONIA and what not in TOLD_BY_NODE:
        why = f"'{spell.sensor}' is an oxygen probe, which knows only {', '.join(sorted(TOLD_BY_NODE))}"
    elif what is ProbeFault.GREEN_ROT and letter != "K":
        why = f"'{spell.sensor}' is of type {letter}, only type K rots"
    elif what in FROM_THE_START and spell.begin_h > 0.0:
        why = "is so from the start or not at all"
    elif what is ProbeFault.SWAPPED and not _has_partner(spec, spell):
        why = f"no thermocouple stands {spell.size:g} places behind '{spell.sensor}'"
    return why


def _has_partner(spec: KilnSpec, spell: Spell) -> bool:
    first, second = swapped_pair(spec, spell)
    return first < second < len(spec.sensors) and spec.sensors[second].type != ZIRCONIA


def _reads(track: Track, i: int, share: float, moments: list[Moment]) -> FloatArray:
    """Return the degC (n,) that junction `i` would be taken for by a perfect converter."""
    junction = moved_junction(track.junction_c[:, i], moments, track.head_c[:, i])
    lost = (track.wander_c[:, i] + track.rot_c[:, i]) / 1000.0
    return displaced(junction * (1.0 + share - lost), moments, READS)


def _swap(spec: KilnSpec, spells: tuple[Spell, ...], clock_s: FloatArray, volts: FloatArray) -> None:
    for spell in spells:
        if spell.what is ProbeFault.SWAPPED:
            pair = list(swapped_pair(spec, spell))
            on = (clock_s >= spell.begin_h * 3600.0) & (clock_s < spell.end_h * 3600.0)
            volts[:, pair] = np.where(on[:, None], volts[:, pair[::-1]], volts[:, pair])
