"""Slopes, checked against SciPy and published examples."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import linregress, theilslopes

from monitor.engine.slopes import least_squares_slope, sen_slope

GOLDEN = Path(__file__).parents[2] / "golden" / "sen_examples.csv"
"""A: P. K. Sen, J. Am. Stat. Assoc. 63 (1968) 1379. B: M. Hollander, D. A. Wolfe, E. Chicken, Nonparametric Statistical
Methods, example 9.1."""

EXAMPLES = [row.split(",")[:3] for row in GOLDEN.read_text().splitlines() if row[:2] in ("A,", "B,")]

series = st.lists(st.floats(-2000.0, 2000.0), min_size=2, max_size=25)


@pytest.mark.parametrize(("example", "points", "slope"), [("A", 7, 4.0), ("B", 5, -0.05625)])
def test_sen_slope_gives_published_values(example: str, points: int, slope: float) -> None:
    """Both published examples come out to rounding."""
    x, y = np.array([[float(t), float(y)] for name, t, y in EXAMPLES if name == example]).T

    assert len(x) == points
    assert sen_slope(x, y) == pytest.approx(slope, abs=1e-12)


@given(series)
def test_sen_slope_agrees_with_scipy(y: list[float]) -> None:
    """The median of pairwise slopes is that of scipy.stats.theilslopes."""
    x = np.arange(len(y)) / 12.0

    assert sen_slope(x, np.array(y)) == pytest.approx(theilslopes(y, x).slope, rel=1e-9, abs=1e-6)


@given(series)
def test_least_squares_slope_agrees_with_scipy(y: list[float]) -> None:
    """The slope is that of scipy.stats.linregress."""
    x = np.arange(len(y)) / 12.0

    assert least_squares_slope(x, np.array(y)) == pytest.approx(linregress(x, y).slope, rel=1e-9, abs=1e-6)


@given(series.filter(lambda y: len(y) >= 5), st.sets(st.integers(0, 24), min_size=2, max_size=20))
def test_holes_are_left_out(y: list[float], kept: set[int]) -> None:
    """With NaN in places the slopes are those of the points that are there."""
    x, full = np.arange(len(y)) / 12.0, np.array(y)
    there = np.isin(np.arange(len(y)), list(kept))
    if there.sum() < 2:
        there[:2] = True
    holed = np.where(there, full, np.nan)

    assert least_squares_slope(x, holed) == pytest.approx(linregress(x[there], full[there]).slope, rel=1e-9, abs=1e-6)
    assert sen_slope(x, holed) == pytest.approx(theilslopes(full[there], x[there]).slope, rel=1e-9, abs=1e-6)


@pytest.mark.parametrize("y", [[np.nan, np.nan, np.nan], [np.nan, 7.0, np.nan]])
def test_fewer_than_two_points_have_no_slope(y: list[float]) -> None:
    """Nothing, or one point alone, gives NaN and no warning."""
    x = np.arange(3.0)

    assert np.isnan(least_squares_slope(x, np.array(y)))
    assert np.isnan(sen_slope(x, np.array(y)))


def test_many_series_are_taken_at_once() -> None:
    """Leading axes are kept, each series by itself."""
    x = np.arange(5.0)
    y = np.stack([x * rate for rate in range(6)]).reshape(2, 3, 5)

    assert least_squares_slope(x, y).tolist() == [[0.0, 1.0, 2.0], [3.0, 4.0, 5.0]]
    assert sen_slope(x, y).tolist() == [[0.0, 1.0, 2.0], [3.0, 4.0, 5.0]]
