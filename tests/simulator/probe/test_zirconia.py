"""The oxygen cell in wood gas."""

import numpy as np
import pytest

from simulator.probe.zirconia import FOLLOWS_IN_S, Cell, cell_ohm, cell_volts, temperature_read, volts_read


@pytest.mark.parametrize(
    ("celsius", "ratio", "millivolts"),
    [(900.0, 0.9, 789.0), (1000.0, 0.98, 645.0), (1000.0, 1.05, 88.0), (1200.0, 0.8, 688.0), (1200.0, 1.5, 39.0)],
)
def test_hot_cell_gives_the_emf_of_its_gas(celsius: float, ratio: float, millivolts: float) -> None:
    """flue_gas.csv (computed, 20 percent moisture): 1 mV and what a warm cell loses."""
    volts = cell_volts(np.array([ratio]), np.array([celsius]), 0.20)

    assert float(volts[0]) * 1e3 == pytest.approx(millivolts, abs=1.0)


def test_cold_cell_gives_next_to_nothing() -> None:
    """Conduction stops: under a percent is lost at 600 degC and nearly all in a cold kiln (from memory)."""
    ratio = np.full(4, 0.8)
    celsius = np.array([1000.0, 600.0, 300.0, 50.0])
    lost = 1.0 - 1.0e7 / (1.0e7 + cell_ohm(celsius))
    volts = cell_volts(ratio, celsius, 0.15)

    assert np.all(np.diff(lost) > 0.0)
    assert lost[1] < 0.01
    assert lost[3] > 0.999
    assert abs(float(volts[3])) < 1e-3


def test_resistance_at_700_degc_is_the_told_one() -> None:
    """10 kilohm (from memory)."""
    assert float(cell_ohm(np.array([700.0]))[0]) == pytest.approx(1.0e4)


def test_cell_follows_its_gas_to_first_order() -> None:
    """After one time constant 63 percent of a jump, within the gas's unsteadiness."""
    ratio = np.concatenate([np.full(100, 2.0), np.full(100, 0.8)])
    volts = Cell(0.15, np.random.default_rng(1)).add(ratio, np.full(200, 1000.0), 1.0)
    low, high = float(volts[50:100].mean()), float(volts[150:].mean())
    part = (float(volts[100 + int(FOLLOWS_IN_S) - 1]) - low) / (high - low)

    assert part == pytest.approx(1.0 - np.exp(-1.0), abs=0.03)


def test_gas_is_never_quite_steady() -> None:
    """A steady ratio near 1 swings by many millivolts; a lean one by few."""
    near, lean = (
        Cell(0.15, np.random.default_rng(1)).add(np.full(500, r), np.full(500, 1000.0), 5.0).std() for r in (1.02, 3.0)
    )

    assert near > 0.02
    assert lean < 0.002


def test_cutting_into_blocks_changes_no_bit() -> None:
    """The cell goes on from its last emf and draws on."""
    ratio, celsius = np.linspace(0.7, 1.4, 60), np.linspace(500.0, 1100.0, 60)
    whole = Cell(0.15, np.random.default_rng(7)).add(ratio, celsius, 5.0)
    cell = Cell(0.15, np.random.default_rng(7))
    parts = [cell.add(ratio[r].copy(), celsius[r].copy(), 5.0) for r in (slice(0, 1), slice(1, 24), slice(24, 60))]

    np.testing.assert_array_equal(np.concatenate(parts), whole)


def test_node_tells_tenths() -> None:
    """0.1 mV and 0.1 degC, noise of 0.2 mV rms on the emf."""
    volts = volts_read(np.full(5000, 0.6453), np.random.default_rng(2).standard_normal(5000))

    np.testing.assert_array_equal(np.round(volts * 1e4, 6), np.rint(volts * 1e4))
    assert float(volts.std()) == pytest.approx(0.2e-3, rel=0.05)
    assert temperature_read(np.array([1003.26])).tolist() == [1003.3]
