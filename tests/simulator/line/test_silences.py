"""When a node is silent, as the line does it and as the truth tells it."""

import pytest

from simulator.line.silences import LONG_S, RESET_TAKES_S, downtimes, holes, outages, true_missing
from simulator.script.line_faults import LineFault
from simulator.script.spells import Spell


def test_an_outage_is_the_spell_itself() -> None:
    """Unplugged or out of reach: from begin to end."""
    spells = [Spell(LineFault.OUTAGE, 2.0, 0.5), Spell(LineFault.REPLUG, 1.0, 0.1), Spell(LineFault.LOSS, 3.0, 1.0)]

    assert outages(spells) == [(2.0, 2.5), (1.0, 1.1)]


def test_there_is_one_hole_in_every_ten_minutes() -> None:
    """Of its size, within its ten minutes, and where the seed puts it."""
    spells = [Spell(LineFault.HOLES, 5.0, 2.0, size=30.0)]
    found = holes(spells, seed=1)

    assert len(found) == 12
    for number, (begin, end) in enumerate(found):
        assert 5.0 + number / 6 <= begin < end <= 5.0 + (number + 1) / 6 + 1e-9
        assert (end - begin) * 3600 == pytest.approx(30.0)
    assert holes(spells, seed=1) == found
    assert holes(spells, seed=2) != found


def test_a_reset_takes_seconds_and_a_hang_its_spell() -> None:
    """In order of time."""
    spells = [Spell(LineFault.HANG, 2.0, 0.5), Spell(LineFault.RESET, 1.0, 0.5)]

    assert downtimes(spells) == [(1.0, 1.0 + RESET_TAKES_S / 3600), (2.0, 2.5)]


@pytest.mark.parametrize(
    ("spells", "told"),
    [
        ([], []),
        ([Spell(LineFault.RESET, 1.0, 0.5)], []),
        ([Spell(LineFault.OUTAGE, 1.0, (LONG_S - 1.0) / 3600)], []),
        ([Spell(LineFault.OUTAGE, 1.0, 0.2)], [(1.0, 1.2)]),
        ([Spell(LineFault.HANG, 1.0, 0.2)], [(1.0, 1.2)]),
        ([Spell(LineFault.HANG, 1.2, 0.3), Spell(LineFault.REPLUG, 1.0, 0.3)], [(1.0, 1.5)]),
        ([Spell(LineFault.DELAY, 1.0, 0.2, size=3.0)], [(1.0, 1.2)]),
        ([Spell(LineFault.DELAY, 1.0, 0.2, size=0.001)], []),
        ([Spell(LineFault.LOSS, 1.0, 2.0, size=0.01), Spell(LineFault.TWICE, 1.0, 2.0)], []),
    ],
)
def test_only_long_silence_is_missing(spells: list[Spell], told: list[tuple[float, float]]) -> None:
    """A reset is not; what touches is one; what comes hours late ends no silence."""
    assert true_missing(spells, seed=1) == told


def test_long_holes_are_missing_too() -> None:
    """Where they really were."""
    spells = [Spell(LineFault.HOLES, 5.0, 1.0, size=30.0)]

    assert true_missing(spells, seed=3) == holes(spells, seed=3)
