"""Heads of sealed blocks: lowest and highest temperature per sensor and minute, so that a chart reads no scans; pure.

Temperatures are kept to 1/16 degC, the lowest rounded down and the highest up, so that the span never gets narrower.
Heads belong to the conversion that made the temperatures; where that changed they are built anew.
"""

from dataclasses import dataclass

import msgspec
import numpy as np
import numpy.typing as npt
import zstandard

from monitor.model import FloatArray
from monitor.store.codec import with_crc, without_crc
from monitor.store.errors import BlockDamageError
from monitor.store.packing import Packed, pack, unpack
from monitor.store.scan_columns import IntArray

Float32Array = npt.NDArray[np.float32]

BUCKET_S = 60
"""Length of one bucket of record time, seconds; buckets begin at whole minutes of the epoch."""
STEPS_PER_C = 16
"""Resolution of a head."""


@dataclass(frozen=True, slots=True, eq=False)
class Heads:
    """`bucket` (b,) counts `BUCKET_S` from the epoch, rising; `low`, `high` (b, S) degC, NaN without a valid value."""

    bucket: IntArray
    low: Float32Array
    high: Float32Array


class _Stored(msgspec.Struct, frozen=True, array_like=True):
    sensor_count: int
    sensors: list[int]
    """Sensors with at least one valid value; the columns of `codes` are bucket, low of each, span of each."""
    codes: Packed | None
    gaps: list[tuple[int, int]]
    """(bucket's position, position in `sensors`) without a valid value."""


def build_heads(time: FloatArray, celsius: npt.NDArray[np.floating]) -> Heads:
    """Sum up temperatures (n, S) at epoch seconds `time` (n,), in any order, by bucket; empty buckets are left out."""
    is_any = ~np.isnan(celsius).all(axis=1)
    cell = np.floor(time[is_any] / BUCKET_S).astype(np.int64)
    found = celsius[is_any].astype(np.float32)
    bucket, low, high = reduce_by(cell, found, found)
    return Heads(
        bucket,
        (np.floor(low * STEPS_PER_C) / STEPS_PER_C).astype(np.float32),
        (np.ceil(high * STEPS_PER_C) / STEPS_PER_C).astype(np.float32),
    )


def reduce_by(
    cell: IntArray, low: npt.NDArray[np.floating], high: npt.NDArray[np.floating]
) -> tuple[IntArray, npt.NDArray[np.floating], npt.NDArray[np.floating]]:
    """Return the distinct cells, rising, with the lowest `low` and the highest `high` (n, S) in each, NaN aside."""
    if len(cell) > 1 and (np.diff(cell) < 0).any():
        order = np.argsort(cell, kind="stable")
        cell, low, high = cell[order], low[order], high[order]
    starts = np.flatnonzero(np.diff(cell, prepend=cell[:1] - 1))
    if not len(starts):
        return cell, low, high
    return cell[starts], np.fmin.reduceat(low, starts, axis=0), np.fmax.reduceat(high, starts, axis=0)


def encode_heads(heads: Heads) -> bytes:
    """Turn heads into bytes with a CRC."""
    valid = ~np.isnan(heads.low)
    sensors = np.flatnonzero(valid.any(axis=0))
    if not len(sensors):
        return with_crc(msgspec.msgpack.encode(_Stored(heads.low.shape[1], [], None, [])))
    valid = valid[:, sensors]
    low = _steps(heads.low[:, sensors], valid)
    span = _steps(heads.high[:, sensors], valid) - low
    codes = np.concatenate([heads.bucket[:, None], low, span], axis=1)
    gaps = [(int(at), int(sensor)) for at, sensor in np.argwhere(~valid)]
    stored = _Stored(heads.low.shape[1], sensors.tolist(), pack(codes, ("difference",)), gaps)
    return with_crc(msgspec.msgpack.encode(stored))


def decode_heads(sealed: bytes) -> Heads:
    """Return the heads that were encoded.

    Raises:
        BlockDamageError: the bytes are not what was written.
    """
    try:
        stored = msgspec.msgpack.decode(without_crc(sealed), type=_Stored)
        codes = np.zeros((0, 1), np.int64) if stored.codes is None else unpack(stored.codes)
    except (msgspec.MsgspecError, zstandard.ZstdError, ValueError) as error:
        raise BlockDamageError(f"heads: {error}") from error
    count = len(stored.sensors)
    low = np.full((len(codes), stored.sensor_count), np.nan, np.float32)
    high = low.copy()
    found_low = codes[:, 1 : 1 + count] / np.float32(STEPS_PER_C)
    found_high = found_low + codes[:, 1 + count :] / np.float32(STEPS_PER_C)
    for at, sensor in stored.gaps:
        found_low[at, sensor] = found_high[at, sensor] = np.nan
    low[:, stored.sensors] = found_low
    high[:, stored.sensors] = found_high
    return Heads(codes[:, 0], low, high)


def _steps(celsius: Float32Array, valid: npt.NDArray[np.bool_]) -> IntArray:
    """Return whole steps; where nothing is valid those of the bucket before, which costs nothing."""
    steps = np.rint(np.where(valid, celsius, 0.0).astype(np.float64) * STEPS_PER_C).astype(np.int64)
    at = np.maximum.accumulate(np.where(valid, np.arange(len(steps))[:, None], 0), axis=0)
    return np.take_along_axis(steps, at, axis=0)
