"""Measured numbers as whole numbers of their step."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.store.steps import KNOWN_STEPS, from_codes, to_codes

GAIN_8_VOLTS = 78.125e-3 / 2**17  # full scale 78.125 mV, MAX31856 datasheet note 7
GAIN_32_VOLTS = 19.531e-3 / 2**17  # full scale 19.531 mV, the same


def bits(numbers: np.ndarray) -> list[int]:
    """Return the bits of each number."""
    return list(numbers.view(np.int64))


@settings(max_examples=200, deadline=None)
@given(
    numbers=st.lists(
        st.one_of(st.floats(width=64), st.floats(-1, 1).map(lambda x: round(x, 6)), st.just(-0.0)),
        min_size=1,
        max_size=90,
    )
)
def test_any_float_comes_back_bit_for_bit(numbers: list[float]) -> None:
    """NaN, infinities, minus zero and subnormal numbers included."""
    array = np.array(numbers)

    coding, codes = to_codes(array, np.ones(len(array), np.bool_))

    assert bits(from_codes(coding, codes)) == bits(array)


@pytest.mark.parametrize("step", [GAIN_8_VOLTS, GAIN_32_VOLTS, 19.53125e-3 / 2**17])
@pytest.mark.parametrize("decimals", [7, 8, 9, 10, 12])
def test_a_printed_converter_voltage_is_its_code(step: float, decimals: int) -> None:
    """`round(code * step, decimals)` is told by the code; only a tie of the rounding may be an exception beside it."""
    made = np.random.default_rng(decimals).integers(-20_000, 120_000, 3600)
    printed = np.array([round(code * step, decimals) for code in made.tolist()])

    coding, codes = to_codes(printed, np.ones(3600, np.bool_))

    ties = [position for position, _ in coding.exceptions]
    assert np.array_equal(np.delete(codes, ties), np.delete(made, ties))
    assert len(ties) <= 4
    assert bits(from_codes(coding, codes)) == bits(printed)


def test_an_unprinted_voltage_is_its_code_too() -> None:
    """A source that multiplies code and step in full precision needs no decimals."""
    made = np.arange(55_000, 56_000)

    coding, codes = to_codes(made * GAIN_8_VOLTS, np.ones(1000, np.bool_))

    assert coding.decimals is None
    assert np.array_equal(codes, made)


@pytest.mark.parametrize("decimals", [2, 3, 4, 6])
def test_a_printed_cold_junction_is_a_count_of_sixty_fourths(decimals: int) -> None:
    """1/64 degC (Linux kernel driver of the converter) printed to any usual decimals gives consecutive codes."""
    made = np.arange(1500, 1700)
    printed = np.array([round(code / 64, decimals) for code in made.tolist()])

    _, codes = to_codes(printed, np.ones(200, np.bool_))

    assert set(np.diff(codes).tolist()) == {1}


def test_an_unknown_step_is_met_by_what_the_decimals_share() -> None:
    """A step of 0.05 is no known one; printed to 2 decimals all numbers share the divisor 5."""
    numbers = np.array([round(17.3 + 0.05 * i, 2) for i in range(100)])

    coding, codes = to_codes(numbers, np.ones(100, np.bool_))

    assert coding.step is None
    assert set(np.diff(codes).tolist()) == {1}


def test_numbers_without_a_step_keep_their_bits() -> None:
    """Full random float64 fall back to the bits themselves."""
    numbers = np.random.default_rng(5).normal(size=100)

    coding, codes = to_codes(numbers, np.ones(100, np.bool_))

    assert (coding.step, coding.decimals) == (None, None)
    assert bits(from_codes(coding, codes)) == bits(numbers)


def test_one_strange_number_does_not_spoil_an_hour() -> None:
    """A single number off the step is an exception beside the codes, even among the first."""
    numbers = np.array([round(code * GAIN_8_VOLTS, 9) for code in range(50_000, 51_000)])
    numbers[3], numbers[500] = -0.0, np.pi

    coding, codes = to_codes(numbers, np.ones(1000, np.bool_))

    assert coding.step == KNOWN_STEPS[4]
    assert [position for position, _ in coding.exceptions] == [3, 500]
    assert bits(from_codes(coding, codes)) == bits(numbers)


def test_missing_numbers_hold_the_code_before() -> None:
    """Where nothing was sent the code does not change; before the first it is the first."""
    numbers = np.array([np.nan, 1.0, np.nan, np.nan, 3.0])

    _, codes = to_codes(numbers, np.array([False, True, False, False, True]))

    assert codes[0] == codes[1] == codes[2] == codes[3] != codes[4]


def test_nothing_present_gives_zeros() -> None:
    """A column without a number is a column of zeros."""
    _, codes = to_codes(np.full(3, np.nan), np.zeros(3, np.bool_))

    assert codes.tolist() == [0, 0, 0]


def test_a_column_of_strange_numbers_alone_comes_back() -> None:
    """Not-a-numbers only, which fit nothing, keep their bits."""
    numbers = np.array([np.nan, np.inf, -np.inf])

    coding, codes = to_codes(numbers, np.ones(3, np.bool_))

    assert bits(from_codes(coding, codes)) == bits(numbers)
