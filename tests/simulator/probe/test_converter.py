"""The converter's codes against its data sheet."""

import numpy as np
import pytest

from simulator.probe.converter import (
    FULL_SCALE_CODE,
    codes_from_emf,
    cold_junction_read,
    gain_of,
    step_volts,
    volts_from_codes,
)


@pytest.mark.parametrize(("gain", "microvolts"), [(8, 0.596046), (32, 0.149012)])
def test_step_is_that_of_the_data_sheet(gain: int, microvolts: float) -> None:
    """MAX31856 in voltage mode: V = code / (gain x 1.6 x 2^17)."""
    assert step_volts(gain) * 1e6 == pytest.approx(microvolts, abs=5e-7)
    assert step_volts(gain) == pytest.approx(1.0 / (gain * 1.6 * 2**17), rel=1e-15)


def test_gain_follows_the_letter() -> None:
    """Low-output types are read at gain 32."""
    assert {letter: gain_of(letter) for letter in "BEJKNRST"} == {
        "B": 32, "E": 8, "J": 8, "K": 8, "N": 8, "R": 32, "S": 32, "T": 8,
    }  # fmt: skip


@pytest.mark.parametrize("gain", [8, 32])
def test_every_code_is_printed_so_that_it_can_be_told(gain: int) -> None:
    """Printed to 1e-9 V, each code comes back exactly, over the whole scale."""
    codes = np.arange(-FULL_SCALE_CODE, FULL_SCALE_CODE + 1)
    printed = volts_from_codes(codes, gain)

    np.testing.assert_array_equal(np.rint(printed / step_volts(gain)).astype(np.int64), codes)
    assert np.all(np.abs(printed - codes * step_volts(gain)) <= 0.5000001e-9)
    assert all(len(f"{v:.9f}") and float(f"{v:.9f}") == v for v in printed[::5000].tolist())


def test_quiet_emf_is_read_to_the_nearest_code_and_clipped_at_full_scale() -> None:
    """Without noise the reading is within half a step; beyond full scale it stays there."""
    emf = np.array([0.01, -0.01, 0.2, -0.2])
    codes = codes_from_emf(emf, 8, np.zeros(4))

    assert np.all(np.abs(codes[:2] * step_volts(8) - emf[:2]) <= step_volts(8) / 2)
    assert codes[2:].tolist() == [FULL_SCALE_CODE, -FULL_SCALE_CODE]


@pytest.mark.parametrize(("gain", "microvolts"), [(8, 1.3), (32, 0.4)])
def test_noise_is_that_of_the_data_sheet(gain: int, microvolts: float) -> None:
    """1.3 uV rms at gain 8, 0.4 at gain 32; quantisation adds step / sqrt(12)."""
    draws = np.random.default_rng(5).standard_normal(20000)
    read = codes_from_emf(np.full(20000, 0.01), gain, draws) * step_volts(gain)

    expected = np.hypot(microvolts * 1e-6, step_volts(gain) / np.sqrt(12.0))
    assert float(read.std()) == pytest.approx(float(expected), rel=0.03)


def test_cold_junction_comes_in_sixty_fourths() -> None:
    """24.81 degC reads 24.8125, exactly."""
    assert cold_junction_read(np.array([24.81, -0.01])).tolist() == [24.8125, -0.015625]
