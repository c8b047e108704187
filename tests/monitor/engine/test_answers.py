"""What stokes leave, learned and taken off."""

import numpy as np
import pytest

from monitor.engine.answers import (
    BEFORE_BEATS,
    TERMS,
    WINDOW_BEATS,
    Answers,
    cleaned,
    lay_out_looks,
    learn,
    look_at_terms,
    new_answers,
    take_pushes,
)
from monitor.engine.beats import Beats, close_beat, new_beats
from monitor.engine.climb import lay_out_bank
from monitor.engine.limits import HISTORY_BEATS, SLOTS_PER_BEAT
from monitor.model import FloatArray

WHITEN = lay_out_bank().whiten
LOOKS = lay_out_looks(WHITEN)


def _follow(celsius: FloatArray, skipped: frozenset[int] = frozenset()) -> tuple[Answers, Beats]:
    """Run the slots (n,) of one sensor through, without the beats that are `skipped`."""
    beats, answers = new_beats((1, 1)), new_answers((1, 1))
    for number, cells in enumerate(celsius.reshape(-1, SLOTS_PER_BEAT), start=1):
        if number not in skipped:
            beats.open_beat[0] = number
            beats.cells[0, 0] = cells
            heard = close_beat(beats)
            take_pushes(answers, beats, heard, cells[None, None, :])
            terms = look_at_terms(answers.ring, answers.held, LOOKS)[..., 0]
            reading = np.nan_to_num(beats.ring[:, :, :WINDOW_BEATS] - beats.ring[:, :, -1:]) @ WHITEN
            learn(answers, beats, heard, reading=reading, terms=terms)
    return answers, beats


