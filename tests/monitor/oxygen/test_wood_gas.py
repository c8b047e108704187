"""Wood gas at equilibrium against computed rows and the air that wood needs."""

import csv
from pathlib import Path

import numpy as np
import pytest

from monitor.model import FloatArray
from monitor.oxygen.nernst import oxygen_share_from_emf
from monitor.oxygen.wood_gas import DEMAND_MOL_KG, excess_air_from_oxygen

GOLDEN = Path(__file__).parents[2] / "golden" / "flue_gas.csv"


def _columns() -> dict[str, FloatArray]:
    lines = [line for line in GOLDEN.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(lines))
    names = ("degC", "excess_air_ratio", "O2_dry_percent", "H2O_wet_percent", "log10_pO2_bar", "zirconia_mV")
    return {name: np.array([float(row[name]) for row in rows]) for name in names}


def test_wood_needs_the_air_of_handbooks() -> None:
    """5.91 kg of air a kg of dry wood, computed for C50 H6 O44; about 6 in Kubler, Wood and Fiber Science."""
    air_kg_kg = DEMAND_MOL_KG / 0.2095 * 0.028965

    assert air_kg_kg == pytest.approx(5.91, abs=0.005)


def test_ratio_is_that_of_every_golden_row() -> None:
    """flue_gas.csv: within what two decimals of log10 pO2 leave; its Gibbs energies are from memory, as ours."""
    golden = _columns()
    ratio = excess_air_from_oxygen(10.0 ** golden["log10_pO2_bar"], golden["degC"])

    lean = golden["excess_air_ratio"] > 1.0
    np.testing.assert_allclose(ratio[lean], golden["excess_air_ratio"][lean], rtol=0.02)
    np.testing.assert_allclose(ratio[~lean], golden["excess_air_ratio"][~lean], atol=0.001)


def test_lean_ratio_is_stoichiometry() -> None:
    """Wet O2 from the dry O2 and H2O of the rows on the lean side: exact stoichiometry, to the rows' rounding."""
    golden = _columns()
    lean = golden["excess_air_ratio"] >= 1.05
    wet = golden["O2_dry_percent"] / 100.0 * (1.0 - golden["H2O_wet_percent"] / 100.0)
    ratio = excess_air_from_oxygen(wet, golden["degC"])

    np.testing.assert_allclose(ratio[lean], golden["excess_air_ratio"][lean], rtol=0.002)


@pytest.mark.parametrize(("millivolts", "ratio"), [(88.0, 1.05), (645.0, 0.98), (738.0, 0.90)])
def test_probe_in_the_kiln_tells_the_side_it_is_on(millivolts: float, ratio: float) -> None:
    """flue_gas.csv at 1000 degC: the emf jumps by hundreds of millivolts at the stoichiometric point."""
    celsius = np.array([1000.0])
    share = oxygen_share_from_emf(np.array([millivolts / 1e3]), celsius)

    assert float(excess_air_from_oxygen(share, celsius)[0]) == pytest.approx(ratio, abs=0.002)


def test_ratio_rises_with_oxygen_up_to_air() -> None:
    """One ratio for one share; air has no end."""
    share = np.append(np.exp(np.linspace(-40.0, np.log(0.2), 200)), 0.2095)
    ratio = excess_air_from_oxygen(share, np.full(201, 1000.0))

    assert np.all(np.diff(ratio) > 0.0)
    assert np.isinf(ratio[-1])


def test_moisture_hardly_moves_the_ratio() -> None:
    """Wood with 10 or 30 percent of water: a hundredth of the ratio at 5 percent O2."""
    share, celsius = np.array([0.05]), np.array([1000.0])
    dry, wet = (float(excess_air_from_oxygen(share, celsius, moisture)[0]) for moisture in (0.1, 0.3))

    assert dry == pytest.approx(wet, rel=0.02)


def test_no_share_no_ratio() -> None:
    """NaN for NaN, nothing and all."""
    assert np.isnan(excess_air_from_oxygen(np.array([np.nan, 0.0]), np.full(2, 1000.0))).all()
