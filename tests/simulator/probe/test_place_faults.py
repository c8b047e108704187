"""Faults that move temperatures."""

import numpy as np

from monitor.model import FloatArray
from simulator.probe.moments import Moment
from simulator.probe.place_faults import (
    CHIP,
    HEAD,
    READS,
    TERMINALS,
    displaced,
    moved_junction,
)
from simulator.script.probe_faults import ProbeFault

CLOCK_S = np.arange(-60.0, 3600.0)
HOT = np.full(len(CLOCK_S), 1200.0)
COOL = np.full(len(CLOCK_S), 25.0)


def _moment(what: ProbeFault, size: float = 1.0, length_s: float = 1800.0) -> Moment:
    return Moment(what, CLOCK_S, length_s, size)


def _at(values: FloatArray, second: float) -> float:
    return float(values[second == CLOCK_S][0])


def test_step_shows_in_proportion_to_the_temperature() -> None:
    """F13 step in the probe: -15 degC told at 1000 degC is -18 at 1200, while it lasts."""
    read = displaced(HOT, [_moment(ProbeFault.STEP, -15.0)], READS)

    assert (_at(read, -1.0), _at(read, 0.0), _at(read, 1800.0)) == (1200.0, 1182.0, 1200.0)


def test_probe_that_is_pulled_out_is_cold_in_two_minutes() -> None:
    """F14 pulled out: falls to where its head is, and warms again when put back."""
    read = moved_junction(HOT, [_moment(ProbeFault.PULLED_OUT)], COOL)

    assert _at(read, -1.0) == 1200.0
    assert _at(read, 30.0) < 500.0
    assert abs(_at(read, 120.0) - 25.0) < 25.0
    assert _at(read, 1920.0) > 1170.0


def test_flame_at_the_head_warms_head_and_converter_and_the_chip_lags() -> None:
    """F15 flame at the head: 30 to 120 degC there; the terminals get half, the chip beside them is late."""
    moments = [_moment(ProbeFault.HEAD_FLAME, 90.0)]
    head, terminals, chip = (displaced(COOL, moments, table) for table in (HEAD, TERMINALS, CHIP))

    assert 114.0 < _at(head, 1799.0) < 115.1
    assert 65.0 < _at(terminals, 1799.0) < 70.1
    assert _at(terminals, 300.0) - _at(chip, 300.0) > 2.0
    assert _at(head, 3599.0) < 26.0


def test_cold_junction_told_too_high_leaves_the_terminals_alone() -> None:
    """F16 cold junction off by 5: the chip says so, the emf does not know."""
    moments = [_moment(ProbeFault.COLD_OFF, 5.0)]

    assert _at(displaced(COOL, moments, CHIP), 10.0) == 30.0
    np.testing.assert_array_equal(displaced(COOL, moments, TERMINALS), COOL)


def test_other_faults_move_nothing() -> None:
    """What a table does not know passes."""
    moments = [_moment(ProbeFault.OPEN), _moment(ProbeFault.REVERSED)]

    for table in (HEAD, TERMINALS, CHIP, READS):
        np.testing.assert_array_equal(displaced(HOT, moments, table), HOT)
    np.testing.assert_array_equal(moved_junction(HOT, moments, COOL), HOT)
