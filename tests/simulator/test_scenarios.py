"""The scenarios by name."""

import pytest

from simulator.kiln_file import load_kiln
from simulator.scenarios import SCENARIOS, Anchor, Mishap, ScenarioError, Spell, find_scenario, settle_spells


def test_scenarios_are_found_by_name() -> None:
    """Names differ, each is told in two lines."""
    names = [s.name for s in SCENARIOS]

    assert len(set(names)) == len(names)
    assert {"steady", "sleepy-watch", "choked", "door-ajar", "open-probe", "night-watch"} <= set(names)
    for scenario in SCENARIOS:
        assert find_scenario(scenario.name) is scenario
        assert scenario.words.count("\n") == 1


def test_unknown_scenario_is_answered_with_those_there_are() -> None:
    """The message lists the names."""
    with pytest.raises(ScenarioError, match="no scenario 'flood'; choose one of steady, night-watch"):
        find_scenario("flood")


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


def test_broken_probes_are_sensors_of_the_demo_kiln() -> None:
    """A spell that names a sensor names one there is."""
    known = {s.id for s in load_kiln("demo").sensors}
    named = {spell.sensor for scenario in SCENARIOS for spell in scenario.spells if spell.sensor}

    assert named <= known
