"""Numbers as text without a float: a microcontroller's float has 24 bits and would bend an emf or a time.

A converter code is a whole number of halves of halves of a unit, so its decimal text ends and is exact: the host reads
the very bits that the converter delivered. All steps fit in the 31 bits of a small integer as long as `shift` is at
most 26.
"""


def fraction_text(numerator, shift):
    """Write numerator / 2**shift as exact decimal text, without trailing zeros."""
    one = 1 << shift
    rest = abs(numerator)
    whole = rest >> shift
    rest &= one - 1
    digits = []
    while rest:
        rest *= 10
        digits.append(str(rest >> shift))
        rest &= one - 1
    sign = "-" if numerator < 0 else ""
    point = "." if digits else ""
    return sign + str(whole) + point + "".join(digits)


def seconds_text(milliseconds):
    """Write milliseconds as seconds with three decimals."""
    sign = "-" if milliseconds < 0 else ""
    milliseconds = abs(milliseconds)
    return "%s%d.%03d" % (sign, milliseconds // 1000, milliseconds % 1000)
