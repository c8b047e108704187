"""Cold junctions of one box against each other."""

from collections.abc import Callable

import numpy as np
import pytest

from monitor.engine.cold import judge_cold, new_cold
from monitor.engine.setup import EngineSetup
from monitor.model import FloatArray

MakeSetup = Callable[..., EngineSetup]
Told = list[tuple[float, str, int]]
BEATS = 600


def _box(inputs: int, beats: int = BEATS) -> FloatArray:
    """Cold junctions that a warming box and each chip's own error make."""
    own = np.random.default_rng(3).normal(0.0, 0.2, inputs)
    noise = np.random.default_rng(4).normal(0.0, 0.05, (beats, inputs))
    return 20.0 + 0.02 * np.arange(beats)[:, None] + own + noise


def _judge(setup: EngineSetup, cold_c: FloatArray) -> Told:
    cold, told = new_cold(setup.shape), []
    for beat, row in enumerate(cold_c):
        for change in judge_cold(cold, setup, row[None], 30.0 * (beat + 1)):
            changed = np.flatnonzero(change.begun[0] | change.ended[0]).tolist()
            told += [(beat / 2.0, "begin" if change.begun[0, s] else "end", s) for s in changed]
    return told


@pytest.mark.parametrize("off_c", [5.0, -4.0])
def test_one_of_three_that_is_off_is_told_within_a_minute(make_setup: MakeSetup, off_c: float) -> None:
    """F16: 5 degC too high, or 4 too low, for two hours."""
    cold_c = _box(3)
    cold_c[200:440, 1] += off_c

    assert _judge(make_setup(["front", "middle", "back"]), cold_c) == [(100.5, "begin", 1), (220.5, "end", 1)]


def test_of_two_the_one_that_moved_is_told(make_setup: MakeSetup) -> None:
    """Both differ from each other; only one changed."""
    cold_c = _box(2)
    cold_c[200:440, 1] += 5.0

    assert _judge(make_setup(["front", "middle"]), cold_c) == [(100.5, "begin", 1), (220.5, "end", 1)]


def test_a_lone_one_is_seen_to_jump(make_setup: MakeSetup) -> None:
    """Nothing to compare with but itself a minute ago."""
    cold_c = _box(1)
    cold_c[200:440, 0] += 8.0

    assert _judge(make_setup(["front"]), cold_c)[0] == (100.5, "begin", 0)


def test_a_box_that_warms_as_a_whole_is_well(make_setup: MakeSetup) -> None:
    """12 degC in five hours, each chip 0.2 degC wrong."""
    for inputs in (1, 2, 3):
        assert _judge(make_setup(["front", "middle", "back"][:inputs]), _box(inputs)) == []


def test_a_box_in_a_flame_is_told(make_setup: MakeSetup) -> None:
    """Over 60 degC, whatever the others say."""
    cold_c = _box(3) + 38.0

    assert {s for _, state, s in _judge(make_setup(["front", "middle", "back"]), cold_c) if state == "begin"} == {
        0,
        1,
        2,
    }


def test_silence_is_no_fault_and_ends_what_was_told(make_setup: MakeSetup) -> None:
    """A cold junction that is not told at all is another fault, told by the node."""
    cold_c = _box(3)
    cold_c[200:300, 1] += 5.0
    cold_c[300:, 1] = np.nan

    assert _judge(make_setup(["front", "middle", "back"]), cold_c) == [(100.5, "begin", 1), (150.5, "end", 1)]
