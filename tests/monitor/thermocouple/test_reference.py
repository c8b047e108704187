"""Emf from temperature, checked against printed tables and two other libraries."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
import thermocouple_its90
from hypothesis import given, settings
from hypothesis import strategies as st
from thermocouples_reference import thermocouples

from monitor.thermocouple.coefficients import PIECES
from monitor.thermocouple.reference import (
    emf_from_temperature,
    emf_of_piece,
    pieces_of,
    range_of,
    slope_from_temperature,
    slope_of_piece,
)

GOLDEN = Path(__file__).parents[2] / "golden" / "its90_sample.csv"
HALF_A_PRINTED_STEP_MV = 0.0005
LETTERS = list(PIECES)


def printed_rows() -> list[tuple[str, float, float]]:
    """Return (letter, degC, mV) as NIST SRD 60 prints them."""
    lines = [line for line in GOLDEN.read_text().splitlines() if not line.startswith("#")]
    return [(r["type"], float(r["degC"]), float(r["mV"])) for r in csv.DictReader(lines)]


def dense_grid(letter: str, count: int = 5001) -> np.ndarray:
    """Return temperatures over the whole range, its ends, breaks and their neighbours."""
    low_c, high_c = range_of(letter)
    ends = np.array([e for p in pieces_of(letter) for e in (p.low_c, p.high_c)])
    grid = np.concatenate([np.linspace(low_c, high_c, count), ends, ends - 1e-6, ends + 1e-6])
    return np.unique(grid[(grid >= low_c) & (grid <= high_c)])


def test_the_printed_sample_is_whole():
    """The sample holds 61 rows of type K and 63 of type S."""
    letters = [letter for letter, _, _ in printed_rows()]

    assert (letters.count("K"), letters.count("S")) == (61, 63)


@pytest.mark.parametrize("letter", ["K", "S"])
def test_every_printed_row_is_met_within_half_a_printed_step(letter: str):
    """NIST SRD 60 prints emf to 0.001 mV."""
    rows = [(t, mv) for each, t, mv in printed_rows() if each == letter]
    celsius, millivolts = np.array(rows).T

    emf = emf_from_temperature(letter, celsius) * 1e3

    # 1e-9 mV for printed halves that binary numbers cannot hold
    assert np.abs(emf - millivolts).max() <= HALF_A_PRINTED_STEP_MV + 1e-9


@pytest.mark.parametrize("letter", LETTERS)
def test_emf_equals_the_library_thermocouple_its90(letter: str):
    """Same function, independently coded: equal but for rounding (and 3e-9 mV where two pieces meet)."""
    grid = dense_grid(letter)
    other = thermocouple_its90.get(letter)

    theirs = np.array([other.emf(t) for t in grid]) * 1e-3

    np.testing.assert_allclose(emf_from_temperature(letter, grid), theirs, rtol=0, atol=1e-13)


@pytest.mark.parametrize("letter", LETTERS)
def test_emf_equals_the_library_thermocouples_reference(letter: str):
    """A second library, coded by others; at a break it takes the hotter piece, off by up to 7.5e-11 V (type J).

    Its function object is called with an array: its own front end does not work with NumPy 2.
    """
    grid = dense_grid(letter)

    theirs = thermocouples[letter].func(grid) * 1e-3

    np.testing.assert_allclose(emf_from_temperature(letter, grid), theirs, rtol=0, atol=1e-10)
    off_break = ~np.isin(grid, [p.high_c for p in pieces_of(letter)])
    np.testing.assert_allclose(emf_from_temperature(letter, grid[off_break]), theirs[off_break], rtol=0, atol=1e-13)


@pytest.mark.parametrize("letter", LETTERS)
def test_slope_equals_the_library_thermocouple_its90(letter: str):
    """The slope is the derivative, in V/degC, as another library has it."""
    grid = dense_grid(letter, 501)
    other = thermocouple_its90.get(letter)

    theirs = np.array([other.seebeck(t) for t in grid]) * 1e-3

    np.testing.assert_allclose(slope_from_temperature(letter, grid), theirs, rtol=1e-6, atol=1e-13)


@pytest.mark.parametrize(
    ("letter", "celsius", "microvolts_per_c"),
    [
        ("K", 25.0, 40.5),
        ("K", 600.0, 42.5),
        ("K", 1000.0, 39.0),
        ("K", 1200.0, 36.5),
        ("S", 25.0, 6.0),
        ("S", 600.0, 10.2),
        ("S", 1000.0, 11.5),
        ("S", 1200.0, 12.0),
    ],
)
def test_slopes_are_those_of_the_tables(letter: str, celsius: float, microvolts_per_c: float):
    """Slopes read off the NIST SRD 60 tables, to the tenth of a microvolt."""
    assert slope_from_temperature(letter, celsius) * 1e6 == pytest.approx(microvolts_per_c, abs=0.06)


@pytest.mark.parametrize(
    ("celsius", "off_c", "within_c"), [(500, 0.9, 0.06), (800, 6.9, 0.06), (1200, -16, 0.6), (1300, -29, 0.6)]
)
def test_a_single_slope_would_be_far_off(celsius: float, off_c: float, within_c: float):
    """A converter that takes type K as 41.276 microvolts per degC is wrong by this much, cold junction at 25 degC.

    Worked out from the NIST SRD 60 tables; 41.276 is the slope that simple converters' data sheets give (from memory).
    """
    measured = emf_from_temperature("K", float(celsius)) - emf_from_temperature("K", 25.0)

    assert measured / 41.276e-6 + 25.0 - celsius == pytest.approx(off_c, abs=within_c)


@pytest.mark.parametrize("letter", LETTERS)
def test_outside_the_range_there_is_no_emf(letter: str):
    """Beyond either end, and for NaN and infinity, the answer is NaN; at the ends it is a number."""
    low_c, high_c = range_of(letter)
    outside = np.array([np.nextafter(low_c, -np.inf), np.nextafter(high_c, np.inf), np.nan, np.inf, -np.inf])

    assert np.isnan(emf_from_temperature(letter, outside)).all()
    assert np.isnan(slope_from_temperature(letter, outside)).all()
    assert np.isfinite(emf_from_temperature(letter, np.array([low_c, high_c]))).all()


def test_scalars_give_floats_and_arrays_keep_their_shape():
    """A float in is a float out, an array comes back in its own shape, an empty one empty."""
    grid = np.linspace(0.0, 1000.0, 12).reshape(3, 4)

    assert type(emf_from_temperature("K", 100.0)) is float
    assert type(slope_from_temperature("K", 100.0)) is float
    assert math.isnan(emf_from_temperature("K", math.nan))
    assert emf_from_temperature("S", grid).shape == (3, 4)
    assert emf_from_temperature("S", grid[:, 1])[2] == emf_from_temperature("S", grid[2, 1])
    assert emf_from_temperature("S", np.empty((0, 4))).shape == (0, 4)


@settings(deadline=None, max_examples=50)
@given(st.sampled_from(LETTERS), st.lists(st.floats(-300.0, 1900.0), min_size=1, max_size=40))
def test_a_value_does_not_depend_on_its_neighbours(letter: str, temperatures: list[float]):
    """Every temperature alone gives the very bits that it gives within an array."""
    together = emf_from_temperature(letter, np.array(temperatures))

    np.testing.assert_array_equal(together, [emf_from_temperature(letter, t) for t in temperatures])


def test_a_long_series_cut_in_odd_pieces_gives_the_same_bits():
    """The exponential of type K, too, is the same whatever the length and the place of the piece."""
    celsius = np.random.default_rng(1).uniform(-100.0, 1372.0, 4001)

    pieces = [emf_from_temperature("K", part) for part in np.split(celsius, [1, 4, 9, 1000, 1003, 3999])]

    np.testing.assert_array_equal(np.concatenate(pieces), emf_from_temperature("K", celsius))


@pytest.mark.parametrize("letter", LETTERS)
def test_slope_of_a_piece_is_its_difference_quotient(letter: str):
    """Also beyond the piece's own ends, where the inverse table asks for it."""
    for piece in pieces_of(letter):
        at = np.linspace(piece.low_c, piece.high_c, 9)[1:]

        quotient = (emf_of_piece(piece, at + 1e-3) - emf_of_piece(piece, at - 1e-3)) / 2e-3

        np.testing.assert_allclose(slope_of_piece(piece, at), quotient, rtol=1e-5, atol=1e-10)


def test_an_unknown_letter_is_named_with_what_is_allowed():
    """The message names the letter and all that exist."""
    with pytest.raises(ValueError, match=r"'X': allowed are B, E, J, K, N, R, S, T"):
        emf_from_temperature("X", 20.0)
