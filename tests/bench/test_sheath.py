"""Lag and lead against the closed form of a first-order response, and against `scipy.signal.lsim`.

Closed forms (any text on linear systems): the answer of y + tau y' = u to a step is 1 - exp(-t / tau); to a ramp it
runs tau behind once exp(-t / tau) has died out. The lead (1 + tau s) / (1 + s tau / 3) leaves of a lag tau one of a
third of it.
"""

import importlib.util
from pathlib import Path

import numpy as np
import pytest
from scipy.signal import lsim

from monitor.model import SLOT_S, FloatArray

_spec = importlib.util.spec_from_file_location("sheath", Path(__file__).with_name("sheath.py"))
assert _spec is not None
assert _spec.loader is not None
sheath = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(sheath)

SLOTS = 400
LAGS_S = (10.0, 45.0, 60.0, 240.0)


def column(values: FloatArray) -> FloatArray:
    """Return one firing as the bench has it."""
    return np.asarray(values, dtype=np.float64)[:, None]


def step() -> FloatArray:
    """Return a step from 0 to 1 after the first slot."""
    return column(np.r_[0.0, np.ones(SLOTS)])


def ramp() -> FloatArray:
    """Return a climb of 60 degC/h, which is a degree a minute."""
    return column(np.arange(SLOTS + 1) * SLOT_S / 60.0)


@pytest.mark.parametrize("lag_s", LAGS_S)
def test_a_step_is_answered_by_the_closed_form(lag_s: float) -> None:
    """1 - exp(-t / tau), and behind lead as by a lag of a third."""
    t = np.arange(SLOTS + 1) * SLOT_S
    answer = sheath.lagged(step(), lag_s)

    assert answer[:, 0] == pytest.approx(1.0 - np.exp(-t / lag_s), abs=1e-12)
    assert sheath.led(answer, lag_s)[:, 0] == pytest.approx(1.0 - np.exp(-3.0 * t / lag_s), abs=1e-9)


def behind_held_s(lag_s: float) -> float:
    """Return by how many seconds the answer to a held ramp runs behind after `SLOTS`: nearly tau less half a slot."""
    return SLOT_S / np.expm1(SLOT_S / lag_s) * -np.expm1(-SLOTS * SLOT_S / lag_s)


@pytest.mark.parametrize("lag_s", LAGS_S)
def test_a_climb_runs_one_lag_behind_and_a_third_of_it_behind_lead(lag_s: float) -> None:
    """The sum of the geometric series that a held ramp makes; it lies within half a slot of tau itself."""
    climb = ramp()
    behind_s = 60.0 * (climb - sheath.lagged(climb, lag_s))[-1, 0]
    led_behind_s = 60.0 * (climb - sheath.led(sheath.lagged(climb, lag_s), lag_s))[-1, 0]

    assert behind_s == pytest.approx(behind_held_s(lag_s), abs=1e-6)
    assert led_behind_s == pytest.approx(behind_held_s(lag_s / 3.0), abs=1e-6)
    assert abs(behind_s - lag_s) <= SLOT_S / 2.0 + 0.1


@pytest.mark.parametrize("lag_s", LAGS_S)
def test_any_course_is_answered_as_by_scipy(lag_s: float) -> None:
    """A lag of made-up gas, its input held between slots."""
    gas = np.random.default_rng(1).normal(600.0, 20.0, SLOTS + 1)
    t = np.arange(SLOTS + 1) * SLOT_S
    held = np.r_[gas[1:], gas[-1]]  # the value of a slot holds from the end of the one before
    _, expected, _ = lsim(([1.0], [lag_s, 1.0]), held, t, X0=[gas[0] * lag_s], interp=False)

    assert sheath.lagged(column(gas), lag_s)[:, 0] == pytest.approx(expected, abs=1e-8)
    led = sheath.led(sheath.lagged(column(gas), lag_s), lag_s)[:, 0]
    assert led == pytest.approx(sheath.lagged(column(gas), lag_s / 3.0)[:, 0], abs=1e-8)
