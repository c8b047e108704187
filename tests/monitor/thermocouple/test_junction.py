"""The cold junction is added as emf."""

import math

import numpy as np
import pytest

from monitor.thermocouple.inverse import temperature_from_emf
from monitor.thermocouple.junction import is_cold_junction_valid, total_emf
from monitor.thermocouple.reference import emf_from_temperature


@pytest.mark.parametrize("letter", ["K", "S", "N", "R"])
@pytest.mark.parametrize("cold_junction_c", [-40.0, 0.0, 24.81, 85.0])
def test_the_true_temperature_comes_back_at_any_cold_junction(letter: str, cold_junction_c: float):
    """A probe at 1000 degC gives E(1000) - E(cold junction) (law of successive temperatures, NIST Monograph 175)."""
    measured = emf_from_temperature(letter, 1000.0) - emf_from_temperature(letter, cold_junction_c)

    celsius, _ = temperature_from_emf(letter, total_emf(letter, measured, cold_junction_c))

    assert celsius == pytest.approx(1000.0, abs=1e-6)


def test_the_printed_table_gives_the_sum():
    """33.275 mV measured by type K at 25 degC, where NIST SRD 60 prints 1.000 mV, is 34.275 mV in all."""
    assert total_emf("K", 0.033275, 25.0) * 1e3 == pytest.approx(34.275, abs=0.0005)


@pytest.mark.parametrize(("letter", "low_by_c"), [("K", 37.0), ("S", 19.0)])
def test_copper_cable_from_a_warm_head_reads_low(letter: str, low_by_c: float):
    """Head at 60, converter at 25, probe at 1000 degC: what plain copper costs, worked out from NIST SRD 60."""
    measured = emf_from_temperature(letter, 1000.0) - emf_from_temperature(letter, 60.0)

    celsius, _ = temperature_from_emf(letter, total_emf(letter, measured, 25.0))

    assert 1000.0 - celsius == pytest.approx(low_by_c, abs=0.5)


def test_swapped_leads_fall_as_the_kiln_rises():
    """Type K reversed, converter at 25 degC, shows -56 at 100 degC (worked out from the NIST SRD 60 tables)."""
    measured = emf_from_temperature("K", 100.0) - emf_from_temperature("K", 25.0)

    celsius, _ = temperature_from_emf("K", total_emf("K", -measured, 25.0))

    assert celsius == pytest.approx(-56.0, abs=0.5)


@pytest.mark.parametrize(("set_as", "wire", "true_c", "shown_c"), [("S", "K", 200.0, 794.0), ("K", "S", 1000.0, 257.0)])
def test_a_wrong_letter_shows_its_mark(set_as: str, wire: str, true_c: float, shown_c: float):
    """With the converter at 25 degC (worked out from the NIST SRD 60 tables)."""
    measured = emf_from_temperature(wire, true_c) - emf_from_temperature(wire, 25.0)

    celsius, _ = temperature_from_emf(set_as, total_emf(set_as, measured, 25.0))

    assert celsius == pytest.approx(shown_c, abs=1.0)


def test_a_missing_part_gives_no_sum():
    """NaN on either side, and a cold junction outside the letter's range, give NaN."""
    sums = total_emf("K", np.array([np.nan, 0.01, 0.01]), np.array([25.0, np.nan, -300.0]))

    assert np.isnan(sums).all()
    assert math.isnan(total_emf("K", 0.01, math.nan))


def test_a_cold_junction_must_be_one_a_converter_can_have():
    """From -40 to 85 degC, ends included; the codes 128 and -64 and NaN are faults."""
    asked = np.array([-40.0, 0.0, 85.0, np.nextafter(-40.0, -99.0), np.nextafter(85.0, 99.0), 128.0, -64.0, np.nan])

    assert list(is_cold_junction_valid("K", asked)) == [True] * 3 + [False] * 5


def test_type_b_has_no_cold_junction_below_zero():
    """Its reference function starts at 0 degC (NIST SRD 60)."""
    assert list(is_cold_junction_valid("B", np.array([-0.001, 0.0, 85.0]))) == [False, True, True]
