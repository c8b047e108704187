"""Integers along time to few bytes and back, without loss; knows nothing of scans.

A matrix of whole numbers, n moments by c columns, goes through a reversible transform along time, is spread into small
symbols with an escape for the rare large ones, and each stream is compressed on its own by zstd (RFC 8878). The
candidates are tried and the smallest is kept, so a noisy emf, a steady count and a constant each get what suits them.

Transforms: `difference` is the change from the moment before. `lifting` is the reversible 5/3 wavelet of
ISO/IEC 15444-1 (every second moment is told as its distance from the mean of its neighbours, the others are smoothed by
it, and again for those): a slow signal under converter noise costs less than by differences. `line` tells the distance
from a line through local means: best for a value that hardly moves under noise below one step. All arithmetic wraps at
64 bits the same way in both directions, so any int64 comes back.
"""

from collections.abc import Callable, Sequence

import msgspec
import numpy as np
import numpy.typing as npt
import zstandard

IntArray = npt.NDArray[np.int64]
WordArray = npt.NDArray[np.uint64]

KNOT = 64
"""Moments between two knots of the line."""
ALL_TRANSFORMS = ("difference", "lifting", "line")
WIDTHS = (2, 4, 8)
"""Bits of a symbol that are tried."""
TRIAL_LEVEL = 1
FINAL_LEVEL = 19


class Packed(msgspec.Struct, frozen=True, array_like=True):
    """One packed matrix: its shape, how it was told, and the two compressed streams."""

    moments: int
    columns: int
    transform: str
    numbers: int
    width: int
    symbols: bytes
    escapes: bytes


def pack(matrix: IntArray, transforms: Sequence[str] = ALL_TRANSFORMS) -> Packed:
    """Pack whole numbers (n, c), neither of them 0, into the smallest of the tried forms."""
    moments, columns = matrix.shape
    tried = []
    for name in transforms:
        words = _zigzag(TRANSFORMS[name][0](matrix))
        for width in WIDTHS:
            symbols, escapes = _split(words, width)
            size = len(_compress(symbols, TRIAL_LEVEL)) + len(_compress(escapes, TRIAL_LEVEL))
            tried.append((size, name, len(words), width, symbols, escapes))
    _, name, numbers, width, symbols, escapes = min(tried, key=lambda each: each[0])
    return Packed(moments, columns, name, numbers, width, _smallest(symbols), _smallest(escapes))


def unpack(packed: Packed) -> IntArray:
    """Return the whole numbers (n, c) that were packed.

    Raises:
        ValueError: the streams do not fit the shape (zstandard.ZstdError: they are not zstd).
    """
    symbols = zstandard.ZstdDecompressor().decompress(packed.symbols)
    escapes = zstandard.ZstdDecompressor().decompress(packed.escapes)
    words = _join(symbols, escapes, count=packed.numbers, width=packed.width)
    _, backward = TRANSFORMS[packed.transform]
    return backward(_unzigzag(words), packed.moments, packed.columns)


def _difference(matrix: IntArray) -> IntArray:
    return np.diff(matrix, axis=0, prepend=np.zeros((1, matrix.shape[1]), np.int64)).T.ravel()


def _sum(flat: IntArray, moments: int, columns: int) -> IntArray:
    return np.cumsum(flat.reshape(columns, moments).T, axis=0, dtype=np.int64)


def _lift(matrix: IntArray) -> IntArray:
    parts: list[IntArray] = []
    rest = matrix
    while len(rest) > 4:
        even, odd = rest[0::2], rest[1::2]
        detail = odd - _neighbour_mean(even, len(odd))
        parts.append(detail.T.ravel())
        rest = even + _update(detail, len(even))
    parts.append(_difference(rest))
    return np.concatenate(parts)


