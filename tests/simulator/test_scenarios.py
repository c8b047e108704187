"""The scenarios by name."""

import pytest

from simulator.kiln_file import load_kiln
from simulator.scenarios import SCENARIOS, ScenarioError, find_scenario


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


def test_broken_probes_are_sensors_of_the_demo_kiln() -> None:
    """A spell that names a sensor names one there is."""
    known = {s.id for s in load_kiln("demo").sensors}
    named = {spell.sensor for scenario in SCENARIOS for spell in scenario.spells if spell.sensor}

    assert named <= known
