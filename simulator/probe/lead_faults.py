"""Faults of a probe's two wires and of its extension cable, on volts.

A probe gives E(junction) - E(head), right extension cable E(head) - E(terminals), together E(junction) - E(terminals):
the law of successive temperatures. Each fault changes one of the two parts.
"""

from collections.abc import Callable, Iterable, Mapping

import numpy as np

from monitor.model import FloatArray
from monitor.thermocouple.reference import emf_from_temperature, range_of
from simulator.probe.converter import HIGH_GAIN_LETTERS
from simulator.probe.moments import Moment
from simulator.script.probe_faults import ProbeFault

ProbeVolts = Callable[[FloatArray, Moment], FloatArray]
CableVolts = Callable[[FloatArray, FloatArray, Moment], FloatArray]


def shorted(volts: FloatArray, moment: Moment) -> FloatArray:
    """Nothing is left between junction and head: the head is the junction."""
    return np.where(moment.on, 0.0, volts)


def soaked(volts: FloatArray, moment: Moment) -> FloatArray:
    """Leaking insulation makes a second junction near the head, which takes its share."""
    return np.where(moment.on, (1.0 - moment.size) * volts, volts)


def reversed_probe(volts: FloatArray, moment: Moment) -> FloatArray:
    """Plus is where minus should be."""
    return np.where(moment.on, -volts, volts)


def reversed_cable(volts: FloatArray, _foreign: FloatArray, moment: Moment) -> FloatArray:
    """The cable's two errors do not cancel: its part counts the wrong way."""
    return np.where(moment.on, -volts, volts)


def copper(volts: FloatArray, _foreign: FloatArray, moment: Moment) -> FloatArray:
    """Copper gives nothing: the head is taken for the terminals."""
    return np.where(moment.on, 0.0, volts)


def foreign_cable(volts: FloatArray, foreign: FloatArray, moment: Moment) -> FloatArray:
    """The cable gives what its own letter gives."""
    return np.where(moment.on, foreign, volts)


PROBE: Mapping[ProbeFault, ProbeVolts] = {
    ProbeFault.SHORT: shorted,
    ProbeFault.SOAKED: soaked,
    ProbeFault.REVERSED: reversed_probe,
}
CABLE: Mapping[ProbeFault, CableVolts] = {
    ProbeFault.CABLE_REVERSED: reversed_cable,
    ProbeFault.COPPER: copper,
    ProbeFault.WRONG_CABLE: foreign_cable,
}


def other_letter(letter: str) -> str:
    """Return the letter that is taken for `letter` by mistake: K for noble metal, S for all others."""
    return "K" if letter in HIGH_GAIN_LETTERS else "S"


def lead_volts(
    letter: str, junction_c: FloatArray, head_c: FloatArray, terminals_c: FloatArray, moments: Iterable[Moment]
) -> FloatArray:
    """Return the volts (n,) at the terminals of a probe of `letter`, its parts at degC (n,); NaN beyond the letter."""
    head = emf_from_temperature(letter, np.clip(head_c, *range_of(letter)))
    probe = emf_from_temperature(letter, junction_c) - head
    cable = head - emf_from_temperature(letter, terminals_c)
    for moment in moments:
        if moment.what in PROBE:
            probe = PROBE[moment.what](probe, moment)
        elif moment.what in CABLE:
            foreign = other_letter(letter)
            substitute = emf_from_temperature(foreign, head_c) - emf_from_temperature(foreign, terminals_c)
            cable = CABLE[moment.what](cable, substitute, moment)
    return probe + cable
