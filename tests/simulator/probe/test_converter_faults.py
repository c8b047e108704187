"""Faults at the converter, one by one."""

import numpy as np
import pytest

from simulator.probe.converter_faults import (
    HOT_WIRE_TURN_S,
    Told,
    broken,
    picked_up_volts,
    repeated,
    told_for,
    turns_of,
)
from simulator.probe.moments import Moment
from simulator.script.probe_faults import ProbeFault

SECONDS = np.arange(0.0, 4000.0)


def _moment(what: ProbeFault, size: float = 1.0, length_s: float = 3600.0) -> Moment:
    return Moment(what, SECONDS, length_s, size)


def test_spikes_hit_one_scan_in_fifty_up_and_down() -> None:
    """F20 spikes: 5 mV in one of fifty scans, both ways, nothing after the end."""
    draws = np.random.default_rng(3).random(len(SECONDS))
    volts = picked_up_volts([_moment(ProbeFault.SPIKES, 5.0)], draws)

    assert set(np.round(volts * 1e3, 9).tolist()) == {-5.0, 0.0, 5.0}
    assert np.count_nonzero(volts[:3600]) == pytest.approx(72, abs=25)
    assert not volts[3600:].any()


def test_hum_swings_between_its_two_ends() -> None:
    """F21 hum: 0.5 mV either way, no mean, nothing after the end."""
    volts = picked_up_volts([_moment(ProbeFault.HUM, 0.5)], np.zeros(len(SECONDS)))

    assert float(volts.max()) == pytest.approx(0.5e-3, rel=0.01)
    assert float(volts.min()) == pytest.approx(-0.5e-3, rel=0.01)
    assert abs(float(volts[:3600].mean())) < 0.01e-3
    assert not volts[3600:].any()


@pytest.mark.parametrize(
    ("what", "word"),
    [
        (ProbeFault.OPEN, Told.OPEN),  # F01
        (ProbeFault.COLD_LOST, Told.COLD_JUNCTION),  # F17
        (ProbeFault.OVER_VOLTAGE, Told.RANGE),  # F19
        (ProbeFault.DEAD_BUS, Told.NOTHING),  # F23
        (ProbeFault.NO_RESULT, Told.NOTHING),  # F24
        (ProbeFault.STEP, Told.EMF),
    ],
)
def test_node_says_what_the_converter_knows(what: ProbeFault, word: Told) -> None:
    """F01 open, F17 cold junction lost, F19 over or under voltage, F23 dead bus, F24 no fresh result."""
    told = told_for([_moment(what)], len(SECONDS))

    assert np.all(told[:3600] == word)
    assert np.all(told[3600:] == Told.EMF)


def test_reset_converter_is_silent_until_it_is_read_back() -> None:
    """F22 reset: 5 s of nothing every ten minutes."""
    told = told_for([_moment(ProbeFault.CONVERTER_RESET, 10.0)], len(SECONDS))

    assert np.flatnonzero(told == Told.NOTHING)[:12].tolist() == [0, 1, 2, 3, 4, 600, 601, 602, 603, 604, 1200, 1201]


def test_worst_word_counts() -> None:
    """A dead bus hides an open probe."""
    told = told_for([_moment(ProbeFault.DEAD_BUS), _moment(ProbeFault.OPEN)], len(SECONDS))

    assert told[0] == Told.NOTHING


@pytest.mark.parametrize("length_s", [5.0, 30.0, 600.0, 7200.0])
def test_hot_wire_breaks_at_its_begin_and_closes_last_at_its_end(length_s: float) -> None:
    """F02 intermittent: turns of 1 to 20 s in between, so that first and last break bound the spell."""
    turns = turns_of(length_s, np.random.default_rng([1, 13]))
    is_open = broken(np.arange(-10.0, length_s + 10.0, 0.5), turns)

    assert (turns[0], turns[-1]) == (0.0, length_s)
    assert len(turns) % 2 == 0
    assert np.all(np.diff(turns)[:-1] >= HOT_WIRE_TURN_S[0])
    assert is_open[20]
    assert not is_open[:20].any()
    assert not is_open[-20:].any()


def test_hot_wire_is_open_about_half_the_time() -> None:
    """As often open as closed."""
    turns = turns_of(36000.0, np.random.default_rng([2, 13]))

    assert float(broken(np.arange(36000.0), turns).mean()) == pytest.approx(0.5, abs=0.1)


def test_value_is_repeated_however_the_scans_are_cut() -> None:
    """F18 stuck: the first value of the spell, also over blocks."""
    values, on = np.arange(10.0), np.arange(10) >= 4
    whole, _ = repeated(values, on, None)
    held = None
    parts = []
    for rows in (slice(0, 3), slice(3, 6), slice(6, 10)):
        part, held = repeated(values[rows], on[rows], held)
        parts.append(part)

    assert whole.tolist() == [0.0, 1.0, 2.0, 3.0, 4.0, 4.0, 4.0, 4.0, 4.0, 4.0]
    np.testing.assert_array_equal(np.concatenate(parts), whole)
