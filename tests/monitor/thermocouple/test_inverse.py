"""Temperature from emf: the round trip, what is out of range, and independence of how a series is cut."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
import thermocouple_its90
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.model import Status
from monitor.thermocouple.coefficients import PIECES
from monitor.thermocouple.inverse import BLOCK_VALUES, temperature_from_emf
from monitor.thermocouple.inverse_table import INVERSE_LOW_C
from monitor.thermocouple.reference import (
    emf_from_temperature,
    pieces_of,
    range_of,
    slope_from_temperature,
)

GOLDEN = Path(__file__).parents[2] / "golden" / "its90_sample.csv"
PUBLISHED_INVERSE = Path(__file__).parents[2] / "golden" / "its90_inverse.csv"
ROUND_TRIP_C = 1e-6
LETTERS = list(PIECES)


def inverse_range(letter: str) -> tuple[float, float]:
    """Return the range in degC over which emf has one temperature."""
    low_c, high_c = range_of(letter)
    return INVERSE_LOW_C.get(letter, low_c), high_c


def dense_grid(letter: str) -> np.ndarray:
    """Return 200,001 temperatures over the whole range, and denser ones at its ends and at every break."""
    low_c, high_c = inverse_range(letter)
    near = np.concatenate([np.linspace(-0.5, 0.5, 2001), np.linspace(-1e-5, 1e-5, 2001)])
    around = [c + near for p in pieces_of(letter) for c in (p.low_c, p.high_c)]
    grid = np.concatenate([np.linspace(low_c, high_c, 200_001), *around])
    return np.unique(grid[(grid >= low_c) & (grid <= high_c)])


@pytest.mark.parametrize("letter", LETTERS)
def test_temperature_to_emf_and_back_closes(letter: str):
    """Within 1e-6 degC over the whole range, ends and breaks included, every value OK."""
    celsius = dense_grid(letter)

    back, status = temperature_from_emf(letter, emf_from_temperature(letter, celsius))

    assert np.abs(back - celsius).max() <= ROUND_TRIP_C
    assert (status == Status.OK).all()


@pytest.mark.parametrize("letter", ["K", "S"])
def test_emf_to_temperature_and_back_closes(letter: str):
    """The emf that belongs to the temperature found is the one asked for, within 1e-6 degC times the slope there."""
    low, high = emf_from_temperature(letter, np.array(inverse_range(letter)))
    emf = np.linspace(low, high, 200_001)

    celsius, _ = temperature_from_emf(letter, emf)

    back = emf_from_temperature(letter, celsius)
    assert (np.abs(back - emf) / slope_from_temperature(letter, celsius)).max() <= ROUND_TRIP_C


@pytest.mark.parametrize("letter", LETTERS)
def test_the_answer_equals_the_library_thermocouple_its90(letter: str):
    """That library solves the same function by Newton's method, one value at a time."""
    low, high = emf_from_temperature(letter, np.array(inverse_range(letter)))
    emf = np.linspace(low, high, 202)[1:-1]
    other = thermocouple_its90.get(letter)

    theirs = np.array([other.temperature(e * 1e3) for e in emf])

    assert np.abs(temperature_from_emf(letter, emf)[0] - theirs).max() <= ROUND_TRIP_C


@pytest.mark.parametrize("letter", ["K", "S"])
def test_printed_emf_gives_the_printed_temperature(letter: str):
    """NIST SRD 60's printed rows, read backwards: off by no more than half a printed step over the slope."""
    lines = [line for line in GOLDEN.read_text().splitlines() if not line.startswith("#")]
    rows = [(float(r["degC"]), float(r["mV"])) for r in csv.DictReader(lines) if r["type"] == letter]
    printed_c, printed_mv = np.array(rows).T

    celsius, status = temperature_from_emf(letter, printed_mv * 1e-3)

    half_step_c = 0.5e-6 / slope_from_temperature(letter, printed_c)
    inside = printed_c > range_of(letter)[0]  # type S prints its coldest emf, -0.2356 mV, as -0.236: out of range
    np.testing.assert_array_equal(status, np.where(inside, Status.OK, Status.BELOW))
    assert (np.abs(celsius - printed_c)[inside] <= half_step_c[inside] * 1.02).all()  # the slope changes a little


