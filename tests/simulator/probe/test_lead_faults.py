"""Faults of leads against temperatures worked out from the printed tables."""

import numpy as np
import pytest

from monitor.model import FloatArray
from monitor.thermocouple.inverse import temperature_from_emf
from monitor.thermocouple.junction import total_emf
from simulator.probe.lead_faults import lead_volts, other_letter
from simulator.probe.moments import Moment
from simulator.script.probe_faults import ProbeFault

ONE = np.ones(1)


def _read(
    letter: str, what: ProbeFault | None, *, junction_c: float = 1200.0, head_c: float = 60.0, size: float = 1.0
) -> float:
    """Return what is read with terminals at 25 degC."""
    moments = [] if what is None else [Moment(what, 10.0 * ONE, 100.0, size)]
    volts = lead_volts(letter, junction_c * ONE, head_c * ONE, 25.0 * ONE, moments)
    return float(temperature_from_emf(letter, total_emf(letter, volts, 25.0 * ONE))[0][0])


@pytest.mark.parametrize("letter", "EJKNRST")
def test_right_leads_change_nothing(letter: str) -> None:
    """The law of successive temperatures: where the head is does not matter."""
    assert _read(letter, None, junction_c=390.0) == pytest.approx(390.0, abs=1e-5)


@pytest.mark.parametrize(
    ("letter", "what", "read"),
    [
        ("K", ProbeFault.CABLE_REVERSED, 1122.5),
        ("K", ProbeFault.COPPER, 1160.9),
        ("S", ProbeFault.COPPER, 1181.5),
        ("S", ProbeFault.WRONG_CABLE, 1300.4),
    ],
)
def test_wrong_cable_reads_what_the_tables_say(letter: str, what: ProbeFault, read: float) -> None:
    """F06 cable reversed at both ends, F07 copper, F08 cable for K at a probe S: at 1200 degC, head 60, terminals 25.

    Worked out from the functions of NIST Monograph 175, to 0.1 degC.
    """
    assert _read(letter, what) == pytest.approx(read, abs=0.1)


def test_copper_at_1000_degc_reads_as_low_as_the_tables_say() -> None:
    """F07 copper: 37 degC low for K and 19 for S, from the functions of NIST Monograph 175, to 1 degC."""
    low = [1000.0 - _read(letter, ProbeFault.COPPER, junction_c=1000.0) for letter in "KS"]

    assert low == pytest.approx([37.0, 19.0], abs=1.0)


def test_short_at_the_head_reads_the_head() -> None:
    """F03 short at the head, whatever the junction is at."""
    assert _read("K", ProbeFault.SHORT) == pytest.approx(60.0, abs=1e-5)
    assert _read("S", ProbeFault.SHORT, junction_c=800.0) == pytest.approx(60.0, abs=1e-5)


def test_soaked_insulation_reads_between_tip_and_head() -> None:
    """F04 partial short: the emf is the weighted mean of tip and head."""
    reads = [_read("K", ProbeFault.SOAKED, size=size) for size in (0.0, 0.1, 0.3, 1.0)]

    assert np.all(np.diff(reads) < 0.0)
    assert reads[0] == pytest.approx(1200.0, abs=1e-5)
    # E(60) + 0.9 (E(1200) - E(60)) = 2.436 + 0.9 (48.838 - 2.436) = 44.198 mV by the printed table, 1075.7 degC
    assert reads[1] == pytest.approx(1075.7, abs=0.2)
    assert reads[3] == pytest.approx(60.0, abs=1e-5)


@pytest.mark.parametrize("letter", "KS")
def test_reversed_probe_falls_as_the_kiln_warms(letter: str) -> None:
    """F05 reversed at the head: below -0.2 mV and falling, from the first warmth on."""
    volts = np.array([_volts(letter, ProbeFault.REVERSED, junction_c=c)[0] for c in (60.0, 100.0, 150.0, 200.0, 400.0)])

    assert np.all(np.diff(volts) < 0.0)
    assert volts[2] < -0.2e-3


def _volts(letter: str, what: ProbeFault, *, junction_c: float) -> FloatArray:
    moment = Moment(what, 10.0 * ONE, 100.0, 1.0)
    return lead_volts(letter, junction_c * ONE, 30.0 * ONE, 25.0 * ONE, [moment])


def test_reversed_k_at_100_degc_reads_far_below_zero() -> None:
    """F05: -56 degC from the functions of NIST Monograph 175 with head and terminals at 25 degC, to 1 degC."""
    assert _read("K", ProbeFault.REVERSED, junction_c=100.0, head_c=25.0) == pytest.approx(-56.0, abs=1.0)


@pytest.mark.parametrize("what", [f for f in ProbeFault if f not in (ProbeFault.OPEN,)])
def test_no_fault_touches_scans_before_it(what: ProbeFault) -> None:
    """Each fault counts from its begin to its end only."""
    since = np.array([-1.0, 200.0])
    parts = (np.full(2, 900.0), np.full(2, 40.0), np.full(2, 25.0))

    np.testing.assert_array_equal(
        lead_volts("K", *parts, [Moment(what, since, 100.0, 1.0)]), lead_volts("K", *parts, [])
    )


def test_junction_beyond_its_letter_has_no_emf() -> None:
    """Type K ends at 1372 degC: not a number."""
    assert np.isnan(lead_volts("K", 1400.0 * ONE, 30.0 * ONE, 25.0 * ONE, [])).all()


def test_noble_metal_is_taken_for_k_and_all_else_for_s() -> None:
    """The usual mistakes."""
    assert {letter: other_letter(letter) for letter in "SRBKNEJT"} == dict.fromkeys("SRB", "K") | dict.fromkeys(
        "KNEJT", "S"
    )
