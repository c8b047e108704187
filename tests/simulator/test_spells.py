"""Spells: when something is wrong."""

from simulator.mishaps import Mishap
from simulator.spells import Anchor, Spell, settle_spells


def test_spells_counted_from_going_live_move_with_it() -> None:
    """The others stay where they are."""
    fixed = Spell(Mishap.DOZE, 80.0, 0.5)
    moving = Spell(Mishap.DOZE, 1.0, 0.5, anchor=Anchor.LIVE)
    settled = settle_spells((fixed, moving), 76.0)

    assert settled[0] is fixed
    assert settled[1].begin_h == 77.0
    assert settled[1].end_h == 77.5
    assert settle_spells(settled, 5.0) == settled


def test_spell_covers_its_begin_and_not_its_end() -> None:
    """Half-open."""
    spell = Spell(Mishap.LATE, 2.0, 1.0)

    assert [spell.covers(h) for h in (1.99, 2.0, 2.99, 3.0)] == [False, True, True, False]
