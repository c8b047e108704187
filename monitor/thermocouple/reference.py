"""Emf from temperature: the reference functions of IEC 60584-1 (ITS-90) for types B E J K N R S T, and their slopes.

Scalars in give floats out, arrays give arrays of the same shape. Outside a function's range there is no emf: NaN.
The way back is in `inverse.py`.
"""

from typing import overload

import numpy as np

from monitor.model import FloatArray
from monitor.thermocouple.coefficients import PIECES, Piece

VOLTS_PER_MILLIVOLT = 1e-3


@overload
def emf_from_temperature(letter: str, celsius: float) -> float: ...
@overload
def emf_from_temperature(letter: str, celsius: FloatArray) -> FloatArray: ...
def emf_from_temperature(letter: str, celsius: float | FloatArray) -> float | FloatArray:
    """Return the emf in volts at `celsius` (degC), reference junction at 0 degC; NaN outside the range and for NaN."""
    return _over_pieces(letter, celsius, slope=False)


@overload
def slope_from_temperature(letter: str, celsius: float) -> float: ...
@overload
def slope_from_temperature(letter: str, celsius: FloatArray) -> FloatArray: ...
def slope_from_temperature(letter: str, celsius: float | FloatArray) -> float | FloatArray:
    """Return the Seebeck coefficient in volts per degC at `celsius`; NaN outside the range and for NaN."""
    return _over_pieces(letter, celsius, slope=True)


def pieces_of(letter: str) -> tuple[Piece, ...]:
    """Return the pieces of a letter's reference function, from cold to hot.

    Raises:
        ValueError: There is no such letter.
    """
    if letter not in PIECES:
        raise ValueError(f"no reference function for type {letter!r}: allowed are {', '.join(PIECES)}")
    return PIECES[letter]


def range_of(letter: str) -> tuple[float, float]:
    """Return the lowest and highest temperature in degC that the letter's reference function covers."""
    pieces = pieces_of(letter)
    return pieces[0].low_c, pieces[-1].high_c


def emf_of_piece(piece: Piece, celsius: FloatArray) -> FloatArray:
    """Return volts by one piece at `celsius` (n,), also beyond its ends."""
    millivolts = _horner(piece.millivolts, celsius)
    if piece.bump is not None:
        millivolts += _bump(piece.bump, celsius)
    return millivolts * VOLTS_PER_MILLIVOLT


def slope_of_piece(piece: Piece, celsius: FloatArray) -> FloatArray:
    """Return volts per degC by one piece at `celsius` (n,), also beyond its ends."""
    derivative = tuple(power * c for power, c in enumerate(piece.millivolts))[1:]
    millivolts_per_c = _horner(derivative, celsius)
    if piece.bump is not None:
        _, steepness, centre_c = piece.bump
        millivolts_per_c += _bump(piece.bump, celsius) * (2.0 * steepness) * (celsius - centre_c)
    return millivolts_per_c * VOLTS_PER_MILLIVOLT


def _over_pieces(letter: str, celsius: float | FloatArray, *, slope: bool) -> float | FloatArray:
    """Evaluate each temperature by the piece it belongs to; a temperature between two belongs to the colder."""
    pieces = pieces_of(letter)
    evaluate = slope_of_piece if slope else emf_of_piece
    asked = np.ascontiguousarray(celsius, dtype=np.float64)
    flat = asked.reshape(-1)
    answer = np.full(flat.shape, np.nan)
    for number, piece in enumerate(pieces):
        above = flat >= piece.low_c if number == 0 else flat > piece.low_c
        inside = above & (flat <= piece.high_c)
        if inside.any():
            answer[inside] = evaluate(piece, flat[inside])
    return float(answer[0]) if np.ndim(celsius) == 0 else answer.reshape(asked.shape)


def _horner(coefficients: tuple[float, ...], celsius: FloatArray) -> FloatArray:
    total = np.full(celsius.shape, coefficients[-1])
    for coefficient in reversed(coefficients[:-1]):
        total *= celsius
        total += coefficient
    return total


def _bump(bump: tuple[float, float, float], celsius: FloatArray) -> FloatArray:
    """Return a0 exp(a1 (t - a2)**2) in millivolts."""
    height, steepness, centre_c = bump
    # a new array, not in place: NumPy then takes one and the same code for exp whatever the length
    return height * np.exp(steepness * (celsius - centre_c) ** 2)
