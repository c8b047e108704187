"""The truth of whole firings: what each scenario is for is what truly happens in it."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from monitor.model import FindingKind
from simulator.firing import FINE_S, Firing
from simulator.script.probe_faults import ProbeFault
from simulator.script.scenarios import find_scenario
from simulator.script.spells import Spell
from simulator.spec.kiln_file import load_kiln
from simulator.truth.minutes import minute_means
from simulator.truth.whole import Truth, true_of

SPEC = load_kiln("demo")
LIT = 1_764_000_000


@cache
def _truth_of(scenario: str, begin_h: float, hours: float, live_h: float = 0.0) -> Truth:
    firing = Firing(SPEC, find_scenario(scenario), seed=1, lit=LIT, live_h=live_h)
    firing.hurry_to(round(begin_h * 3600))
    return true_of(firing, minute_means(firing.run(round(hours * 3600) // FINE_S)), seed=1)


def test_truth_holds_only_what_lies_in_the_recording() -> None:
    """Stokes before its begin are not in it, though charged; spans are cut to it."""
    scenario = replace(find_scenario("steady"), spells=(Spell(ProbeFault.OPEN, 0.0, 9.0, sensor="middle"),))
    firing = Firing(SPEC, scenario, seed=1, lit=LIT)
    firing.hurry_to(3600)
    truth = true_of(firing, minute_means(firing.run(720)), seed=1)
    (open_probe,) = truth.of(FindingKind.SENSOR)

    assert min(d.hour for d in firing.deeds) < 1.0
    assert all(1.0 <= s.hour < 2.0 for s in truth.stokes)
    assert (open_probe.begin_h, open_probe.end_h) == pytest.approx((1.0, 2.0))
    assert truth.excess_air.shape == truth.minutes.gas_c.shape


def test_cones_remember_what_was_hurried_through() -> None:
    """Heat that was there before the recording begins has bent them then; none of it is counted twice."""
    firing = Firing(SPEC, find_scenario("steady"), seed=1, lit=LIT)
    firing.hurry_to(3600)
    minutes = minute_means(firing.run(24))
    cold = true_of(firing, minutes, seed=1)
    hot_c = np.full(len(SPEC.zones), 1300.0)
    firing.past = [(0.0, hot_c), (0.5, hot_c), (2.0, hot_c)]
    hot = true_of(firing, minutes, seed=1)

    assert all(c.down_h is None for c in cold.cones)
    assert all(c.down_h is not None and c.down_h < 0.9 for c in hot.cones)


def test_good_firing_is_without_falls_and_stalls() -> None:
    """The scenario `steady`, from the climb to the closing, with the default seed."""
    truth = _truth_of("steady", 60.0, 28.0)

    assert truth.of(FindingKind.FALL) == truth.of(FindingKind.STALL) == truth.of(FindingKind.SENSOR) == ()


def test_good_firing_is_in_reduction_in_the_stage_of_that_name() -> None:
    """For most of it, and neither long before nor long after."""
    stage, after = SPEC.stage("reduction"), SPEC.stage("high-fire")
    spans = _truth_of("steady", 60.0, 28.0).of(FindingKind.REDUCTION)
    inside = sum(min(s.end_h, after.begin_h) - max(s.begin_h, stage.begin_h) for s in spans if s.begin_h < 70.0)

    assert inside > 0.8 * (after.begin_h - stage.begin_h)
    assert spans[0].begin_h > stage.begin_h - 1.0


def test_night_watch_falls_about_an_hour_after_going_live() -> None:
    """The demonstration: a first fall begins 60 to 75 min after the first live scan."""
    live_h = SPEC.stage("high-fire").start_h
    fall = _truth_of("night-watch", live_h - 2.0, 4.0, live_h).of(FindingKind.FALL)[0]

    assert 60.0 <= (fall.begin_h - live_h) * 60.0 <= 75.0
    assert 15.0 <= (fall.end_h - fall.begin_h) * 60.0 <= 90.0


def test_sleepy_watch_lets_the_rhythm_slip_and_the_chamber_fall() -> None:
    """The rhythm first, from 76 h on, then falls while the watch dozes from 79 h on."""
    truth = _truth_of("sleepy-watch", 74.0, 8.0)
    drift = truth.of(FindingKind.RHYTHM)

    assert any(75.5 < d.begin_h < 77.0 and (d.ratio or 0.0) > 1.25 for d in drift)
    assert any(f.begin_h < 79.6 and f.end_h > 79.2 for f in truth.of(FindingKind.FALL))


def test_choked_bed_stalls_the_kiln_until_it_is_raked() -> None:
    """Over-fed from 75 h to 79 h: a stall of more than an hour begins in it and ends within an hour after."""
    stalls = _truth_of("choked", 74.0, 8.0).of(FindingKind.STALL)

    assert len(stalls) == 1
    assert 75.0 < stalls[0].begin_h < 78.0
    assert stalls[0].end_h - stalls[0].begin_h > 1.0
    assert 78.5 < stalls[0].end_h < 80.0


def test_door_ajar_makes_the_chamber_fall() -> None:
    """The fall begins with the cold air at 58 h."""
    fall = _truth_of("door-ajar", 56.0, 4.0).of(FindingKind.FALL)[0]

    assert 57.9 < fall.begin_h < 58.6


def test_open_probe_changes_nothing_in_the_kiln() -> None:
    """A sensor's fault is none of the kiln's."""
    broken, well = (_truth_of(scenario, 77.0, 4.0) for scenario in ("open-probe", "steady"))

    assert [s.fault for s in broken.of(FindingKind.SENSOR)] == ["open"]
    for kind in set(FindingKind) - {FindingKind.SENSOR}:
        assert broken.of(kind) == well.of(kind)
