"""Saving and restoring: the arrays of a state record as MessagePack of raw bytes.

A state record is a dataclass whose fields are arrays of fixed shape and type. Restoring copies into arrays that a fresh
start has already laid out, so a saved state of another shape is refused, never guessed at.
"""

from collections.abc import Mapping
from typing import Any

import msgspec
import numpy as np
import numpy.typing as npt

FORMAT = 2
"""Version of the saved form; a change of any state record's meaning raises it."""

Arrays = Mapping[str, npt.NDArray[Any]]


class _Packed(msgspec.Struct, frozen=True):
    dtype: str
    shape: tuple[int, ...]
    raw: bytes


class _Saved(msgspec.Struct, frozen=True):
    format: int
    setup: str
    arrays: dict[str, _Packed]


def pack_arrays(arrays: Arrays, setup: str) -> bytes:
    """Return the arrays as bytes, marked with `setup`, the fingerprint of what they belong to."""
    packed = {name: _Packed(a.dtype.str, a.shape, np.ascontiguousarray(a).tobytes()) for name, a in arrays.items()}
    return msgspec.msgpack.encode(_Saved(FORMAT, setup, packed))


def unpack(saved: bytes, setup: str) -> dict[str, npt.NDArray[Any]]:
    """Return the arrays that `pack_arrays` saved.

    Raises:
        ValueError: where the bytes are damaged, of another format or of another setup.
    """
    try:
        found = msgspec.msgpack.decode(saved, type=_Saved)
        arrays = {
            name: np.frombuffer(p.raw, dtype=np.dtype(p.dtype)).reshape(p.shape) for name, p in found.arrays.items()
        }
    except (msgspec.DecodeError, ValueError, TypeError) as error:
        raise ValueError(f"saved state cannot be taken up: {error}; start without it") from error
    if (found.format, found.setup) != (FORMAT, setup):
        raise ValueError("saved state cannot be taken up: it is another site file's or version's; start without it")
    return arrays


def copy_into(arrays: Arrays, found: Arrays) -> None:
    """Copy `found` into `arrays` of the same names, types and shapes, all or nothing.

    Raises:
        ValueError: where a name, type or shape differs.
    """
    form = {name: (a.dtype, a.shape) for name, a in arrays.items()}
    if form != {name: (a.dtype, a.shape) for name, a in found.items()}:
        raise ValueError("saved state cannot be taken up: its arrays differ from this version's; start without it")
    for name, target in arrays.items():
        target[...] = found[name]