@pytest.mark.parametrize(("letter", "segments"), [("K", 3), ("S", 4)])
def test_the_published_inverse_differs_by_its_published_error(letter: str, segments: int):
    """NIST SRD 60 gives an error band with each segment of its approximate inverse: the truth is within it."""
    lines = [line for line in PUBLISHED_INVERSE.read_text().splitlines() if not line.startswith("#")]
    rows = [row for row in csv.DictReader(lines) if row["type"] == letter]
    names = sorted({row["segment"] for row in rows})

    for name in names:
        segment = [row for row in rows if row["segment"] == name]
        millivolts = np.linspace(float(segment[0]["mV_low"]), float(segment[0]["mV_high"]), 2003)[1:-1]
        theirs = np.polynomial.Polynomial([float(row["value"]) for row in segment])(millivolts)
        off_c = theirs - temperature_from_emf(letter, millivolts * 1e-3)[0]

        assert off_c.min() >= float(segment[0]["published_error_low_C"])
        assert off_c.max() <= float(segment[0]["published_error_high_C"])
    assert len(names) == segments


@pytest.mark.parametrize("letter", LETTERS)
def test_out_of_range_is_a_status_and_no_number(letter: str):
    """Just beyond the hot end it is ABOVE, just beyond the cold end BELOW; the ends themselves are OK."""
    low_c, high_c = range_of(letter)
    high = emf_from_temperature(letter, high_c)
    low = emf_from_temperature(letter, low_c) if letter != "B" else -2.5850e-6  # type B: its minimum, at 21 degC
    asked = np.array([high, np.nextafter(high, 1.0), np.inf, np.nextafter(low, -1.0), -1.0, -np.inf])

    celsius, status = temperature_from_emf(letter, asked)

    assert celsius[0] == pytest.approx(high_c, abs=ROUND_TRIP_C)
    assert np.isnan(celsius[1:]).all()
    assert list(status) == [Status.OK, *[Status.ABOVE] * 2, *[Status.BELOW] * 3]


def test_an_answer_never_lies_outside_the_range():
    """At the very ends the number is the end, so that its emf exists again."""
    for letter in LETTERS:
        low_c, high_c = inverse_range(letter)
        ends = emf_from_temperature(letter, np.array([low_c, high_c]))

        celsius, _ = temperature_from_emf(letter, ends)

        assert low_c <= celsius[0] <= celsius[1] <= high_c


def test_leads_swapped_on_a_hot_probe_leave_the_table_of_type_k():
    """Below -6.458 mV type K has no temperature (NIST SRD 60)."""
    assert temperature_from_emf("K", -6.459e-3)[1] is Status.BELOW
    assert temperature_from_emf("K", -6.457e-3)[1] is Status.OK


def test_type_b_below_250_degc_is_undefined():
    """There the emf is not monotone: about zero volts is both 0 and 42 degC."""
    asked = emf_from_temperature("B", np.array([0.0, 21.0, 42.0, 100.0, 249.999, 250.0]))

    celsius, status = temperature_from_emf("B", asked)

    assert list(status[:5]) == [Status.UNDEFINED] * 5
    assert np.isnan(celsius[:5]).all()
    assert celsius[5] == pytest.approx(250.0, abs=ROUND_TRIP_C)
    assert status[5] == Status.OK
    assert abs(asked[2] - asked[0]) < 0.5e-6


def test_nan_stays_nan_among_good_values():
    """A missing value is ABSENT and leaves its neighbours alone."""
    celsius, status = temperature_from_emf("K", np.array([0.004096, np.nan, 0.008138]))

    assert list(status) == [Status.OK, Status.ABSENT, Status.OK]
    assert np.isnan(celsius[1])
    np.testing.assert_allclose(celsius[[0, 2]], [100.0, 200.0], atol=0.013)  # half a printed step of NIST SRD 60