def _unlift(flat: IntArray, moments: int, columns: int) -> IntArray:
    lengths = [moments]
    while lengths[-1] > 4:
        lengths.append((lengths[-1] + 1) // 2)
    at = len(flat) - lengths[-1] * columns
    rest = _sum(flat[at:], lengths[-1], columns)
    for length in reversed(lengths[:-1]):
        odd_count = length // 2
        at -= odd_count * columns
        detail = flat[at : at + odd_count * columns].reshape(columns, odd_count).T
        whole = np.empty((length, columns), np.int64)
        whole[0::2] = rest - _update(detail, len(rest))
        whole[1::2] = detail + _neighbour_mean(whole[0::2], odd_count)
        rest = whole
    return rest


def _neighbour_mean(even: IntArray, count: int) -> IntArray:
    """Return the mean of the even moments on both sides of each odd one, rounded down; the last stands alone."""
    right = even[1:] if len(even) > count else np.concatenate([even[1:], even[-1:]])
    return (even[:count] + right) >> 1


def _update(detail: IntArray, count: int) -> IntArray:
    """Return a quarter of the details on both sides of each even moment."""
    padded = np.concatenate([detail[:1], detail, detail[-1:]])
    quarter: IntArray = (padded[:count] + padded[1 : count + 1] + 2) >> 2
    return quarter


def _flatten(matrix: IntArray) -> IntArray:
    moments = len(matrix)
    starts = np.arange(0, moments, KNOT)
    counts = np.diff(np.append(starts, moments))[:, None]
    knots = np.add.reduceat(matrix, starts, axis=0) // counts
    return np.concatenate([_difference(knots), (matrix - _line(knots, moments)).T.ravel()])


def _unflatten(flat: IntArray, moments: int, columns: int) -> IntArray:
    knot_count = -(-moments // KNOT)
    knots = _sum(flat[: knot_count * columns], knot_count, columns)
    return flat[knot_count * columns :].reshape(columns, moments).T + _line(knots, moments)


def _line(knots: IntArray, moments: int) -> IntArray:
    """Return the line (n, c) through the means, each standing at the middle of its `KNOT` moments, rounded."""
    at = np.arange(moments) - KNOT // 2
    left = np.clip(at // KNOT, 0, len(knots) - 1)
    right = np.clip(at // KNOT + 1, 0, len(knots) - 1)
    share = (at % KNOT)[:, None]
    return (knots[left] * (KNOT - share) + knots[right] * share + KNOT // 2) // KNOT


TRANSFORMS: dict[str, tuple[Callable[[IntArray], IntArray], Callable[[IntArray, int, int], IntArray]]] = {
    "difference": (_difference, _sum),
    "lifting": (_lift, _unlift),
    "line": (_flatten, _unflatten),
}


def _zigzag(numbers: IntArray) -> WordArray:
    folded: WordArray = ((numbers << 1) ^ (numbers >> 63)).view(np.uint64)
    return folded


def _unzigzag(words: WordArray) -> IntArray:
    halves: IntArray = (words >> np.uint64(1)).view(np.int64)
    signs: IntArray = (words & np.uint64(1)).view(np.int64)
    return np.bitwise_xor(halves, -signs)


def _split(words: WordArray, width: int) -> tuple[bytes, bytes]:
    """Split words into symbols of `width` bits and, for those that do not fit, the rest as byte planes."""
    limit = (1 << width) - 1
    is_escape = words >= limit
    low = np.minimum(words, np.uint64(limit)).astype(np.uint8)
    per_byte = 8 // width
    low = np.append(low, np.zeros(-len(low) % per_byte, np.uint8)).reshape(-1, per_byte)
    symbols = np.bitwise_or.reduce(low << (width * np.arange(per_byte, dtype=np.uint8)), axis=1, dtype=np.uint8)
    rest = words[is_escape] - np.uint64(limit)
    planes = (int(rest.max(initial=0)).bit_length() + 7) // 8
    escapes = rest.astype("<u8").view(np.uint8).reshape(-1, 8)[:, :planes].T
    return symbols.tobytes(), bytes([planes]) + escapes.tobytes()


def _join(symbols: bytes, escapes: bytes, *, count: int, width: int) -> WordArray:
    limit = (1 << width) - 1
    shifts = width * np.arange(8 // width, dtype=np.uint8)
    low = (np.frombuffer(symbols, np.uint8)[:, None] >> shifts) & np.uint8(limit)
    words = low.ravel()[:count].astype(np.uint64)
    is_escape = words == limit
    planes = escapes[0]
    rest = np.zeros((int(is_escape.sum()), 8), np.uint8)
    rest[:, :planes] = np.frombuffer(escapes, np.uint8, offset=1).reshape(planes, len(rest)).T
    words[is_escape] += rest.view("<u8").ravel()
    return words


def _smallest(stream: bytes) -> bytes:
    return min((_compress(stream, level) for level in (TRIAL_LEVEL, FINAL_LEVEL)), key=len)


def _compress(stream: bytes, level: int) -> bytes:
    return zstandard.ZstdCompressor(level=level, write_checksum=False).compress(stream)
