"""Drift against a neighbour of the same place."""

from collections.abc import Callable

import numpy as np
import pytest

from monitor.engine.neighbours import judge_neighbours, new_neighbours
from monitor.engine.setup import EngineSetup
from monitor.model import FloatArray

MakeSetup = Callable[..., EngineSetup]
PLACES = ["middle", "back", "back"]
HOURS = 24


def _kiln(seed: int = 5) -> FloatArray:
    """A climb of 20 degC/h in ticks of 5 min; the two at the back differ by a share and by a slow wander."""
    rng = np.random.default_rng(seed)
    tick = np.arange(HOURS * 12)
    climb = 600.0 + 20.0 * tick / 12.0
    wander = np.cumsum(rng.normal(0.0, 0.08, len(tick)))
    noise = rng.normal(0.0, 0.3, (len(tick), 3))
    return np.stack([climb + 40.0, climb, climb * 1.004 + wander], axis=1) + noise


def _judge(setup: EngineSetup, celsius: FloatArray) -> list[tuple[float, str, int]]:
    near, told = new_neighbours(setup.shape), []
    for tick, row in enumerate(celsius):
        for change in judge_neighbours(near, setup, row[None], able=np.isfinite(row[None]), now=300.0 * (tick + 1)):
            changed = np.flatnonzero(change.begun[0] | change.ended[0]).tolist()
            told += [(tick / 12.0, "begin" if change.begun[0, s] else "end", s) for s in changed]
    return told


@pytest.mark.parametrize("rate", [5.0, 2.5])
def test_a_probe_that_falls_behind_is_told_near_ten_degrees(make_setup: MakeSetup, rate: float) -> None:
    """F12: type K loses some degC an hour from hour 12 on; at 5 degC/h it is told within 2 h of having lost 9."""
    celsius = _kiln()
    lost_c = rate * np.clip(np.arange(len(celsius)) / 12.0 - 12.0, 0.0, None)
    celsius[:, 1] -= lost_c

    told = _judge(make_setup(PLACES), celsius)

    assert [t[1:] for t in told] == [("begin", 1)]
    assert 8.0 / rate <= told[0][0] - 12.0 <= 14.0 / rate


def test_neighbours_that_wander_do_not_drift(make_setup: MakeSetup) -> None:
    """Tolerance and a wander of a degree or two are what probes do."""
    for seed in range(8):
        assert _judge(make_setup(PLACES), _kiln(seed)) == []


def test_a_lone_sensor_cannot_be_known(make_setup: MakeSetup) -> None:
    """Nobody else stands in the middle: nothing is said of it."""
    celsius = _kiln()
    celsius[150:, 0] -= 40.0

    assert _judge(make_setup(PLACES), celsius) == []


def test_nothing_is_said_before_their_ways_are_known(make_setup: MakeSetup) -> None:
    """In the first hours nobody knows what the two usually do."""
    celsius = _kiln()
    celsius[30:66, 1] -= 15.0

    assert [t for t in _judge(make_setup(PLACES), celsius) if t[0] < 6.0] == []


def test_a_drift_that_heals_ends(make_setup: MakeSetup) -> None:
    """15 degC lost within an hour are told, and over when they are made good."""
    celsius = _kiln()
    celsius[150:162, 1] -= np.linspace(0.0, 15.0, 12)
    celsius[162:200, 1] -= 15.0

    assert [t[1:] for t in _judge(make_setup(PLACES), celsius)] == [("begin", 1), ("end", 1)]


def test_no_pair_no_work(make_setup: MakeSetup) -> None:
    """A kiln with one sensor a place is passed over."""
    setup = make_setup(["front", "middle", "back"])

    assert _judge(setup, _kiln()) == []