def test_the_gap_of_type_j_at_760_is_bridged():
    """An emf between the two pieces, which no temperature has, reads 760 degC within a millionth or so."""
    low = emf_from_temperature("J", 760.0)
    high = emf_from_temperature("J", np.nextafter(760.0, 761.0))

    celsius, status = temperature_from_emf("J", np.linspace(low, high, 11))

    assert (status == Status.OK).all()
    np.testing.assert_allclose(celsius, 760.0, rtol=0, atol=1e-6)


@pytest.mark.parametrize(("true_c", "shown_c"), [(1000.0, 236.0), (1200.0, 294.0)])
def test_type_s_read_as_type_k_shows_a_quarter(true_c: float, shown_c: float):
    """The mark of a wrong letter, worked out from the NIST SRD 60 tables, both junctions against 0 degC."""
    celsius, _ = temperature_from_emf("K", emf_from_temperature("S", true_c))

    assert celsius == pytest.approx(shown_c, abs=0.5)


def test_scalars_give_a_float_and_a_status():
    """A float in gives (float, Status); NaN gives (NaN, ABSENT)."""
    celsius, status = temperature_from_emf("K", 0.0332751)
    missing_c, missing = temperature_from_emf("K", math.nan)

    assert (type(celsius), status) == (float, Status.OK)
    assert (math.isnan(missing_c), missing) == (True, Status.ABSENT)


def test_arrays_keep_their_shape():
    """Two dimensions, strides and emptiness included."""
    emf = np.linspace(0.0, 0.05, 24).reshape(6, 4)

    celsius, status = temperature_from_emf("K", emf)

    assert (celsius.shape, status.shape, status.dtype) == ((6, 4), (6, 4), np.uint8)
    np.testing.assert_array_equal(temperature_from_emf("K", emf[:, 2])[0], celsius[:, 2])
    assert temperature_from_emf("K", np.empty((0, 4)))[0].shape == (0, 4)


volts = st.one_of(st.floats(-0.012, 0.08), st.sampled_from([math.nan, math.inf, -math.inf, 0.0, -0.0, 5e-324, 1e300]))


@settings(deadline=None, max_examples=100)
@given(st.sampled_from(LETTERS), st.lists(volts, min_size=1, max_size=30), st.integers(0, 30))
def test_cutting_a_series_changes_no_bit(letter: str, emf: list[float], cut: int):
    """Whole, in two parts and one by one give the same numbers and statuses, whatever the neighbours are."""
    series = np.array(emf)
    whole = temperature_from_emf(letter, series)

    parts = [temperature_from_emf(letter, part) for part in (series[:cut], series[cut:])]
    single = [temperature_from_emf(letter, e) for e in emf]

    for column in (0, 1):
        np.testing.assert_array_equal(np.concatenate([p[column] for p in parts]), whole[column])
        np.testing.assert_array_equal([s[column] for s in single], whole[column])


@settings(deadline=None, max_examples=100)
@given(st.sampled_from(LETTERS), volts)
def test_a_number_comes_with_ok_and_only_with_ok(letter: str, emf: float):
    """The status tells whether there is a number, and a number lies inside the range."""
    celsius, status = temperature_from_emf(letter, emf)
    low_c, high_c = inverse_range(letter)

    assert (status is Status.OK) == (low_c <= celsius <= high_c)
    assert (status is not Status.OK) == math.isnan(celsius)


@pytest.mark.parametrize("letter", ["K", "S"])
def test_blocks_of_a_long_series_change_no_bit(letter: str):
    """A series of several cache-sized blocks, cut elsewhere, gives the same bits."""
    low, high = emf_from_temperature(letter, np.array(inverse_range(letter)))
    emf = np.random.default_rng(7).uniform(low - 1e-5, high + 1e-5, 2 * BLOCK_VALUES + 77)
    whole = temperature_from_emf(letter, emf)

    cuts = [5, BLOCK_VALUES - 1, BLOCK_VALUES + 3, 2 * BLOCK_VALUES + 1]
    parts = [temperature_from_emf(letter, part) for part in np.split(emf, cuts)]

    np.testing.assert_array_equal(np.concatenate([p[0] for p in parts]), whole[0])
    np.testing.assert_array_equal(np.concatenate([p[1] for p in parts]), whole[1])
