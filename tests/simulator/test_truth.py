"""What counts as a fall and as a stall, on made-up series and on the scenarios."""

import numpy as np
import pytest

from simulator.firing import FINE_S, Firing
from simulator.kiln_file import load_kiln
from simulator.scenarios import find_scenario
from simulator.truth import Minutes, Span, minute_means, true_falls, true_stalls

SPEC = load_kiln("demo")
ZONES = len(SPEC.zones)
MIDDLE = SPEC.zone_index("middle")


def _on_plan(begin_h: float, hours: float) -> Minutes:
    """Return gas and ware of all zones exactly on the plan."""
    hour = begin_h + (np.arange(round(hours * 60)) + 0.5) / 60.0
    plan_h, plan_c = np.array(SPEC.points).T
    level = np.repeat(np.interp(hour, plan_h, plan_c)[:, None], ZONES, axis=1)
    return Minutes(hour, level.copy(), level.copy())


def _between(minutes: Minutes, begin_h: float, end_h: float) -> np.ndarray:
    return (minutes.hour > begin_h) & (minutes.hour < end_h)


def test_kiln_on_its_plan_neither_falls_nor_stalls() -> None:
    """From the end of the preheat to the closing."""
    minutes = _on_plan(44.0, 46.0)

    assert true_falls(SPEC, minutes) == []
    assert true_stalls(SPEC, minutes) == []


@pytest.mark.parametrize(("place", "falls"), [("front", 1), ("middle", 1), ("back", 1), ("firebox", 0), ("flue", 0)])
def test_only_the_chamber_falls(place: str, falls: int) -> None:
    """Gas of a chamber zone 40 degC down for 20 min is a fall; the same in firebox or flue is none."""
    minutes = _on_plan(76.0, 4.0)
    minutes.gas_c[_between(minutes, 78.0, 78.33), SPEC.zone_index(place)] -= 40.0
    found = true_falls(SPEC, minutes)

    assert len(found) == falls
    for span in found:
        assert 77.9 < span.begin_h < 78.15
        assert 78.2 < span.end_h < 78.5


@pytest.mark.parametrize(("drop_c", "for_min"), [(9.0, 30), (40.0, 2)])
def test_shallow_and_short_drops_are_no_falls(drop_c: float, for_min: int) -> None:
    """Less than 10 degC, or gone in the averaging."""
    minutes = _on_plan(76.0, 4.0)
    minutes.gas_c[_between(minutes, 78.0, 78.0 + for_min / 60.0), MIDDLE] -= drop_c

    assert true_falls(SPEC, minutes) == []


def test_two_drops_close_together_are_one_fall() -> None:
    """A break under 10 min is closed."""
    minutes = _on_plan(76.0, 4.0)
    for begin_h in (78.0, 78.4):
        minutes.gas_c[_between(minutes, begin_h, begin_h + 0.25), MIDDLE] -= 60.0

    assert len(true_falls(SPEC, minutes)) == 1


def test_closed_kiln_does_not_fall() -> None:
    """It cools, which is what it should do."""
    minutes = _on_plan(86.0, 6.0)
    closed = minutes.hour > 88.0
    minutes.ware_c[closed] -= 60.0 * (minutes.hour[closed, None] - 88.0)
    minutes.gas_c[:] = minutes.ware_c

    assert true_falls(SPEC, minutes) == []


@pytest.mark.parametrize(("for_min", "stalls"), [(60, 1), (20, 0)])
def test_kiln_that_stands_still_stalls(for_min: int, stalls: int) -> None:
    """An hour without climb where the plan climbs at 24 degC/h is a stall; 20 min flat are not, seen over 20 min."""
    minutes = _on_plan(74.0, 6.0)
    flat = _between(minutes, 76.0, 76.0 + for_min / 60.0)
    after = minutes.hour > 76.0 + for_min / 60.0
    level = minutes.ware_c[flat, MIDDLE][0]
    minutes.ware_c[after, MIDDLE] -= minutes.ware_c[flat, MIDDLE][-1] - level
    minutes.ware_c[flat, MIDDLE] = level
    found = true_stalls(SPEC, minutes)

    assert len(found) == stalls
    for span in found:
        assert span.begin_h == pytest.approx(76.0, abs=0.15)
        assert span.end_h == pytest.approx(77.0, abs=0.15)


