"""The gas at a probe against computed rows of wood gas."""

import csv
from pathlib import Path

import numpy as np
import pytest

from monitor.model import FloatArray
from monitor.oxygen.nernst import emf_from_oxygen_share
from monitor.oxygen.wood_gas import excess_air_from_oxygen
from simulator.physics.flue_gas import LEANEST, RICHEST, mixed_ratio, oxygen_share

GOLDEN = Path(__file__).parents[2] / "golden" / "flue_gas.csv"


def _columns() -> tuple[FloatArray, FloatArray, FloatArray]:
    lines = [line for line in GOLDEN.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(lines))
    celsius, ratio, millivolts = (
        np.array([float(row[name]) for row in rows]) for name in ("degC", "excess_air_ratio", "zirconia_mV")
    )
    return celsius, ratio, millivolts


def test_probe_emf_is_that_of_every_golden_row() -> None:
    """flue_gas.csv: lean by stoichiometry to the printed mV; rich within 10 mV (energies from memory)."""
    celsius, ratio, millivolts = _columns()
    got = emf_from_oxygen_share(oxygen_share(ratio, celsius, 0.20), celsius) * 1e3

    lean = ratio > 1.0
    np.testing.assert_allclose(got[lean], millivolts[lean], atol=0.51)
    np.testing.assert_allclose(got[~lean], millivolts[~lean], atol=10.0)


def test_ratio_comes_back() -> None:
    """The way back closes over all ratios and temperatures that are told."""
    ratio = np.concatenate([np.linspace(RICHEST, 0.999, 50), np.linspace(1.001, 10.0, 50)])
    celsius = np.tile([500.0, 900.0, 1100.0, 1300.0], 25)
    share = oxygen_share(ratio, celsius, 0.15)

    np.testing.assert_allclose(excess_air_from_oxygen(share, celsius, 0.15), ratio, rtol=1e-6)


def test_gas_is_held_where_it_can_be_told() -> None:
    """Richer than soot allows, leaner than nearly air, colder than any flame: the nearest that can be."""
    ends = oxygen_share(np.array([0.1, RICHEST, 1e9, LEANEST]), np.full(4, 900.0), 0.15)
    cold = oxygen_share(np.full(2, 0.9), np.array([20.0, 400.0]), 0.15)

    assert ends[0] == ends[1] < 1e-12
    assert ends[2] == ends[3] > 0.2
    assert cold[0] == cold[1]


@pytest.mark.parametrize(
    ("air", "demand", "ratio"), [(0.05, 0.10, 0.5), (0.1, 0.05, 2.0), (0.1, 0.0, LEANEST), (0.0, 0.1, 0.0)]
)
def test_ratio_is_air_over_demand(air: float, demand: float, ratio: float) -> None:
    """Without fuel it is nearly air, without air nothing."""
    assert float(mixed_ratio(np.array([air]), np.array([demand]))[0]) == pytest.approx(ratio)


def test_closed_kiln_without_fuel_or_air_is_no_fault() -> None:
    """Nothing drawn in, nothing burning: a number, not an error."""
    assert np.isfinite(mixed_ratio(np.zeros(1), np.zeros(1))).all()
