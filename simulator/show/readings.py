"""What a service reads of a node: degrees from emf and cold junction, by the letters of its site file."""

import numpy as np

from monitor.model import FloatArray
from monitor.thermocouple.inverse import temperature_from_emf
from monitor.thermocouple.junction import total_emf
from simulator.node import Readout
from simulator.probe.converter_faults import Told
from simulator.probe.probe_chain import said_letters
from simulator.script.spells import Spell
from simulator.spec.kiln_file import KilnSpec
from simulator.spec.sensor_spec import ZIRCONIA


def read_c(spec: KilnSpec, spells: tuple[Spell, ...], readout: Readout) -> FloatArray:
    """Return the degC (n, S) that `readout` stands for, NaN where there is no number; an oxygen probe's is its own."""
    celsius = np.empty(readout.emf_volts.shape)
    for i, letter in enumerate(said_letters(spec, spells)):
        cold_c = readout.cold_junction_c[:, i]
        if letter == ZIRCONIA:
            celsius[:, i] = cold_c
        else:
            celsius[:, i] = temperature_from_emf(letter, total_emf(letter, readout.emf_volts[:, i], cold_c))[0]
    celsius[readout.told != Told.EMF] = np.nan
    return celsius
