"""The numbers of the reference functions are complete and meet where pieces meet."""

import pytest

from monitor.thermocouple.coefficients import PIECES

RANGES_C = {
    "B": (0.0, 1820.0),
    "E": (-270.0, 1000.0),
    "J": (-210.0, 1200.0),
    "K": (-270.0, 1372.0),
    "N": (-270.0, 1300.0),
    "R": (-50.0, 1768.1),
    "S": (-50.0, 1768.1),
    "T": (-270.0, 400.0),
}  # NIST SRD 60


def test_the_eight_letters_cover_their_published_ranges():
    """Each letter runs from its lowest to its highest published temperature."""
    found = {letter: (pieces[0].low_c, pieces[-1].high_c) for letter, pieces in PIECES.items()}

    assert found == RANGES_C


@pytest.mark.parametrize("letter", RANGES_C)
def test_pieces_follow_each_other_without_a_hole_in_temperature(letter: str):
    """Where a piece ends the next begins."""
    pieces = PIECES[letter]

    assert [p.high_c for p in pieces[:-1]] == [p.low_c for p in pieces[1:]]


def test_only_type_k_above_zero_has_the_bump():
    """The exponential term belongs to one piece of one letter (NIST SRD 60)."""
    bumped = [(letter, p.low_c) for letter, pieces in PIECES.items() for p in pieces if p.bump]

    assert bumped == [("K", 0.0)]
