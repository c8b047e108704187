"""When the next stoke is due."""

import numpy as np
import pytest

from monitor.engine.stoke_times import density, learn_interval, log_odds, new_times
from monitor.model import SLOT_S


def _after(intervals: list[float]) -> tuple[float, float, float]:
    """Return the interval learnt and the log odds at that interval and at half of it."""
    times = new_times(1)
    for interval in intervals:
        learn_interval(times, 0, interval)
    times.last[0] = 0.0
    due, half = log_odds(times, 0, np.array([intervals[-1], intervals[-1] / 2.0])).tolist()
    return float(times.interval_s[0]), due, half


def test_the_density_of_intervals_sums_to_one() -> None:
    """Numerically, over intervals from a hundredth to a hundred times the true one."""
    x = np.geomspace(0.01, 100.0, 20_000)

    assert np.trapezoid(density(x), x) == pytest.approx(1.0, abs=1e-3)


def test_a_steady_rhythm_is_learnt_and_makes_the_next_stoke_due() -> None:
    """Ten intervals of 5 min: the interval is known within 5 %, and a stoke is e squared times likelier then."""
    interval, due, half = _after([300.0] * 10)

    assert interval == pytest.approx(300.0, rel=0.05)
    assert due > half + 2.0


def test_missed_stokes_do_not_double_the_rhythm() -> None:
    """Among 5 min intervals every third one is twice as long: the rhythm stays 5 min."""
    interval, _, _ = _after([300.0, 290.0, 610.0, 305.0, 295.0, 600.0, 310.0, 300.0, 590.0, 300.0])

    assert interval == pytest.approx(300.0, rel=0.06)


def test_a_new_rhythm_is_followed_within_a_few_stokes() -> None:
    """From 8 to 4 min: known after six intervals."""
    interval, _, _ = _after([480.0] * 10 + [240.0] * 6)

    assert interval == pytest.approx(240.0, rel=0.06)


def test_before_the_first_stoke_every_moment_is_alike_and_after_a_lull_a_stoke_is_ever_less_likely() -> None:
    """The odds of one slot in an interval, or in the time without one; an interval beyond a lull teaches nothing."""
    times = new_times(1)
    flat = np.log(SLOT_S / times.interval_s[0])
    never = log_odds(times, 0, np.array([1000.0]))
    times.last[0] = 0.0
    chance = times.chance.copy()
    learn_interval(times, 0, 9000.0)

    assert never.tolist() == [flat]
    assert log_odds(times, 0, np.array([8000.0])).tolist() == [np.log(SLOT_S / 8000.0)]
    assert (times.chance == chance).all()
