"""Correction points: linear between, constant beyond."""

import numpy as np

from monitor.thermocouple.correction import corrected

POINTS = ((0.0, 0.0), (1000.0, -3.0), (1200.0, 1.0))


def test_correction_is_linear_between_and_constant_beyond_its_points():
    """Worked by hand."""
    celsius = np.array([-50.0, 0.0, 500.0, 1000.0, 1100.0, 1200.0, 1350.0])

    np.testing.assert_allclose(
        corrected(celsius, POINTS), [-50.0, 0.0, 498.5, 997.0, 1099.0, 1201.0, 1351.0], rtol=0, atol=1e-9
    )


def test_one_point_is_an_offset():
    """A single point counts everywhere."""
    np.testing.assert_array_equal(corrected(np.array([0.0, 900.0]), ((500.0, 2.0),)), [2.0, 902.0])


def test_no_points_change_nothing_and_nan_stays_nan():
    """Without correction the numbers are untouched; where there is no number none is made."""
    celsius = np.array([20.0, np.nan])

    np.testing.assert_array_equal(corrected(celsius, ()), celsius)
    np.testing.assert_array_equal(np.isnan(corrected(celsius, POINTS)), [False, True])


def test_cutting_a_series_changes_no_bit():
    """One by one gives the same bits as all at once."""
    celsius = np.random.default_rng(3).uniform(-50.0, 1400.0, 500)

    single = [corrected(celsius[i : i + 1], POINTS)[0] for i in range(celsius.size)]

    np.testing.assert_array_equal(single, corrected(celsius, POINTS))
