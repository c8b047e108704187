"""Intervals that learn, against what the theory of adaptive conformal inference promises; and the pace."""

import numpy as np
import pytest

from monitor.forecast.learning import (
    AHEAD_H,
    HIGH,
    LOW,
    MISSED,
    STEP_S,
    Course,
    Learned,
    half_widths_c,
    learn,
    new_learned,
    pace,
)

HALF_HOURS = 4000
RISE = np.zeros((1, 1, len(AHEAD_H)))


def _course(level: float, mean: float, place: float = np.nan) -> Course:
    return Course(np.full((1, 1, 3), mean), np.array([[level]]), np.array([place]))


def _fresh(*, has_plan: bool = True) -> Learned:
    return new_learned((1, 1), has_plan=np.array([has_plan]))


def _missed(levels: np.ndarray) -> np.ndarray:
    """Forecast that each level stays; return the shares (3, 2) of checks that passed below and above."""
    learned = _fresh()
    steps = (AHEAD_H * 3600.0 / STEP_S).astype(int)
    ends: list[np.ndarray] = []
    passed = np.zeros((len(AHEAD_H), 2))
    for n, level in enumerate(levels.tolist()):
        for k, step in enumerate(steps):
            if n >= step:
                below, above = ends[n - step][:, k]
                risen = level - levels[n - step]
                passed[k] += (risen < -below, risen > above)
        learn(learned, n * STEP_S, _course(level, level))
        ends.append(half_widths_c(learned, RISE, AHEAD_H)[:, 0, 0])
    return passed / len(levels)


@pytest.mark.parametrize("scale", [0.2, 30.0])
@pytest.mark.parametrize("shape", ["normal", "heavy", "lopsided"])
def test_each_side_is_passed_as_often_as_it_says_whatever_the_errors(shape: str, scale: float) -> None:
    """Gibbs and Candes (2021), proposition 4.1 (from memory): in the long run exactly, for every sequence."""
    rng = np.random.default_rng(5)
    levels = {
        "normal": rng.normal(size=HALF_HOURS),
        "heavy": rng.standard_t(2.0, HALF_HOURS),
        "lopsided": rng.exponential(size=HALF_HOURS),
    }[shape]

    np.testing.assert_allclose(_missed(scale * levels), MISSED, atol=0.012)


def test_widths_between_the_checked_times_lie_between_and_grow_beyond() -> None:
    """With twice the width learned at 2 h: at 1 h the geometric mean of both neighbours, and ever more with time."""
    learned = _fresh()
    learned.wide[0, 0, 1] = np.log(2.0)
    ahead = np.array([1.0 / 12.0, 0.5, 1.0, 2.0, 8.0, 30.0])
    below, _ = half_widths_c(learned, np.zeros((1, 1, len(ahead))), ahead)[:, 0, 0]
    before, _ = half_widths_c(_fresh(), np.zeros((1, 1, len(ahead))), ahead)[:, 0, 0]

    np.testing.assert_allclose(below / before, [1.0, 1.0, np.sqrt(2.0), 2.0, 1.0, 1.0])
    assert (np.diff(before) > 0.0).all()


def test_a_greater_rise_is_less_sure() -> None:
    """A seventh of what is expected to come, nearly, adds to either side."""
    rise = RISE + np.array([0.0, 100.0, 400.0])
    wider = half_widths_c(_fresh(), rise, AHEAD_H) - half_widths_c(_fresh(), RISE, AHEAD_H)

    np.testing.assert_allclose(wider[LOW, 0, 0], [0.0, 15.0, 60.0])


def test_sides_are_learned_apart() -> None:
    """A kiln that is always late makes the low side wide and lets the high side shrink."""
    learned = _fresh()
    for n in range(400):
        learn(learned, n * STEP_S, _course(-20.0 * n, -20.0 * n))
    widths = half_widths_c(learned, RISE, AHEAD_H)[:, 0, 0]

    assert (widths[LOW] > 15.0).all()
    assert (widths[HIGH] < 3.0).all()


def test_a_missing_level_teaches_nothing() -> None:
    """No data is no miss and no hit."""
    learned = _fresh()
    for n in range(60):
        learn(learned, n * STEP_S, _course(np.nan, np.nan))

    np.testing.assert_array_equal(half_widths_c(learned, RISE, AHEAD_H), half_widths_c(_fresh(), RISE, AHEAD_H))


def test_notes_from_before_a_long_silence_are_not_checked() -> None:
    """Half an hour noted, then a day of nothing: what comes is far off, and nobody had forecast it."""
    learned = _fresh()
    learn(learned, 0.0, _course(0.0, 0.0))
    learn(learned, 48 * STEP_S, _course(500.0, 500.0))

    np.testing.assert_array_equal(learned.wide, _fresh().wide)


def test_without_a_plan_the_first_intervals_are_wider() -> None:
    """The last three hours know less of the next eight than a plan does."""
    planned, planless = (half_widths_c(_fresh(has_plan=p), RISE, AHEAD_H)[LOW, 0, 0] for p in (True, False))

    np.testing.assert_allclose(planless / planned, [1.0, 1.5, 2.0])


@pytest.mark.parametrize(("gone", "told"), [(0.8, 0.8 + 1 / 24), (1.25, 1.25 - 1 / 24), (1.0, 1.0), (1.03, 1.0)])
def test_pace_is_hours_of_the_plan_in_an_hour(gone: float, told: float) -> None:
    """Over the last day; an hour of it is no slip."""
    learned = _fresh()
    for n in range(100):
        learn(learned, n * STEP_S, _course(0.0, 0.0, place=gone * n / 2.0))

    assert pace(learned)[0] == pytest.approx(told)


def test_pace_is_that_of_the_plan_while_nothing_is_known() -> None:
    """Before the first forecast, without a plan, and while the guide is away."""
    learned = _fresh()
    assert pace(learned)[0] == 1.0
    for n in range(40):
        learn(learned, n * STEP_S, _course(0.0, 0.0, place=0.3 * n if n < 39 else np.nan))

    assert pace(learned)[0] == 1.0


def test_a_long_silence_is_no_slip() -> None:
    """Two days without a word: what was known before is no measure of the pace."""
    learned = _fresh()
    learn(learned, 0.0, _course(0.0, 0.0, place=0.0))
    learn(learned, 96 * STEP_S, _course(0.0, 0.0, place=10.0))

    assert pace(learned)[0] == 1.0
