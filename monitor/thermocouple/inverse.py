"""Temperature from emf: the inverse of the reference functions of IEC 60584-1 (ITS-90).

It solves the reference function itself, to 4e-7 degC over the whole range of every letter (the published inverse
polynomials are 0.06 degC off for type K). Every value is worked out alone: how a series is cut into blocks changes no
bit of the answer. The tables come from `inverse_table.py`.
"""

from typing import overload

import numpy as np

from monitor.model import CodeArray, FloatArray, Status
from monitor.thermocouple.inverse_table import InverseTable, inverse_table

BLOCK_VALUES = 16384
"""Values worked on at a time: the five arrays of a block (0.7 MB) stay in a core's second-level cache."""


@overload
def temperature_from_emf(letter: str, emf_volts: float) -> tuple[float, Status]: ...
@overload
def temperature_from_emf(letter: str, emf_volts: FloatArray) -> tuple[FloatArray, CodeArray]: ...
def temperature_from_emf(
    letter: str, emf_volts: float | FloatArray
) -> tuple[float, Status] | tuple[FloatArray, CodeArray]:
    """Return the temperature in degC and the `Status` for an emf in volts against a reference junction at 0 degC.

    A scalar gives (float, Status), an array two arrays of its shape. Without a temperature the number is NaN and the
    status says why: ABSENT for NaN; BELOW and ABOVE outside the reference function's range, which is never clipped;
    UNDEFINED for type B below 250 degC (0.291 mV): its emf falls from 0 to about 21 degC and is back at nothing near
    42 degC, so that one emf has two temperatures, and then rises by less than 2.6 microvolts a degree. The published
    inverse, too, starts at 250 degC.
    """
    table = inverse_table(letter)
    flat = np.ascontiguousarray(emf_volts, dtype=np.float64).reshape(-1)
    celsius = np.empty(flat.shape)
    status = np.zeros(flat.shape, dtype=np.uint8)
    scratch = np.empty((3, min(flat.size, BLOCK_VALUES)))
    for start in range(0, flat.size, BLOCK_VALUES):
        block = slice(start, start + BLOCK_VALUES)
        _invert(table, flat[block], celsius[block], status[block], scratch)
    if np.ndim(emf_volts) == 0:
        return float(celsius[0]), Status(int(status[0]))
    return celsius.reshape(np.shape(emf_volts)), status.reshape(np.shape(emf_volts))


def _invert(
    table: InverseTable, emf_volts: FloatArray, celsius: FloatArray, status: CodeArray, scratch: FloatArray
) -> None:
    """Fill `celsius` and `status` (n,), n at least 1; `status` comes as OK."""
    lowest, highest = np.minimum.reduce(emf_volts), np.maximum.reduce(emf_volts)
    if table.emf_safe_low <= lowest and highest <= table.emf_safe_high:  # false with a NaN among them
        _evaluate(table, emf_volts, celsius, scratch)
        return
    is_inside = (emf_volts >= table.emf_low) & (emf_volts <= table.emf_high)
    _evaluate(table, np.where(is_inside, emf_volts, table.emf_low), celsius, scratch)
    np.clip(celsius, table.low_c, table.high_c, out=celsius)  # an end may be passed by 4e-7 degC, not by more
    celsius[~is_inside] = np.nan
    status[:] = _judge(table, emf_volts)


def _evaluate(table: InverseTable, emf_volts: FloatArray, celsius: FloatArray, scratch: FloatArray) -> None:
    """Fill `celsius` (n,) from emf that is all inside the table."""
    place, bits, term = scratch[:, : emf_volts.size]
    cell = bits.view(np.uint64)
    np.add(emf_volts, table.shift_volts, out=place)
    np.right_shift(place.view(np.uint64), table.dropped_bits, out=cell)
    np.subtract(cell, table.first_cell, out=cell)
    index = cell.view(np.int64)
    # no index is outside; "wrap" is the gather that NumPy does fastest
    table.square.take(index, out=celsius, mode="wrap")
    for coefficient in (table.linear, table.constant):
        np.multiply(celsius, place, out=celsius)
        coefficient.take(index, out=term, mode="wrap")
        np.add(celsius, term, out=celsius)


def _judge(table: InverseTable, emf_volts: FloatArray) -> CodeArray:
    status = np.zeros(emf_volts.shape, dtype=np.uint8)
    status[emf_volts > table.emf_high] = Status.ABOVE
    status[emf_volts < table.emf_low] = Status.UNDEFINED
    status[emf_volts < table.emf_bottom] = Status.BELOW
    status[np.isnan(emf_volts)] = Status.ABSENT
    return status
