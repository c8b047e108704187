"""Numbers as text, against exact fractions and the converter's published full scale."""

import subprocess
from fractions import Fraction

import pytest
from exact import fraction_text, seconds_text
from hypothesis import given
from hypothesis import strategies as st


@given(st.integers(-131072, 131072), st.sampled_from([23, 25]))
def test_text_of_every_code_is_the_exact_number_of_volts(code, shift):
    """The decimal text is equal to the fraction, and the float read from it gives the code back without rounding."""
    text = fraction_text(code * 5, shift)

    assert Fraction(text) == Fraction(code * 5, 2**shift)
    assert float(text) * 2**shift / 5 == code


def test_full_scale_is_the_published_one():
    """Datasheet note 7: 78.125 mV at gain 8 and 19.531 mV at gain 32 (19.53125 by its own formula)."""
    assert fraction_text(131072 * 5, 23) == "0.078125"
    assert fraction_text(-131072 * 5, 23) == "-0.078125"
    assert fraction_text(131072 * 5, 25) == "0.01953125"


@pytest.mark.parametrize(
    ("numerator", "shift", "text"),
    [(0, 6, "0"), (-1, 6, "-0.015625"), (64, 6, "1"), (-65, 6, "-1.015625"), (1588, 6, "24.8125")],
)
def test_cold_junction_text_has_no_trailing_zeros(numerator, shift, text):
    """Sixty-fourths of a degree end after six decimals at most."""
    assert fraction_text(numerator, shift) == text


def test_no_step_leaves_the_small_integers_of_a_32_bit_board():
    """The largest product on the way is ten times just under 2**25 and stays below 2**30 (MicroPython, from memory)."""
    assert 10 * (2**25 - 1) < 2**30


@pytest.mark.parametrize(
    ("milliseconds", "text"),
    [(0, "0.000"), (5, "0.005"), (2**40 + 1, "1099511627.777"), (-1500, "-1.500"), (-7, "-0.007")],
)
def test_seconds_keep_their_milliseconds(milliseconds, text):
    """Also where a 32-bit float would be off by a minute."""
    assert seconds_text(milliseconds) == text


def test_micropython_writes_the_same_text(micropython, firmware):
    """The unix port gives the very text that CPython gives, for codes of both signs and both gains."""
    script = (
        f"import sys; sys.path.append({str(firmware)!r})\n"
        "from exact import fraction_text\n"
        "for code in range(-131072, 131073, 1201): print(fraction_text(code * 5, 23), fraction_text(code * 5, 25))\n"
    )

    done = subprocess.run([micropython, "-c", script], capture_output=True, text=True, timeout=30, check=True)

    codes = range(-131072, 131073, 1201)
    assert done.stdout.splitlines() == [f"{fraction_text(c * 5, 23)} {fraction_text(c * 5, 25)}" for c in codes]
