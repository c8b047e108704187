"""How readings along the flame's path fit a story."""

import numpy as np
import pytest

from monitor.engine.limits import LETTER_MISFIT
from monitor.engine.misfit import misfit, rises

PATH = np.arange(5)


def test_a_kiln_that_cools_along_the_flame_fits() -> None:
    """A fifth or a quarter less from place to place."""
    assert misfit(rises(np.array([900.0, 740.0, 600.0, 490.0, 400.0])), PATH) < 0.1


@pytest.mark.parametrize("which", range(5))
@pytest.mark.parametrize("times", [4.5, 1 / 5.5])
def test_a_reading_off_by_a_wrong_letter_does_not_fit(which: int, times: float) -> None:
    """Noble for base metal, or base for noble, at any place."""
    celsius = np.array([450.0, 360.0, 300.0, 250.0, 210.0])
    celsius[which] = 25.0 + times * (celsius[which] - 25.0)

    assert misfit(rises(celsius), PATH) > LETTER_MISFIT


def test_one_place_should_read_alike() -> None:
    """Two at the back, 3 degC apart, fit; one at half of the other does not."""
    path = np.array([1, 3, 3])

    assert misfit(rises(np.array([500.0, 400.0, 397.0])), path) < 0.1
    assert misfit(rises(np.array([500.0, 400.0, 120.0])), path) > LETTER_MISFIT


def test_a_cold_kiln_and_a_lone_sensor_fit() -> None:
    """At the temperature of the air nothing can be said, nor of one sensor."""
    assert misfit(rises(np.array([24.0, 31.0, 25.0, 22.0, 28.0])), PATH) < LETTER_MISFIT
    assert misfit(rises(np.array([900.0])), PATH[:1]) == 0.0


def test_a_reading_beyond_its_letter_is_hotter_than_any_kiln() -> None:
    """It counts as a number, so that the rest can be judged."""
    assert np.isfinite(rises(np.array([np.inf]))).all()


def test_a_place_without_a_sensor_is_a_longer_step() -> None:
    """From firebox to back it may fall three times as far as to the next place."""
    celsius = np.array([425.0, 215.0])

    assert misfit(rises(celsius), np.array([0, 3])) < 0.1 < misfit(rises(celsius), np.array([0, 1]))
