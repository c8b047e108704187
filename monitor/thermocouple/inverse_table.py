"""The inverse of a reference function as a table of parabolas, built once for each letter that is used.

A cell is a short span of emf; in it the temperature is constant + linear u + square u**2 with u the emf plus a shift
that makes it positive. Each parabola meets the reference function's own inverse, solved by Newton's method, at both
ends and the middle of its cell. Cells are short where the curve bends, at the cold end: every octave of u holds the
same number of them. So the leading bits of u as a floating point number are the number of its cell.

Cells begin where one piece of the function ends and the next begins, and each follows one piece only: the pieces do not
quite meet (type J leaves a gap of 7.5e-11 V at 760 degC, a little more than 1e-6 degC).
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt

from monitor.model import FloatArray
from monitor.thermocouple.coefficients import Piece
from monitor.thermocouple.reference import (
    emf_from_temperature,
    emf_of_piece,
    pieces_of,
    range_of,
    slope_from_temperature,
    slope_of_piece,
)

INVERSE_LOW_C = {"B": 250.0}
"""Where an inverse starts when not with the reference function, degC (NIST SRD 60).

Type B is not monotone near 0 to 50 degC and weak up to 250 degC: the published inverse starts there, so does this one.
"""

CELL_BITS = {"E": 10, "J": 10, "R": 11, "S": 11}
"""Two to this power is the number of cells in an octave; chosen so that no letter errs by more than 4e-7 degC."""
CELL_BITS_DEFAULT = 9

MANTISSA_BITS = 52  # of IEEE 754 binary64
EDGE_C = 1e-5  # degC from the ends within which rounding could step over them
NEWTON_STEPS = 5  # from a start within 0.1 degC the third already stands still, also at -270 degC

Cells = npt.NDArray[np.uint64]


@dataclass(frozen=True, slots=True, eq=False)
class InverseTable:
    """One letter's inverse.

    Volts: `emf_bottom` is the lowest emf of the reference function, the inverse exists from `emf_low` to `emf_high`
    and needs no care at its ends from `emf_safe_low` to `emf_safe_high`. The cell of an emf is the bits of
    (emf + `shift_volts`) without the last `dropped_bits`, counted from `first_cell`.
    """

    low_c: float
    high_c: float
    emf_bottom: float
    emf_low: float
    emf_high: float
    emf_safe_low: float
    emf_safe_high: float
    shift_volts: float
    dropped_bits: np.uint64
    first_cell: np.uint64
    constant: FloatArray
    linear: FloatArray
    square: FloatArray


@cache
def inverse_table(letter: str) -> InverseTable:
    """Build the table of a letter, at most 0.35 MB and a few hundredths of a second, once."""
    low_c, high_c = INVERSE_LOW_C.get(letter, range_of(letter)[0]), range_of(letter)[1]
    emf_low, emf_high = emf_from_temperature(letter, low_c), emf_from_temperature(letter, high_c)
    dropped_bits = np.uint64(MANTISSA_BITS - CELL_BITS.get(letter, CELL_BITS_DEFAULT))
    shift_volts = _shift_volts(letter, low_c, dropped_bits)
    first_cell, last_cell = _cell_of(np.array([emf_low, emf_high]) + shift_volts, dropped_bits)
    edges = _edge_of(np.arange(first_cell, last_cell + np.uint64(2), dtype=np.uint64), dropped_bits)
    nodes = np.stack([edges[:-1], (edges[:-1] + edges[1:]) / 2.0, edges[1:]])
    constant, linear, square = _parabolas(nodes, _solve(letter, nodes - shift_volts))
    return InverseTable(
        low_c=low_c,
        high_c=high_c,
        emf_bottom=float(emf_from_temperature(letter, np.linspace(range_of(letter)[0], low_c, 2501)).min()),
        emf_low=emf_low,
        emf_high=emf_high,
        emf_safe_low=emf_low + EDGE_C * slope_from_temperature(letter, low_c),
        emf_safe_high=emf_high - EDGE_C * slope_from_temperature(letter, high_c),
        shift_volts=shift_volts,
        dropped_bits=dropped_bits,
        first_cell=first_cell,
        constant=constant,
        linear=linear,
        square=square,
    )


def _shift_volts(letter: str, low_c: float, dropped_bits: np.uint64) -> float:
    """Return what to add to an emf so that cells shrink towards the cold end and one begins at the last break.

    At the cold end emf runs like a parabola whose vertex, where the slope would be nothing, lies slope**2 / (2 bend)
    below the end; counted from that vertex temperature goes with the square root, and equal octaves serve it equally.
    """
    slope, next_slope = slope_from_temperature(letter, np.array([low_c, low_c + 0.01]))
    bend = (next_slope - slope) / 0.01
    from_vertex = float(slope**2 / (2.0 * abs(bend)))
    shift_volts = from_vertex - emf_from_temperature(letter, low_c)
    last_break = _breaks(letter)[-1]
    cell = _cell_of(np.array([last_break + shift_volts]), dropped_bits)
    return float(_edge_of(cell + np.uint64(1), dropped_bits)[0]) - last_break


def _breaks(letter: str) -> list[float]:
    """Return the emf in volts half way between the ends of each two neighbouring pieces."""
    breaks = []
    for colder, hotter in zip(pieces_of(letter)[:-1], pieces_of(letter)[1:], strict=True):
        at = np.array([colder.high_c])
        breaks.append(float(emf_of_piece(colder, at)[0] + emf_of_piece(hotter, at)[0]) / 2.0)
    return breaks


def _cell_of(place_volts: FloatArray, dropped_bits: np.uint64) -> Cells:
    return place_volts.view(np.uint64) >> dropped_bits


def _edge_of(cell: Cells, dropped_bits: np.uint64) -> FloatArray:
    """Return the place in volts at which a cell begins."""
    return (cell << dropped_bits).view(np.float64)


def _solve(letter: str, emf_volts: FloatArray) -> FloatArray:
    """Return the temperatures in degC of the nodes (3, cells), every cell by the one piece its middle belongs to."""
    celsius = np.empty_like(emf_volts)
    piece_number = np.searchsorted(_breaks(letter), emf_volts[1])
    for number, piece in enumerate(pieces_of(letter)):
        columns = piece_number == number
        celsius[:, columns] = _solve_piece(piece, emf_volts[:, columns].reshape(-1)).reshape(3, -1)
    return celsius


def _solve_piece(piece: Piece, emf_volts: FloatArray) -> FloatArray:
    """Solve one piece for temperature in degC at `emf_volts` (n,) by Newton's method, from a coarse table."""
    coarse_c = np.linspace(piece.low_c, piece.high_c, 1025)
    celsius = np.interp(emf_volts, emf_of_piece(piece, coarse_c), coarse_c)
    for _ in range(NEWTON_STEPS):
        celsius -= (emf_of_piece(piece, celsius) - emf_volts) / slope_of_piece(piece, celsius)
    return celsius


def _parabolas(u: FloatArray, celsius: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return constant, linear and square term of the parabolas through three points each, `u` and `celsius` (3, n)."""
    first = (celsius[1] - celsius[0]) / (u[1] - u[0])
    second = (celsius[2] - celsius[1]) / (u[2] - u[1])
    square = (second - first) / (u[2] - u[0])
    linear = first - square * (u[0] + u[1])
    constant = celsius[0] - u[0] * (first - square * u[1])
    return constant, linear, square