def _steps(beats: int, seed: int) -> tuple[FloatArray, FloatArray]:
    """Return moments and a record (slots,) of sudden falls of 20 degC, uneven by a third, each made good in 3 min."""
    rng = np.random.default_rng(seed)
    slot = np.arange(beats * SLOTS_PER_BEAT)
    moments = np.cumsum(rng.uniform(40, 100, len(slot) // 70 + 2)).astype(int)
    since = slot - moments[:, None]
    sizes = rng.uniform(13.0, 27.0, (len(moments), 1))
    return moments, np.where(since >= 0, -sizes * np.exp(-np.maximum(since, 0) / 36.0), 0.0).sum(axis=0)


def test_what_stokes_leave_is_taken_off_whatever_their_rhythm() -> None:
    """After six hours of sudden falls at random intervals a sixth is left, at the falls, and no slope."""
    slot = np.arange(720 * SLOTS_PER_BEAT)
    _, ripple = _steps(720, 1)
    ware = 900.0 + slot * (50.0 / 720.0)
    answers, beats = _follow(ware + ripple + np.random.default_rng(2).normal(0.0, 0.3, len(slot)))
    in_beats = ware.reshape(-1, SLOTS_PER_BEAT).mean(axis=1)[-HISTORY_BEATS:-BEFORE_BEATS]
    left = cleaned(answers, beats, slice(None))[0, 0] - in_beats

    assert left.std() < ripple.std() / 6.0
    assert abs(np.polyfit(np.arange(WINDOW_BEATS) / 120.0, left, 1)[0]) < 3.0


def test_terms_are_what_pushes_answered_one_by_one_would_give() -> None:
    """A single push laid through each term by hand, before and after it has left the ring, gives the same sums."""
    celsius = np.full(130 * SLOTS_PER_BEAT, 800.0)
    celsius[20 * SLOTS_PER_BEAT :] = 780.0
    each_beat = lay_out_looks(*np.eye(WINDOW_BEATS))
    for beats in (60, 100, 130):
        answers, _ = _follow(celsius[: beats * SLOTS_PER_BEAT])
        seen = look_at_terms(answers.ring, answers.held, each_beat)[0, 0]
        # moves of 6.7, 13.3, 20, 13.3 and 6.7 degC over 15 s, falling with the first slot of beat 21 (its number is 20)
        pushed = np.zeros(beats + 10)
        moves = 20.0 * np.array([1.0, 2.0, 3.0, 2.0, 1.0, 0.0]) / 3.0
        pushed[20], pushed[21] = (moves * (6.0 - np.arange(6)) / 6.0).sum(), (moves * np.arange(6) / 6.0).sum()
        first = beats - HISTORY_BEATS
        for tap in range(6):
            # the last tap ends with what was pushed in the beat itself; the first lies BEFORE_BEATS ahead
            at = np.arange(first, beats - BEFORE_BEATS) + BEFORE_BEATS - (5 - tap)
            np.testing.assert_allclose(seen[tap], np.where(at >= 0, pushed[np.maximum(at, 0)], 0.0), atol=1e-9)
        for term, minutes in enumerate((1.0, 2.0, 4.0, 8.0), start=6):
            decayed = np.convolve(pushed[:beats], np.exp(-np.arange(beats) * 0.5 / minutes))[:beats]
            at = np.arange(first, beats - BEFORE_BEATS) + BEFORE_BEATS
            np.testing.assert_allclose(seen[term], np.where(at >= 0, decayed[np.maximum(at, 0)], 0.0), atol=1e-9)
        assert (seen[TERMS // 2 :] == 0.0).all()


@pytest.mark.parametrize("noise_c", [0.0, 0.15])
def test_a_ramp_and_its_noise_push_nothing(noise_c: float) -> None:
    """Without stokes there are no pushes, nothing is learned and nothing is taken off."""
    slot = np.arange(120 * SLOTS_PER_BEAT)
    celsius = 600.0 + slot * 0.05 + np.random.default_rng(4).normal(0.0, noise_c, len(slot))
    answers, beats = _follow(celsius)

    assert (answers.ring == 0.0).all()
    np.testing.assert_array_equal(cleaned(answers, beats, slice(None)), beats.ring[:, :, :WINDOW_BEATS])


def test_spikes_and_the_edges_of_gaps_push_nothing() -> None:
    """A wild slot, a missing one, and a beat that never came are no stokes, though the reading goes on elsewhere."""
    celsius = np.full(120 * SLOTS_PER_BEAT, 700.0)
    celsius[60 * SLOTS_PER_BEAT + 2] = 1372.0
    celsius[80 * SLOTS_PER_BEAT : 80 * SLOTS_PER_BEAT + 3] = np.nan
    celsius[95 * SLOTS_PER_BEAT :] += 10.0
    answers, _ = _follow(celsius, skipped=frozenset({95}))

    assert (answers.ring == 0.0).all()
    assert (answers.pushes == 0.0).all()


def test_pushes_grow_old_over_beats_that_never_came() -> None:
    """Three beats without a slot leave the same pushes and decays as three of an unmoved reading."""
    _, celsius = _steps(200, 6)
    celsius[60 * SLOTS_PER_BEAT :] = celsius[60 * SLOTS_PER_BEAT - 1]
    there, _ = _follow(800.0 + celsius)
    gone, _ = _follow(800.0 + celsius, skipped=frozenset({63, 64, 65}))

    np.testing.assert_allclose(gone.ring, there.ring, atol=1e-9)
    np.testing.assert_allclose(gone.held, there.held, rtol=1e-12)


def test_after_a_jump_everything_learned_is_forgotten() -> None:
    """A sensor that comes back after a fault at another temperature begins anew."""
    _, ripple = _steps(400, 3)
    celsius = 900.0 + ripple
    learned, _ = _follow(celsius[: 300 * SLOTS_PER_BEAT])
    celsius[300 * SLOTS_PER_BEAT : 310 * SLOTS_PER_BEAT] = np.nan
    celsius[310 * SLOTS_PER_BEAT :] -= 200.0
    forgot, _ = _follow(celsius[: 330 * SLOTS_PER_BEAT])

    assert np.abs(learned.answer).max() > 0.0
    assert (forgot.answer == 0.0).all()
    assert (forgot.squares == 0.0).all()


def test_a_young_history_and_one_with_a_gap_teach_nothing() -> None:
    """Before 40 min are known, and for 10 min after a gap, the sums of least squares stay as they are."""
    _, ripple = _steps(130, 5)
    celsius = 900.0 + ripple
    young, _ = _follow(celsius[: (HISTORY_BEATS - 1) * SLOTS_PER_BEAT])
    before, _ = _follow(celsius[: 99 * SLOTS_PER_BEAT])
    celsius[99 * SLOTS_PER_BEAT : 101 * SLOTS_PER_BEAT] = np.nan
    after, _ = _follow(celsius[: 110 * SLOTS_PER_BEAT])

    assert (young.squares == 0.0).all()
    assert np.abs(before.squares).max() > 0.0
    np.testing.assert_array_equal(after.squares, before.squares)
