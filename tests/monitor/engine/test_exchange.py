"""Two inputs exchanged: who reads whose emf."""

import numpy as np

from monitor.engine.exchange import exchanged_with

HELD = np.tile([9.6e-3, 41.3e-3, 39.0e-3], (1, 3, 1))
"""1000 degC of type S, 1000 and 944 of type K (from memory, to a tenth of a millivolt)."""


def test_two_that_read_each_others_emf_are_exchanged() -> None:
    """The first two have changed places; the third stayed."""
    now = np.array([[41.25e-3, 9.62e-3, 39.0e-3]])

    assert exchanged_with(HELD, now, np.array([[True, True, False]])).tolist() == [[1, 0, -1]]


def test_one_of_the_two_may_be_silent() -> None:
    """An emf of type K is beyond a converter set for type S, which then has none to give."""
    now = np.array([[np.nan, 9.62e-3, 39.0e-3]])

    assert exchanged_with(HELD, now, np.array([[False, True, False]])).tolist() == [[-1, 0, -1]]


def test_nobody_is_exchanged_with_one_that_stayed() -> None:
    """A jump to what another reads, while that one goes on reading it, is a jump and no more."""
    now = np.array([[41.25e-3, 41.3e-3, 39.0e-3]])

    assert exchanged_with(HELD, now, np.array([[True, False, False]])).tolist() == [[-1, -1, -1]]


def test_two_that_read_alike_cannot_be_told_apart() -> None:
    """A tenth of what a converter's noise and the fire do in a minute says nothing."""
    held = np.tile([9.60e-3, 9.62e-3], (1, 2, 1))

    assert exchanged_with(held, np.array([[9.62e-3, 9.60e-3]]), np.array([[True, True]])).tolist() == [[-1, -1]]
