"""The readings of one scan as the bytes of one row of the tail (MessagePack), and back; pure."""

from collections.abc import Callable, Sequence
from typing import TypeVar

import msgspec

from monitor.model import InputFault, Reading

FAULTS: tuple[InputFault | None, ...] = (None, InputFault.OPEN, InputFault.RANGE, InputFault.COLD_JUNCTION)
"""Faults by their stored number; the order is part of the stored form."""
NUMBERS = ("emf_volts", "cold_junction_c", "temperature_c", "oxygen_emf_volts")
"""The measured numbers of a reading; the order is part of the stored form."""

_Numbers = list[float | None] | None
_Entry = TypeVar("_Entry")


class Cells(msgspec.Struct, frozen=True, array_like=True):
    """Readings by kind, one entry an input each; a kind that no input sent is None as a whole."""

    inputs: tuple[str, ...]
    emf_volts: _Numbers
    cold_junction_c: _Numbers
    temperature_c: _Numbers
    oxygen_emf_volts: _Numbers
    fault: list[int] | None
    contact: list[bool | None] | None


def cells_of(readings: Sequence[Reading]) -> Cells:
    """Turn readings by input into cells by kind.

    Raises:
        ValueError: an input is named twice in one scan.
    """
    inputs = tuple(r.input for r in readings)
    if len(set(inputs)) != len(inputs):
        raise ValueError(f"an input is named twice in one scan: {', '.join(inputs)}")
    fault = [0 if r.fault is None else FAULTS.index(r.fault) for r in readings]
    return Cells(
        inputs,
        _unless_empty([r.emf_volts for r in readings]),
        _unless_empty([r.cold_junction_c for r in readings]),
        _unless_empty([r.temperature_c for r in readings]),
        _unless_empty([r.oxygen_emf_volts for r in readings]),
        fault if any(fault) else None,
        _unless_empty([r.contact for r in readings]),
    )


def readings_of(cells: Cells) -> tuple[Reading, ...]:
    """Turn cells by kind back into the readings, in their order."""
    blank: list[None] = [None] * len(cells.inputs)
    return tuple(
        map(
            Reading,
            cells.inputs,
            cells.emf_volts or blank,
            cells.cold_junction_c or blank,
            [FAULTS[code] for code in cells.fault] if cells.fault else blank,
            cells.temperature_c or blank,
            cells.oxygen_emf_volts or blank,
            cells.contact or blank,
        )
    )


encode_cells: Callable[[Cells], bytes] = msgspec.msgpack.Encoder().encode
decode_cells: Callable[[bytes], Cells] = msgspec.msgpack.Decoder(Cells).decode


def _unless_empty(entries: list[_Entry | None]) -> list[_Entry | None] | None:
    return entries if any(entry is not None for entry in entries) else None
