"""The table of parabolas: cells, breaks, size."""

import numpy as np
import pytest

from monitor.thermocouple.coefficients import PIECES
from monitor.thermocouple.inverse_table import InverseTable, inverse_table
from monitor.thermocouple.reference import emf_from_temperature, emf_of_piece, pieces_of, range_of

LETTERS = list(PIECES)
MOST_BYTES = 350_000


def cell_of(table: InverseTable, emf_volts: float) -> int:
    """Return the number of the cell that an emf falls in."""
    place = np.array([emf_volts + table.shift_volts])
    return int((place.view(np.uint64) >> table.dropped_bits)[0] - table.first_cell)


@pytest.mark.parametrize("letter", LETTERS)
def test_the_table_is_small(letter: str):
    """No letter takes more than 0.35 MB, and a letter has one table only."""
    table = inverse_table(letter)

    assert table.constant.nbytes + table.linear.nbytes + table.square.nbytes <= MOST_BYTES
    assert inverse_table(letter) is table


@pytest.mark.parametrize("letter", LETTERS)
def test_every_emf_of_the_range_has_a_cell(letter: str):
    """The cells run from the lowest to the highest emf, none to spare."""
    table = inverse_table(letter)

    assert cell_of(table, table.emf_low) == 0
    assert cell_of(table, table.emf_high) == table.constant.size - 1


@pytest.mark.parametrize("letter", LETTERS)
def test_the_last_break_lies_between_two_cells(letter: str):
    """The ends of two pieces that do not quite meet belong to different cells, the colder to the lower one.

    A nanovolt on either side, for where they overlap (type B) there is no emf between them.
    """
    table = inverse_table(letter)
    colder, hotter = pieces_of(letter)[-2:]
    at = np.array([colder.high_c])

    below = cell_of(table, float(emf_of_piece(colder, at)[0]) - 1e-9)
    above = cell_of(table, float(emf_of_piece(hotter, at)[0]) + 1e-9)

    assert above == below + 1


def test_the_gap_of_type_j_is_a_border_between_cells():
    """The two pieces end 7.5e-11 V apart at 760 degC; either end has its own cell."""
    table = inverse_table("J")
    colder, hotter = pieces_of("J")
    low = float(emf_of_piece(colder, np.array([760.0]))[0])
    high = float(emf_of_piece(hotter, np.array([760.0]))[0])

    assert high - low == pytest.approx(7.5e-11, abs=0.1e-11)
    assert cell_of(table, high) == cell_of(table, low) + 1


@pytest.mark.parametrize("letter", LETTERS)
def test_neighbouring_parabolas_meet_within_a_millionth_of_a_degree(letter: str):
    """At the border of two cells both give the same temperature, but for the pieces' own gaps (type J: 1.2e-6)."""
    table = inverse_table(letter)
    cells = np.arange(table.first_cell, table.first_cell + np.uint64(table.constant.size), dtype=np.uint64)
    border = (cells[1:] << table.dropped_bits).view(np.float64)

    left = table.constant[:-1] + border * (table.linear[:-1] + border * table.square[:-1])
    right = table.constant[1:] + border * (table.linear[1:] + border * table.square[1:])

    step_c = np.abs(left - right)
    assert step_c.max() < 1.3e-6
    assert np.count_nonzero(step_c > 1e-7) <= len(pieces_of(letter)) - 1


def test_type_b_starts_at_250_degc():
    """Type B has no inverse below 250 degC (0.291 mV, NIST SRD 60); its lowest emf, -2.6 microvolts, is at 21 degC."""
    table = inverse_table("B")

    assert table.low_c == 250.0
    assert table.emf_low == pytest.approx(0.291e-3, abs=0.5e-6)
    assert table.emf_bottom == pytest.approx(emf_from_temperature("B", 21.0), abs=1e-9)
    assert table.emf_bottom == pytest.approx(-2.6e-6, abs=0.05e-6)


@pytest.mark.parametrize("letter", [letter for letter in LETTERS if letter != "B"])
def test_other_letters_start_where_their_function_does(letter: str):
    """There the lowest emf of the inverse is the lowest of the reference function."""
    table = inverse_table(letter)

    assert (table.low_c, table.high_c) == range_of(letter)
    assert table.emf_bottom == table.emf_low
