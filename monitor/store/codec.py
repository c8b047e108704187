"""Sealed blocks: the stored scans of one node over about an hour as few bytes, and back, bit for bit; pure.

Layout: one byte of format, a MessagePack array, and the CRC-32 (ISO-HDLC) of all that, little-endian. The array holds
the head (names and codings, compressed) and the packed columns. See `steps.py` for numbers as whole numbers and
`packing.py` for whole numbers as bytes. Knows no database.
"""

import zlib

import msgspec
import numpy as np
import zstandard

from monitor.model import FloatArray
from monitor.store.cells import NUMBERS
from monitor.store.errors import BlockDamageError
from monitor.store.packing import Packed, pack, unpack
from monitor.store.scan_columns import HAS_NUMBER, BoolArray, IntArray, ScanColumns
from monitor.store.steps import Coding, from_codes, to_codes

FORMAT = 1
HEAD_LEVEL = 19


class _Head(msgspec.Struct, frozen=True, array_like=True):
    node: str
    inputs: tuple[str, ...]
    boots: tuple[str, ...]
    times: Coding
    columns: dict[int, list[tuple[int, Coding]]]
    """By index into NUMBERS: the inputs that sent any, each with its coding."""


class _Body(msgspec.Struct, frozen=True, array_like=True):
    head: bytes
    times: Packed
    delays: Packed
    counts: Packed
    flags: Packed | None
    numbers: list[Packed]


def encode(columns: ScanColumns) -> bytes:
    """Seal stored scans (n of at least 1) into bytes."""
    times_coding, times, delays = _times_to_codes(columns)
    codings: dict[int, list[tuple[int, Coding]]] = {}
    packed: list[Packed] = []
    for kind, name in enumerate(NUMBERS):
        if name in columns.numbers:
            sent = (columns.told & HAS_NUMBER[name]) != 0
            codings[kind], codes = _numbers_to_codes(columns.numbers[name], sent)
            packed.append(pack(codes))
    head = msgspec.msgpack.encode(_Head(columns.node, columns.inputs, columns.boots, times_coding, codings))
    counts = np.stack([columns.row, columns.seq, columns.boot, columns.late.astype(np.int64)], axis=1)
    flags = columns.told.astype(np.int64) | columns.fault.astype(np.int64) << 8
    body = _Body(
        head=zstandard.ZstdCompressor(level=HEAD_LEVEL).compress(head),
        times=pack(times),
        delays=pack(delays),
        counts=pack(counts),
        flags=pack(flags) if columns.inputs else None,
        numbers=packed,
    )
    return with_crc(bytes([FORMAT]) + msgspec.msgpack.encode(body))


def decode(sealed: bytes) -> ScanColumns:
    """Return the stored scans that were sealed.

    Raises:
        BlockDamageError: the bytes are not what was written.
    """
    plain = without_crc(sealed)
    if plain[0] != FORMAT:
        raise BlockDamageError(f"format {plain[0]} is not known, only {FORMAT}; a newer version may have written it")
    try:
        body = msgspec.msgpack.decode(plain[1:], type=_Body)
        head = msgspec.msgpack.decode(zstandard.ZstdDecompressor().decompress(body.head), type=_Head)
        return _columns(head, body)
    except (msgspec.MsgspecError, zstandard.ZstdError, ValueError, LookupError) as error:
        raise BlockDamageError(f"its form is broken ({error})") from error


def with_crc(plain: bytes) -> bytes:
    """Append the CRC-32 of the bytes."""
    return plain + zlib.crc32(plain).to_bytes(4, "little")


def without_crc(sealed: bytes) -> bytes:
    """Check and take off the CRC-32.

    Raises:
        BlockDamageError: the CRC does not fit, or nothing is there.
    """
    plain, stored = sealed[:-4], int.from_bytes(sealed[-4:], "little")
    computed = zlib.crc32(plain)
    if not plain or computed != stored:
        raise BlockDamageError(f"{len(sealed)} bytes have CRC {computed:08x}, stored was {stored:08x}")
    return plain


def _columns(head: _Head, body: _Body) -> ScanColumns:
    row, seq, boot, late = unpack(body.counts).T
    shape = (len(row), len(head.inputs))
    flags = np.zeros(shape, np.int64) if body.flags is None else unpack(body.flags)
    time, clock = _times_from_codes(head.times, unpack(body.times).ravel(), unpack(body.delays).ravel())
    told = (flags & 0xFF).astype(np.uint8)
    numbers = {}
    for (kind, codings), packed in zip(head.columns.items(), body.numbers, strict=True):
        sent = (told & HAS_NUMBER[NUMBERS[kind]]) != 0
        numbers[NUMBERS[kind]] = _numbers_from_codes(codings, unpack(packed), sent)
    return ScanColumns(
        node=head.node,
        inputs=head.inputs,
        boots=head.boots,
        row=row.copy(),
        time=time,
        clock=clock,
        late=late != 0,
        seq=seq.copy(),
        boot=boot.copy(),
        told=told,
        fault=(flags >> 8).astype(np.uint8),
        numbers=numbers,
    )


def _times_to_codes(columns: ScanColumns) -> tuple[Coding, IntArray, IntArray]:
    """Bring scan time and arrival clock to one unit, the clock as its delay after the time; both (n, 1)."""
    both = np.concatenate([columns.time, columns.clock])
    coding, codes = to_codes(both, np.ones(len(both), np.bool_))
    time, clock = codes.reshape(2, -1)
    return coding, time[:, None], (clock - time)[:, None]


def _times_from_codes(coding: Coding, time: IntArray, delay: IntArray) -> tuple[FloatArray, FloatArray]:
    both = from_codes(coding, np.concatenate([time, time + delay]))
    return both[: len(time)], both[len(time) :]


def _numbers_to_codes(numbers: FloatArray, sent: BoolArray) -> tuple[list[tuple[int, Coding]], IntArray]:
    """Return for each input that sent any (index, coding), and their codes side by side."""
    codings, columns = [], []
    for at in np.flatnonzero(sent.any(axis=0)).tolist():
        coding, codes = to_codes(numbers[:, at], sent[:, at])
        codings.append((at, coding))
        columns.append(codes)
    return codings, np.stack(columns, axis=1)


def _numbers_from_codes(codings: list[tuple[int, Coding]], codes: IntArray, sent: BoolArray) -> FloatArray:
    numbers = np.full(sent.shape, np.nan)
    for (at, coding), column in zip(codings, codes.T, strict=True):
        numbers[:, at] = np.where(sent[:, at], from_codes(coding, column), np.nan)
    return numbers
