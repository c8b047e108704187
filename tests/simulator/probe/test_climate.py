"""The shed's weather."""

import numpy as np

from simulator.probe.climate import head_c, shed_c, terminal_c
from simulator.spec.kiln_file import load_kiln

SPEC = load_kiln("demo")


def test_shed_is_warmest_in_the_afternoon_and_coldest_before_dawn() -> None:
    """A day's swing is twice the kiln file's, highest at 15:00, lowest at 03:00 UTC."""
    day = shed_c(SPEC, np.arange(0.0, 86400.0, 600.0))

    assert np.argmax(day) == 15 * 6
    assert np.argmin(day) == 3 * 6
    assert np.isclose(np.ptp(day), 2.0 * SPEC.shed_swing_c)
    assert np.isclose(day.mean(), SPEC.shed_c)


def test_terminals_are_warmer_beside_a_hot_kiln() -> None:
    """At 1200 degC by 8 degC, cold not at all."""
    np.testing.assert_allclose(terminal_c(np.full(2, 14.0), np.array([0.0, 1200.0])), [14.0, 22.0])


def test_each_head_is_warmer_by_its_own_rise() -> None:
    """Beside a zone at 1200 degC by what the kiln file says, beside one at 600 by half."""
    heads = head_c(np.full(2, 14.0), np.array([[1200.0, 600.0], [0.0, 1200.0]]), [30.0, 20.0])

    np.testing.assert_allclose(heads, [[44.0, 24.0], [14.0, 34.0]])
