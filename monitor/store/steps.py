"""Measured numbers as whole numbers of the step they were made of, bit for bit; pure.

A converter delivers a whole number of its step, and a node prints it to some decimals, so a column of float64 is nearly
always `round(code * step, decimals)`: the code is what is worth keeping. Tried in this order: a known step, printed or
in full; a whole multiple of the last decimal; the bits of the float64 themselves. A column may hold a few numbers that
do not fit (minus zero, a number from elsewhere): they are kept beside it as they are.

Steps of the converters: MAX31856-class in voltage mode, full scale / 2**17 at gain 8 and 32, full scale 78.125 mV and
19.531 mV as the datasheet prints it (exactly 19.53125); cold junction 1/64 degC, linearised 1/128 degC; MAX31855-class
1/16 and 1/4 degC (from memory). Others are met by the decimals.
"""

import msgspec
import numpy as np
import numpy.typing as npt

from monitor.model import FloatArray

IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

KNOWN_STEPS = (0.25, 1 / 16, 1 / 64, 1 / 128, 78.125e-3 / 2**17, 19.53125e-3 / 2**17, 19.531e-3 / 2**17)
"""Converter steps in degC or volts, coarsest first."""
MOST_DECIMALS = 12
MOST_WHOLE = 2.0**53
"""Whole numbers up to here are exact in a float64."""
EXCEPTIONS_SHARE = 64
"""One number in so many may miss the step."""


class Coding(msgspec.Struct, frozen=True, array_like=True):
    """How codes become numbers: `(code * multiple + offset)` times `step`, rounded to `decimals`.

    `step` None: whole numbers of the last decimal; `decimals` None: not rounded; both None: the float64's own bits.
    `exceptions` are (position, number) that do not follow.
    """

    step: float | None
    decimals: int | None
    multiple: int = 1
    offset: int = 0
    exceptions: tuple[tuple[int, float], ...] = ()


def to_codes(numbers: FloatArray, present: BoolArray) -> tuple[Coding, IntArray]:
    """Find the coarsest coding that gives back every present number (n,) bit for bit, and the codes (n,).

    Where nothing is present, and at exceptions, the code before is held, which costs nothing.
    """
    at = np.flatnonzero(present)
    if not len(at):
        return Coding(None, 0), np.zeros(len(numbers), np.int64)
    found = numbers[at]
    with np.errstate(over="ignore", invalid="ignore"):  # what overflows does not fit, and is kept as it is
        coding, codes = _choose(found)
    missed = ~_same_bits(_restore(coding, codes), found)
    exceptions = tuple((int(at[i]), float(found[i])) for i in np.flatnonzero(missed))
    coding = msgspec.structs.replace(coding, exceptions=exceptions)
    return coding, _hold(codes[~missed], at[~missed], len(numbers))


def from_codes(coding: Coding, codes: IntArray) -> FloatArray:
    """Return the numbers (n,) that the codes (n,) stand for."""
    numbers = _restore(coding, codes)
    for position, number in coding.exceptions:
        numbers[position] = number
    return numbers


def _choose(found: FloatArray) -> tuple[Coding, IntArray]:
    decimals = _fewest_decimals(found)
    candidates = [] if decimals is None else [_multiples(found, decimals)]
    unit = 0.0 if decimals is None else candidates[0][0].multiple * 10.0**-decimals
    for step in KNOWN_STEPS:
        if step > unit * 1.000001:
            coding = Coding(step, decimals)
            codes = _whole(found / step)
            if _fits(coding, codes, found):
                return coding, codes
    if candidates:
        return candidates[0]
    return Coding(None, None), found.view(np.int64)


def _fewest_decimals(found: FloatArray) -> int | None:
    few = found[:32]
    for decimals in range(MOST_DECIMALS + 1):
        coding = Coding(None, decimals)
        if 2 * _missed(coding, _whole(few * 10.0**decimals), few) > len(few):
            continue  # most of a few do not fit: no need to try all
        if _fits(coding, _whole(found * 10.0**decimals), found):
            return decimals
    return None


def _multiples(found: FloatArray, decimals: int) -> tuple[Coding, IntArray]:
    """Divide whole numbers of the last decimal by what they all share."""
    whole = _whole(found * 10.0**decimals)
    fits = _same_bits(_restore(Coding(None, decimals), whole), found)
    first = int(whole[fits][0])
    multiple = max(1, int(np.gcd.reduce(whole[fits] - first)))
    offset = first % multiple
    return Coding(None, decimals, multiple, offset), (whole - offset) // multiple


def _restore(coding: Coding, codes: IntArray) -> FloatArray:
    if coding.decimals is None and coding.step is None:
        return codes.view(np.float64).copy()
    whole = (codes * coding.multiple + coding.offset).astype(np.float64)
    if coding.decimals is None:
        return whole * (coding.step or 1.0)
    ten = 10.0**coding.decimals
    if coding.step is None:
        return whole / ten
    return np.rint(whole * coding.step * ten) / ten


def _fits(coding: Coding, codes: IntArray, found: FloatArray) -> bool:
    return _missed(coding, codes, found) * EXCEPTIONS_SHARE <= len(found)


def _missed(coding: Coding, codes: IntArray, found: FloatArray) -> int:
    return int(np.count_nonzero(~_same_bits(_restore(coding, codes), found)))


def _same_bits(left: FloatArray, right: FloatArray) -> BoolArray:
    same: BoolArray = left.view(np.int64) == right.view(np.int64)
    return same


def _whole(numbers: FloatArray) -> IntArray:
    """Round to whole numbers; what is too large or no number becomes 0, which then does not fit."""
    sane = np.abs(numbers) < MOST_WHOLE
    return np.rint(np.where(sane, numbers, 0.0)).astype(np.int64)


def _hold(codes: IntArray, at: IntArray, count: int) -> IntArray:
    """Spread codes known at some positions over all, each until the next; the first also backwards."""
    latest = np.searchsorted(at, np.arange(count), side="right") - 1
    return codes[np.maximum(latest, 0)]
