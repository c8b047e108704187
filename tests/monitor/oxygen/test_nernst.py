"""The Nernst equation against computed rows and published constants."""

import csv
from pathlib import Path

import numpy as np
import pytest

from monitor.model import FloatArray
from monitor.oxygen.nernst import emf_from_oxygen_share, oxygen_share_from_emf

GOLDEN = Path(__file__).parents[2] / "golden" / "zirconia.csv"


def _columns() -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return degC, O2 percent of the wet gas and mV of the golden rows."""
    lines = [line for line in GOLDEN.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(lines))
    celsius, percent, millivolts = (
        np.array([float(row[name]) for row in rows]) for name in ("degC", "O2_percent_wet", "mV")
    )
    return celsius, percent, millivolts


def test_emf_is_that_of_every_golden_row() -> None:
    """zirconia.csv, computed with E = 0.0496053577777 T log10(0.2095 / x) mV: to its printed 0.01 mV."""
    celsius, percent, millivolts = _columns()

    assert len(celsius) > 100
    np.testing.assert_allclose(emf_from_oxygen_share(percent / 100.0, celsius) * 1e3, millivolts, atol=0.00501)


def test_share_of_every_golden_row_comes_back() -> None:
    """The way back closes to rounding over twelve powers of ten."""
    celsius, percent, _ = _columns()
    volts = emf_from_oxygen_share(percent / 100.0, celsius)

    np.testing.assert_allclose(oxygen_share_from_emf(volts, celsius) * 100.0, percent, rtol=1e-12)


@pytest.mark.parametrize(("printed", "rel"), [(0.0496, 2e-4), (0.0496053577777, 1e-9)])
def test_slope_is_that_of_published_calculators(printed: float, rel: float) -> None:
    """R ln(10) / 4F in mV/K: published calculators print 0.0496; zirconia.csv has the constants of today."""
    tenfold = emf_from_oxygen_share(np.array([0.02095]), np.array([1000.0 - 273.15]))

    assert float(tenfold[0]) == pytest.approx(printed, rel=rel)


def test_air_gives_nothing_and_richer_gas_more_than_leaner() -> None:
    """Positive where the gas has less oxygen than air."""
    volts = emf_from_oxygen_share(np.array([0.2095, 0.1, 1e-12]), np.full(3, 900.0))

    assert float(volts[0]) == 0.0
    assert np.all(np.diff(volts) > 0.0)


@pytest.mark.parametrize(("share", "celsius"), [(0.0, 900.0), (-0.1, 900.0), (np.nan, 900.0), (0.1, -273.15)])
def test_what_cannot_be_has_no_emf(share: float, celsius: float) -> None:
    """No oxygen at all, or no temperature: NaN, without a warning."""
    assert np.isnan(emf_from_oxygen_share(np.array([share]), np.array([celsius]))).all()
