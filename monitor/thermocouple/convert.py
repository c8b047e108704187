"""Scans to temperatures: cold junction, inverse function and correction for a whole block of sensors at once.

A value that cannot be had is a status, never an exception and never a guess.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from monitor.model import CodeArray, FloatArray, ScanBlock, Status, Temperatures
from monitor.thermocouple.correction import CorrectionPoints, corrected
from monitor.thermocouple.inverse import temperature_from_emf
from monitor.thermocouple.junction import is_cold_junction_valid, total_emf

FINISHED_LOW_C = -273.15  # absolute zero
FINISHED_HIGH_C = 3000.0  # above every kiln and every probe; common sense, no source

Columns = npt.NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Conversion:
    """How one sensor becomes a temperature.

    `letter` is the thermocouple's type by IEC 60584-1, or None where the input delivers finished temperatures (an
    oxygen probe does, too). `correction` as in `correction.py`.
    """

    letter: str | None
    correction: CorrectionPoints = ()


def convert_block(block: ScanBlock, conversions: Sequence[Conversion]) -> Temperatures:
    """Return the temperatures of n scans by S sensors, `conversions` (S,) in the block's order of sensors.

    What the node said about an input goes before everything else; then a missing emf or finished temperature is ABSENT,
    an unusable cold junction COLD_JUNCTION, and the rest is for the inverse function to say.
    """
    celsius = np.empty(block.fault.shape)
    status = np.empty(block.fault.shape, dtype=np.uint8)
    for letter, columns in _columns_by_letter(tuple(conversions)):
        if letter is None:
            celsius[:, columns], status[:, columns] = _finished(block, columns)
        else:
            celsius[:, columns], status[:, columns] = _from_emf(letter, block, columns)
    np.copyto(status, block.fault, where=block.fault != Status.OK)
    celsius[status != Status.OK] = np.nan
    for column, conversion in enumerate(conversions):
        if conversion.correction:
            celsius[:, column] = corrected(celsius[:, column], conversion.correction)
    return Temperatures(time=block.time, celsius=celsius, status=status)


def _from_emf(letter: str, block: ScanBlock, columns: Columns) -> tuple[FloatArray, CodeArray]:
    emf_volts, cold_junction_c = block.emf_volts[:, columns], block.cold_junction_c[:, columns]
    celsius, status = temperature_from_emf(letter, total_emf(letter, emf_volts, cold_junction_c))
    status[~is_cold_junction_valid(letter, cold_junction_c)] = Status.COLD_JUNCTION
    status[np.isnan(emf_volts)] = Status.ABSENT
    return celsius, status


def _finished(block: ScanBlock, columns: Columns) -> tuple[FloatArray, CodeArray]:
    celsius = block.temperature_c[:, columns]
    is_plausible = (celsius >= FINISHED_LOW_C) & (celsius <= FINISHED_HIGH_C)
    return celsius, np.where(is_plausible, Status.OK, Status.ABSENT).astype(np.uint8)


@lru_cache(maxsize=64)
def _columns_by_letter(conversions: tuple[Conversion, ...]) -> tuple[tuple[str | None, Columns], ...]:
    """Return each letter with the columns of its sensors."""
    columns: dict[str | None, list[int]] = {}
    for column, conversion in enumerate(conversions):
        columns.setdefault(conversion.letter, []).append(column)
    return tuple((letter, np.array(found, dtype=np.intp)) for letter, found in columns.items())
