"""The kiln's learnt answer to a stoke, and evidence for one."""

import numpy as np
import pytest

from monitor.engine.stoke_answer import (
    AGES,
    burns_after,
    evidence,
    learn_answer,
    new_answer,
    shows_after,
    without_aftermath,
)
from monitor.engine.stoke_cells import BLOCK, ORDER
from monitor.engine.stoke_shapes import WINDOW, shapes_as_surprises
from monitor.model import FloatArray

SHAPES = shapes_as_surprises(np.zeros((1, 2, ORDER)), np.zeros((1, 2), bool))
FIRE = np.array([[True, False]])
PULSE = np.array([0.0, -3.0, -3.0, 2.0, 2.0, 1.0, 1.0])


def _window(first: FloatArray, second: FloatArray, seed: int = 0) -> FloatArray:
    """Return surprises (1, 2, n) of two sensors, unit noise with a pulse at each from slot 3 on."""
    found = np.random.default_rng(seed).normal(0.0, 0.5, (1, 2, BLOCK + WINDOW - 1))
    found[0, 0, 3 : 3 + len(first)] += first
    found[0, 1, 3 : 3 + len(second)] += second
    return found


def test_a_dip_at_the_firebox_is_evidence_at_its_slot() -> None:
    """Fall and flare: the best candidate is the slot before the fall; without learning both agree."""
    both, plain = evidence(new_answer((1, 2)), _window(PULSE, 0.0 * PULSE), SHAPES, FIRE)

    assert both[0].argmax() == 3
    assert both[0, 3] > 6.0
    assert (both == plain).all()


@pytest.mark.parametrize("pulse", [0.0 * PULSE, -PULSE])
def test_noise_and_a_bump_are_no_evidence(pulse: FloatArray) -> None:
    """Nothing, or the opposite of a dip: every candidate stays below what is told."""
    both, _ = evidence(new_answer((1, 2)), _window(pulse, 0.0 * PULSE, seed=3), SHAPES, FIRE)

    assert both.max() < 3.0


def test_a_dip_where_no_fire_is_looked_for_is_no_evidence_until_it_is_learnt() -> None:
    """The second sensor answers each stoke: unknown at first, and evidence by itself after ten stokes."""
    answer = new_answer((1, 2))
    alone = _window(0.0 * PULSE, PULSE)
    before, _ = evidence(answer, alone, SHAPES, FIRE)
    for seed in range(10):
        learn_answer(answer, _window(PULSE, PULSE, seed)[:, :, 3 : 3 + WINDOW], np.arange(WINDOW)[None])
    after, plain = evidence(answer, alone, SHAPES, FIRE)

    assert before.max() < 3.0
    assert after[0].argmax() == 3
    assert after[0, 3] > max(before[0, 3], plain[0, 3]) + 1.0


def test_unknown_slots_count_for_nothing() -> None:
    """With every slot unknown there is only the penalty; with some unknown the rest still speaks."""
    answer = new_answer((1, 2))
    some = _window(2.0 * PULSE, PULSE)
    some[0, :, 6] = np.nan
    nothing, _ = evidence(answer, np.full((1, 2, BLOCK + WINDOW - 1), np.nan), SHAPES, FIRE)
    rest, _ = evidence(answer, some, SHAPES, FIRE)

    assert (nothing < 0.0).all()
    assert rest[0].argmax() == 3


def test_what_the_last_stoke_still_does_is_taken_off() -> None:
    """A second hump 30 slots after every stoke is learnt, and is no surprise after the next."""
    answer = new_answer((1, 1))
    hump = np.zeros((1, 1, AGES))
    hump[0, 0, 30:36] = -4.0
    for _ in range(6):
        learn_answer(answer, hump, np.arange(AGES)[None])
    rest = without_aftermath(answer, hump, np.arange(AGES)[None])

    assert np.abs(rest).max() < 0.5
    assert (without_aftermath(answer, hump, np.full((1, AGES), AGES)) == hump).all()


def test_gaps_teach_nothing() -> None:
    """An answer that was not heard leaves what was learnt."""
    answer = new_answer((1, 1))
    learn_answer(answer, np.ones((1, 1, 6)), np.arange(6)[None])
    mean = answer.mean.copy()
    learn_answer(answer, np.full((1, 1, 6), np.nan), np.arange(6)[None])

    assert (answer.mean == mean).all()


def test_wood_that_burns_is_told_from_a_look_once_it_is_known() -> None:
    """After ten stokes that went on for two minutes, going on is evidence and not going on is evidence against."""
    answer = new_answer((1, 1))
    before = shows_after(answer, 0)
    long = np.full((1, 1, AGES), 1.5)
    for _ in range(10):
        learn_answer(answer, long, np.arange(AGES)[None])

    assert not before
    assert shows_after(answer, 0)
    assert burns_after(answer, 0, np.full((1, 20), 1.5)) == 6.0
    assert burns_after(answer, 0, np.zeros((1, 20))) == -6.0
    assert burns_after(answer, 0, np.full((1, 20), np.nan)) == 0.0
