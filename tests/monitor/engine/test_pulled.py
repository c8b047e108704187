"""A probe out of the fire, and what is none."""

import numpy as np
import pytest

from monitor.engine.pulled import judge_pulled, new_pulled
from monitor.model import FloatArray

ABLE = np.ones((1, 3), bool)
Told = list[tuple[float, str, int]]


def _fire(beats: int = 200) -> FloatArray:
    return np.array([950.0, 900.0, 870.0]) + 0.3 * np.arange(beats)[:, None]


def _first_order(celsius: FloatArray, to_c: float, lag_s: float) -> FloatArray:
    """Go from the first of `celsius` to `to_c`, first order with `lag_s`."""
    return to_c + (celsius[0] - to_c) * np.exp(-30.0 * np.arange(1, len(celsius) + 1) / lag_s)


def _judge(celsius: FloatArray) -> Told:
    pulled, told = new_pulled((1, 3)), []
    for beat, row in enumerate(celsius):
        for change in judge_pulled(pulled, row[None], now=30.0 * (beat + 1), able=ABLE):
            changed = np.flatnonzero(change.begun[0] | change.ended[0]).tolist()
            told += [(beat / 2.0, "begin" if change.begun[0, s] else "end", s) for s in changed]
    return told


@pytest.mark.parametrize("lag_s", [30.0, 60.0])
def test_a_probe_that_falls_to_the_air_is_told_within_three_minutes(lag_s: float) -> None:
    """F14: one sensor falls first order to the air and warms again when it is put back."""
    celsius = _fire()
    celsius[100:150, 1] = _first_order(celsius[100:150, 1], 30.0, lag_s)

    told = _judge(celsius)

    assert [t[1:] for t in told] == [("begin", 1), ("end", 1)]
    assert told[0][0] - 50.0 <= 3.0


def test_a_fire_that_goes_out_pulls_no_probe() -> None:
    """All fall, one faster than the others."""
    celsius = _fire()
    celsius[100:150, 0] = _first_order(celsius[100:150, 0], 30.0, 100.0)
    celsius[100:150, 1:] *= np.exp(-np.arange(50) / 20.0)[:, None]

    assert _judge(celsius) == []


def test_a_door_left_open_pulls_no_probe() -> None:
    """A quarter of it within minutes is what a stoke door can do to a firebox."""
    celsius = _fire()
    celsius[100:150, 0] *= 0.75

    assert _judge(celsius) == []


def test_a_sensor_that_cannot_be_judged_loses_its_past() -> None:
    """Its contact has just jumped: what it read before says nothing."""
    pulled = new_pulled((1, 3))
    celsius = _fire(20)
    celsius[10:, 1] = 60.0
    changes = []
    for beat, row in enumerate(celsius):
        able = ABLE if beat < 10 else np.array([[True, beat > 15, True]])
        changes += judge_pulled(pulled, row[None], now=30.0 * (beat + 1), able=able)

    assert changes == []