def test_kiln_well_ahead_of_its_plan_may_rest() -> None:
    """More than 10 degC above the plan it is waiting, not stalling."""
    minutes = _on_plan(74.0, 3.0)
    minutes.ware_c[:, MIDDLE] = minutes.ware_c[-1, MIDDLE] + 11.0

    assert true_stalls(SPEC, minutes) == []


def test_gentle_climb_is_judged_over_ninety_minutes() -> None:
    """Where the plan climbs at 16 degC/h, standing still has to last an hour."""
    minutes = _on_plan(80.0, 4.0)
    still = minutes.hour > 82.0
    minutes.ware_c[still, MIDDLE] = minutes.ware_c[still, MIDDLE][0]

    assert len(true_stalls(SPEC, minutes)) == 1
    assert true_stalls(SPEC, minutes)[0].begin_h > 82.0


def _truth_of(scenario: str, begin_h: float, hours: float, live_h: float = 0.0) -> tuple[list[Span], list[Span]]:
    firing = Firing(SPEC, find_scenario(scenario), seed=1, lit=1_764_000_000, live_h=live_h)
    firing.hurry_to(round(begin_h * 3600))
    minutes = minute_means(firing.run(round(hours * 3600) // FINE_S))
    return true_falls(SPEC, minutes), true_stalls(SPEC, minutes)


def test_minute_means_are_labelled_with_the_middle_of_their_minute() -> None:
    """Twelve steps a minute, an unfinished minute left out."""
    firing = Firing(SPEC, find_scenario("steady"), seed=1, lit=1_764_000_000)
    firing.hurry_to(3600)
    trace = firing.run(25)
    minutes = minute_means(trace)

    np.testing.assert_allclose(minutes.hour, [1.0 + 0.5 / 60.0, 1.0 + 1.5 / 60.0])
    np.testing.assert_allclose(minutes.gas_c[1], trace.gas_c[12:24].mean(axis=0))


def test_good_firing_is_without_falls_and_stalls() -> None:
    """The scenario `steady`, from the climb to the closing, with the default seed."""
    assert _truth_of("steady", 60.0, 28.0) == ([], [])


def test_night_watch_falls_about_an_hour_after_going_live() -> None:
    """The demonstration: a first fall begins 60 to 75 min after the first live scan."""
    live_h = SPEC.stage("high-fire").start_h
    falls, _ = _truth_of("night-watch", live_h - 2.0, 4.0, live_h)

    assert 60.0 <= (falls[0].begin_h - live_h) * 60.0 <= 75.0
    assert 15.0 <= (falls[0].end_h - falls[0].begin_h) * 60.0 <= 90.0


def test_sleepy_watch_lets_the_chamber_fall() -> None:
    """Falls while the watch dozes from 79 h on."""
    falls, _ = _truth_of("sleepy-watch", 74.0, 8.0)

    assert any(f.begin_h < 79.6 and f.end_h > 79.2 for f in falls)


def test_choked_bed_stalls_the_kiln_until_it_is_raked() -> None:
    """Over-fed from 75 h to 79 h: a stall of more than an hour begins in it and ends within an hour after."""
    _, stalls = _truth_of("choked", 74.0, 8.0)

    assert len(stalls) == 1
    assert 75.0 < stalls[0].begin_h < 78.0
    assert stalls[0].end_h - stalls[0].begin_h > 1.0
    assert 78.5 < stalls[0].end_h < 80.0


def test_door_ajar_makes_the_chamber_fall() -> None:
    """The fall begins with the cold air at 58 h."""
    falls, _ = _truth_of("door-ajar", 56.0, 4.0)

    assert 57.9 < falls[0].begin_h < 58.6


def test_open_probe_changes_nothing_in_the_kiln() -> None:
    """A sensor's fault is none of the kiln's."""
    assert _truth_of("open-probe", 77.0, 4.0) == _truth_of("steady", 77.0, 4.0)
