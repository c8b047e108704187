"""Spells: when something is wrong."""

import pytest

from simulator.script.mishaps import Mishap
from simulator.script.spells import Anchor, Spell, settle_spells
from simulator.spec.kiln_file import KilnFileError, load_kiln

SPEC = load_kiln("demo")


def test_spells_counted_from_going_live_move_with_it() -> None:
    """The others stay where they are."""
    fixed = Spell(Mishap.DOZE, 80.0, 0.5)
    moving = Spell(Mishap.DOZE, 1.0, 0.5, anchor=Anchor.LIVE)
    settled = settle_spells((fixed, moving), SPEC, 76.0)

    assert settled[0] is fixed
    assert settled[1].begin_h == 77.0
    assert settled[1].end_h == 77.5
    assert settle_spells(settled, SPEC, 5.0) == settled


def test_spell_covers_its_begin_and_not_its_end() -> None:
    """Half-open."""
    spell = Spell(Mishap.LATE, 2.0, 1.0)

    assert [spell.covers(h) for h in (1.99, 2.0, 2.99, 3.0)] == [False, True, True, False]


def test_spells_counted_from_a_stage_begin_where_its_run_goes_live() -> None:
    """At any kiln, whatever its plan."""
    (settled,) = settle_spells((Spell(Mishap.HEAP, 0.5, 1.0, stage="high-fire"),), SPEC, 52.0)

    assert settled.begin_h == SPEC.stage("high-fire").start_h + 0.5
    assert settle_spells((settled,), SPEC, 52.0) == (settled,)


@pytest.mark.parametrize(("zone", "name"), [("back", "back"), ("middle", "second"), ("third", "third")])
def test_place_becomes_the_first_zone_there(zone: str, name: str) -> None:
    """At a kiln where three zones share the middle; a zone may also be named itself."""
    (settled,) = settle_spells((Spell(Mishap.PORT_AJAR, 1.0, 1.0, zone=zone),), load_kiln("long"), 0.0)

    assert settled.zone == name


def test_zone_that_the_kiln_does_not_have_is_told() -> None:
    """With those there are."""
    with pytest.raises(KilnFileError, match="no zone 'attic'; choose one of firebox, front"):
        settle_spells((Spell(Mishap.PORT_AJAR, 1.0, 1.0, zone="attic"),), SPEC, 0.0)
