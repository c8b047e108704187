"""The converter: emf to codes with its noise and step, and the cold junction in its steps.

V = code / (gain x 1.6 x 2^17), gain 8 for types K N E J T and 32 for S R B, codes clipped at full scale; noise and
steps after the data sheet of a general-purpose thermocouple converter (MAX31856, voltage mode).
"""

import numpy as np
import numpy.typing as npt

from monitor.model import FloatArray

FULL_SCALE_CODE = 131072
FULL_SCALE_VOLTS = {8: 0.078125, 32: 0.01953125}
"""By gain: 1 V / (gain x 1.6); the data sheet prints 78.125 and 19.531 mV."""
NOISE_VOLTS = {8: 1.3e-6, 32: 0.4e-6}
"""By gain, rms (data sheet)."""
COLD_JUNCTION_STEP_C = 1.0 / 64.0
PRINTED_DECIMALS = 9
"""A node prints volts to the nanovolt, far finer than the converter's step."""
HIGH_GAIN_LETTERS = frozenset("SRB")


def gain_of(letter: str) -> int:
    """Return the converter's gain for thermocouples of `letter`."""
    return 32 if letter in HIGH_GAIN_LETTERS else 8


def step_volts(gain: int) -> float:
    """Return the emf of one code in volts."""
    return FULL_SCALE_VOLTS[gain] / FULL_SCALE_CODE


def codes_from_emf(emf_volts: FloatArray, gain: int, standard_normal: FloatArray) -> npt.NDArray[np.int64]:
    """Return the codes (n,) read for `emf_volts` (n,), noise made of `standard_normal` draws (n,)."""
    noisy = emf_volts + NOISE_VOLTS[gain] * standard_normal
    codes = np.rint(noisy / step_volts(gain))
    return np.clip(codes, -FULL_SCALE_CODE, FULL_SCALE_CODE).astype(np.int64)


def volts_from_codes(codes: npt.NDArray[np.int64], gain: int) -> FloatArray:
    """Return `codes` (n,) in volts as a node prints them, to 1e-9 V."""
    return np.round(codes * step_volts(gain), PRINTED_DECIMALS)


def cold_junction_read(celsius: FloatArray) -> FloatArray:
    """Return `celsius` (n,) as the converter's own sensor reports it, in steps of 1/64 degC."""
    return np.round(celsius / COLD_JUNCTION_STEP_C) * COLD_JUNCTION_STEP_C
