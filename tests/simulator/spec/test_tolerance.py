"""Draws inside tolerance classes."""

import numpy as np
import pytest

from monitor.thermocouple.tolerance import CLASSES, limit_c
from simulator.spec.tolerance import draw_shares, share_of_class


@pytest.mark.parametrize(
    ("letter", "tolerance_class", "share"), [("K", 1, 0.004), ("K", 2, 0.0075), ("S", 1, 1 / 1100), ("S", 2, 0.0025)]
)
def test_share_is_the_smallest_that_the_class_allows(letter: str, tolerance_class: int, share: float) -> None:
    """IEC 60584-1:2013: 0.4 and 0.75 percent for K; for S 1 degC up to 1100 degC and 0.25 percent."""
    assert share_of_class(letter, tolerance_class) == pytest.approx(share, rel=1e-3)


def test_every_draw_stays_inside_its_class_at_every_temperature() -> None:
    """All letters and classes, many seeds, 1 to 1700 degC; and draws use most of what they may."""
    kinds = [(letter, c) for letter, classes in CLASSES.items() for c in classes]
    letters, classes = [k[0] for k in kinds], [k[1] for k in kinds]
    celsius = np.arange(1.0, 1701.0)
    limits = np.stack([limit_c(letter, c, celsius) for letter, c in kinds])
    drawn = np.stack([draw_shares(letters, classes, np.random.default_rng([s, 10])) for s in range(200)])
    off_c = np.abs(drawn).max(axis=0)[:, None] * celsius

    assert np.all(off_c <= limits)
    assert np.all(np.abs(drawn).max(axis=0) > 0.9 * np.array([share_of_class(*k) for k in kinds]))


def test_seed_decides_the_draw() -> None:
    """Same seed, same probes."""
    one, same, other = (draw_shares(["K"], [1], np.random.default_rng([s, 10])) for s in (1, 1, 2))

    assert one == same
    assert one != other
