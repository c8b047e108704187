"""The scenarios by name."""

import pytest

from simulator.probe.probe_chain import misplaced
from simulator.script.line_faults import LineFault
from simulator.script.mishaps import Mishap
from simulator.script.probe_faults import ProbeFault
from simulator.script.scenarios import SCENARIOS, Scenario, ScenarioError, find_scenario
from simulator.script.spells import settle_spells
from simulator.spec.kiln_file import kiln_names, load_kiln


def test_scenarios_are_found_by_name() -> None:
    """Names differ, each is told in two lines; there are at least twenty."""
    names = [s.name for s in SCENARIOS]

    assert len(set(names)) == len(names) >= 20
    assert {"steady", "sleepy-watch", "choked", "door-ajar", "open-probe", "night-watch"} <= set(names)
    for scenario in SCENARIOS:
        assert find_scenario(scenario.name) is scenario
        assert scenario.words.count("\n") == 1
        assert max(len(line) for line in scenario.words.split("\n")) <= 120


def test_unknown_scenario_is_answered_with_those_there_are() -> None:
    """The message lists the names."""
    with pytest.raises(ScenarioError, match="no scenario 'flood'; choose one of steady, night-watch"):
        find_scenario("flood")


@pytest.mark.parametrize("scenario", SCENARIOS, ids=lambda s: s.name)
def test_every_scenario_can_happen_at_its_kiln(scenario: Scenario) -> None:
    """Its stages, zones and sensors are there, and its probes can have what it gives them."""
    spec = load_kiln(scenario.kiln)
    spells = settle_spells(scenario.spells, spec, spec.stage("high-fire").start_h)

    assert misplaced(spec, spells) == []
    for spell in spells:
        assert spell.stage is None
        assert spell.begin_h < spec.points[-1][0]


def test_every_kiln_has_a_good_firing_and_most_have_mishaps() -> None:
    """None is there for show."""
    assert {s.kiln for s in SCENARIOS if not s.spells} == set(kiln_names())
    assert len({s.kiln for s in SCENARIOS if s.spells}) >= 5


def test_every_mishap_and_every_part_of_the_chain_is_in_some_scenario() -> None:
    """Crew, fire and air altogether; probes and line in kind."""
    dealt = {spell.what for scenario in SCENARIOS for spell in scenario.spells}

    assert set(Mishap) <= dealt
    assert len(dealt & set(ProbeFault)) >= 10
    assert len(dealt & set(LineFault)) >= 5
