"""The cold junction: its emf is added to the measured emf, never its temperature to a temperature.

E(t) = E_measured + E(t_cold_junction), the law of successive temperatures, as in IEC 60584-1 and NIST Monograph 175.
"""

from typing import overload

import numpy as np
import numpy.typing as npt

from monitor.model import FloatArray
from monitor.thermocouple.reference import emf_from_temperature, range_of

COLD_JUNCTION_LOW_C = -40.0
COLD_JUNCTION_HIGH_C = 85.0
"""Lowest and highest temperature, degC, at which thermocouple converters work; a reading beyond is a fault.

Common practice: the industrial temperature range of integrated circuits.
"""


@overload
def total_emf(letter: str, emf_volts: float, cold_junction_c: float) -> float: ...
@overload
def total_emf(letter: str, emf_volts: FloatArray, cold_junction_c: FloatArray) -> FloatArray: ...
def total_emf(letter: str, emf_volts: float | FloatArray, cold_junction_c: float | FloatArray) -> float | FloatArray:
    """Return the emf in volts as if the cold junction were at 0 degC; NaN outside the letter's range and for NaN."""
    return emf_volts + emf_from_temperature(letter, cold_junction_c)


def is_cold_junction_valid(letter: str, cold_junction_c: FloatArray) -> npt.NDArray[np.bool_]:
    """Return where a cold junction (degC, any shape) can be used; nowhere for NaN.

    It must lie in the converter's range and in the letter's: type B has no emf below 0 degC.
    """
    low_c = max(COLD_JUNCTION_LOW_C, range_of(letter)[0])
    return (cold_junction_c >= low_c) & (cold_junction_c <= COLD_JUNCTION_HIGH_C)
