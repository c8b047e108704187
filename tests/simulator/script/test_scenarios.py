"""The scenarios by name."""

import pytest

from monitor.model import FindingKind
from simulator.probe.probe_chain import misplaced
from simulator.run import course_of
from simulator.script.line_faults import LineFault
from simulator.script.mishaps import Mishap
from simulator.script.probe_faults import ProbeFault
from simulator.script.scenarios import SCENARIOS, Scenario, ScenarioError, find_scenario
from simulator.script.spells import settle_spells
from simulator.spec.kiln_file import kiln_names, load_kiln
from simulator.whole_firing import LIT, fire


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


def _falls_and_stalls(name: str, lead_in_h: float, duration_h: float) -> dict[str, list[tuple[float, float]]]:
    """Return begins and ends, hours from going live in high fire, of the falls and stalls that are true in `name`."""
    scenario = find_scenario(name)
    spec = load_kiln(scenario.kiln)
    live_h = spec.stage("high-fire").start_h
    course = course_of(LIT, live_h=live_h, lead_in_h=lead_in_h, duration_h=duration_h)
    truth = fire(spec, scenario, course, seed=1)
    return {k: [(s.begin_h - live_h, s.end_h - live_h) for s in truth.of(FindingKind(k))] for k in ("fall", "stall")}


def test_night_watch_falls_about_an_hour_after_going_live() -> None:
    """The demonstration: the fall begins 60 to 75 min after the first live scan and is over within the next hour."""
    ((begin_h, end_h),) = _falls_and_stalls("night-watch", 1.0, 3.0)["fall"]

    assert 60.0 <= 60.0 * begin_h <= 75.0
    assert 15.0 <= 60.0 * (end_h - begin_h) <= 60.0


def test_choked_bed_stalls_the_kiln_however_much_wood_goes_on_it() -> None:
    """From soon after the inlets were too low until the heaping ends, three hours after going live."""
    ((begin_h, end_h),) = _falls_and_stalls("choked", 1.5, 5.0)["stall"]

    assert -0.5 < begin_h < 0.5
    assert 2.5 < end_h < 4.0


def test_neglected_rhythm_and_open_port_make_the_chamber_fall() -> None:
    """Two dozes at the end of a sleepy watch; a side port open under a tall chimney, from its hour on."""
    assert any(begin_h < 3.6 and end_h > 3.2 for begin_h, end_h in _falls_and_stalls("sleepy-watch", 0.5, 5.0)["fall"])
    assert any(0.9 < begin_h < 1.3 for begin_h, _ in _falls_and_stalls("port-ajar", 0.5, 2.0)["fall"])
