"""Arithmetic on one-minute means, worked by hand."""

import numpy as np
import pytest

from simulator.truth.windows import centred_mean, centred_slope_c_h, lasting, stretches, trailing_high


def _on(pattern: str) -> np.ndarray:
    """Return where `pattern` has a 1, one letter a minute."""
    return np.array([c == "1" for c in pattern])


def test_centred_mean_reaches_equally_far_to_both_sides() -> None:
    """A window of 2 min is three minutes' means; at the ends it is cut off."""
    series = np.array([0.0, 3.0, 6.0, 0.0, 0.0])

    np.testing.assert_allclose(centred_mean(series, np.full(5, 1.0)), [1.5, 3.0, 3.0, 2.0, 0.0])


def test_centred_mean_may_have_another_window_each_minute_and_takes_columns() -> None:
    """Half a minute to either side is the minute itself; each column is averaged by itself."""
    series = np.array([[0.0, 1.0], [3.0, 1.0], [6.0, 1.0]])

    np.testing.assert_allclose(centred_mean(series, np.array([0.5, 1.9, 2.0])), [[0.0, 1.0], [3.0, 1.0], [3.0, 1.0]])


def test_slope_of_a_straight_line_is_its_own_everywhere() -> None:
    """A quarter of a degree a minute is 15 degC/h, at the ends too."""
    np.testing.assert_allclose(centred_slope_c_h(800.0 + 0.25 * np.arange(60.0), np.full(60, 10.0)), 15.0)


def test_slope_is_the_least_squares_one() -> None:
    """Against NumPy's own fit of a line, over 21 min of a made-up series."""
    series = 900.0 + np.cumsum(np.random.default_rng(3).normal(0.3, 2.0, 21))
    expected = np.polyfit(np.arange(21.0), series, 1)[0] * 60.0

    assert centred_slope_c_h(series, np.full(21, 10.0))[10] == pytest.approx(expected)


def test_nothing_makes_nothing() -> None:
    """A recording that begins when the kiln is closed up has no means, slopes and highs to be judged."""
    nothing = np.zeros(0)

    assert len(centred_mean(nothing, nothing)) == 0
    assert len(centred_slope_c_h(nothing, nothing)) == 0
    assert len(trailing_high(nothing, 30)) == 0


def test_trailing_high_looks_back_so_far_and_no_further() -> None:
    """A high is seen for the two minutes after it."""
    np.testing.assert_allclose(trailing_high(np.array([5.0, 1.0, 2.0, 0.0, 1.0]), 2), [5.0, 5.0, 5.0, 2.0, 2.0])


def test_stretches_are_told_by_first_and_first_after() -> None:
    """One at each end and one in between."""
    np.testing.assert_array_equal(stretches(_on("1100101")), [[0, 2], [4, 5], [6, 7]])


@pytest.mark.parametrize(
    ("pattern", "result"),
    [
        ("0111001110", "0111111110"),  # a break of 2 min is under 3: closed
        ("0111000111", "0111000111"),  # a break of 3 min is not
        ("0110000110", "0000000000"),  # what is left is too short
        ("0110011000", "0111111000"),  # closed first, then long enough
        ("0000000000", "0000000000"),
    ],
)
def test_breaks_are_closed_before_the_length_is_judged(pattern: str, result: str) -> None:
    """Breaks under 3 min closed, then 3 min at least."""
    np.testing.assert_array_equal(lasting(_on(pattern), close_min=3, least_min=3), _on(result))
