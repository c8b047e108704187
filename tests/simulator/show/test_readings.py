"""Degrees as a service reads them."""

from dataclasses import replace

import numpy as np

from simulator.node import Readout
from simulator.probe.converter_faults import Told
from simulator.script.probe_faults import ProbeFault
from simulator.script.spells import Spell
from simulator.show.readings import read_c
from simulator.spec.kiln_file import load_kiln

DEMO = load_kiln("demo")
FIRST = DEMO.sensors[0]
SPEC = replace(
    DEMO,
    sensors=(
        replace(FIRST, id="front", type="K"),
        replace(FIRST, id="back", type="S"),
        replace(FIRST, id="probe", type="zirconia"),
    ),
)
READOUT = Readout(
    clock_s=np.array([10, 20]),
    emf_volts=np.array([[0.041276 - 0.001, 0.009587 - 0.000143, 0.1]] * 2),
    cold_junction_c=np.array([[25.0, 25.0, 1000.0]] * 2),
    told=np.array([[Told.EMF] * 3, [Told.OPEN, Told.EMF, Told.NOTHING]], dtype=np.uint8),
    doors=np.zeros((2, 0), dtype=np.bool_),
)


def test_emf_and_cold_junction_make_degrees_by_the_letter() -> None:
    """ITS-90 (NIST Monograph 175): K 41.276 mV and S 9.587 mV at 1000 degC, 1.000 and 0.143 mV at 25 degC."""
    celsius = read_c(SPEC, (), READOUT)

    np.testing.assert_allclose(celsius[0], [1000.0, 1000.0, 1000.0], atol=0.06)


def test_input_without_a_number_has_none() -> None:
    """Open, or nothing said at all; a neighbour goes on."""
    np.testing.assert_array_equal(np.isnan(read_c(SPEC, (), READOUT)[1]), [True, False, True])


def test_letter_of_the_site_file_counts_though_it_be_wrong() -> None:
    """K said of a probe of type S: 9.444 mV at the K function are about 256 degC, from the cold junction on."""
    wrong = (Spell(ProbeFault.LETTER, 0.0, 99.0, sensor="back"),)

    assert 240.0 < read_c(SPEC, wrong, READOUT)[0, 1] < 270.0
