"""What counts as a stall, worked by hand on made-up minutes.

Where k of the steps in a window of 2 h steps climb by r and the rest do not, the least-squares slope is
r k (k + 1) (3 h - k + 1) / (2 h (h + 1) (2 h + 1)). For 20 min and 30 degC/h k = 4 gives 3.5, k = 5 gives 5.06 degC/h;
for 90 min and 12 degC/h k = 29 gives 2.97 and k = 30 gives 3.14.
"""

from dataclasses import replace

import numpy as np
import pytest

from monitor.model import FloatArray
from simulator.spec.kiln_file import KilnSpec, load_kiln
from simulator.truth.minutes import Minutes
from simulator.truth.spans import TrueSpan
from simulator.truth.stalls import true_stalls

DEMO = load_kiln("demo")
STAGES = (
    replace(DEMO.stages[0], name="high-fire", begin_h=0.0, interval_min=4.0),
    replace(DEMO.stages[0], name="cooling", begin_h=20.0, interval_min=0.0),
)
STEEP = replace(DEMO, stages=STAGES, points=((0.0, 600.0), (20.0, 1200.0)))
"""30 degC/h all the way."""
GENTLE = replace(DEMO, stages=STAGES, points=((0.0, 600.0), (20.0, 840.0)))
"""12 degC/h: a quarter is 3."""


def _course(spec: KilnSpec, climbs: list[tuple[int, float]], ahead_c: float = 0.0) -> Minutes:
    """Return minutes from hour 2 on whose guiding ware climbs for so many minutes at so many degC/h, plan first."""
    c_per_h = np.concatenate([np.full(count, climb) for count, climb in climbs])
    count = len(c_per_h)
    hour = 2.0 + (np.arange(count) + 0.5) / 60.0
    first_c = float(np.interp(hour[0], *np.array(spec.points).T)) + ahead_c
    ware_c = first_c + np.concatenate([[0.0], np.cumsum(c_per_h[1:])]) / 60.0
    return _minutes(spec, hour, ware_c)


def _minutes(spec: KilnSpec, hour: FloatArray, guide_c: FloatArray) -> Minutes:
    count = len(hour)
    zones = np.zeros((count, len(spec.zones)))
    ware_c = zones.copy()
    ware_c[:, spec.zone_index(spec.guide_zone)] = guide_c
    junction_c = np.zeros((count, len(spec.sensors)))
    return Minutes(hour, zones, ware_c, junction_c, zones, zones, hour * 0.0, zones, hour * 0.0)


def _from_minute(spans: list[TrueSpan]) -> list[tuple[int, int]]:
    return [(round((s.begin_h - 2.0) * 60), round((s.end_h - 2.0) * 60)) for s in spans]


def _stalls(spec: KilnSpec, climbs: list[tuple[int, float]], ahead_c: float = 0.0) -> list[tuple[int, int]]:
    return _from_minute(true_stalls(spec, _course(spec, climbs, ahead_c)))


def test_kiln_on_its_plan_does_not_stall() -> None:
    """At 30 and at 12 degC/h."""
    assert _stalls(STEEP, [(300, 30.0)]) == []
    assert _stalls(GENTLE, [(300, 12.0)]) == []


@pytest.mark.parametrize(("climb_c_h", "stalls"), [(4.9, 1), (5.0 + 1e-6, 0), (-40.0, 1)])
def test_slope_below_five_is_a_stall(climb_c_h: float, stalls: int) -> None:
    """For an hour and a half, where the plan asks for 30 degC/h."""
    assert len(_stalls(STEEP, [(120, 30.0), (90, climb_c_h), (120, 30.0)])) == stalls


def test_slope_of_twenty_minutes_says_from_when_to_when() -> None:
    """Flat for an hour from minute 120 on: at most 4 of the 20 steps may climb."""
    assert _stalls(STEEP, [(120, 30.0), (60, 0.0), (120, 30.0)]) == [(125, 174)]


@pytest.mark.parametrize(("flat_min", "stalls"), [(31, [(125, 145)]), (30, [])])
def test_stall_has_to_last_twenty_minutes(flat_min: int, stalls: list[tuple[int, int]]) -> None:
    """The window takes 11 min of what is flat."""
    assert _stalls(STEEP, [(120, 30.0), (flat_min, 0.0), (120, 30.0)]) == stalls


@pytest.mark.parametrize(("flat_min", "stalls"), [(91, [(135, 195)]), (90, [])])
def test_gentle_climb_is_judged_over_ninety_minutes_and_has_to_last_an_hour(
    flat_min: int, stalls: list[tuple[int, int]]
) -> None:
    """Where the plan climbs at 12 degC/h the slope has to be below 3: at most 29 of the 90 steps may climb."""
    assert _stalls(GENTLE, [(120, 12.0), (flat_min, 0.0), (160, 12.0)]) == stalls


@pytest.mark.parametrize(
    ("plan_c_h", "climb_c_h", "stalls"),
    [
        (20.0, 4.9, 1),  # the quick rule: below 5
        (20.0, 5.1, 0),
        (19.9, 4.9, 1),  # the slow one: below a quarter of the plan
        (19.9, 5.1, 0),
        (8.0, 1.9, 1),
        (8.0, 2.1, 0),
        (7.9, 1.9, 0),  # such a plan holds
    ],
)
def test_plan_says_which_rule_counts(plan_c_h: float, climb_c_h: float, stalls: int) -> None:
    """The ware climbs steadily for four hours, far below plan."""
    spec = replace(STEEP, points=((0.0, 600.0), (20.0, 600.0 + 20.0 * plan_c_h)))

    assert len(_stalls(spec, [(240, climb_c_h)], ahead_c=-100.0)) == stalls


@pytest.mark.parametrize(("between_min", "stalls"), [(4, [(125, 240)]), (5, [(125, 180), (185, 240)])])
def test_breaks_under_five_minutes_are_closed(between_min: int, stalls: list[tuple[int, int]]) -> None:
    """The plan holds for four and for five minutes in the middle of a long standstill."""
    points = ((0.0, 600.0), (5.0, 750.0), (5.0 + between_min / 60.0, 750.0), (6.0, 780.0), (6.01, 780.0), (20.0, 780.0))

    assert _stalls(replace(STEEP, points=points), [(120, 30.0), (180, 0.0)]) == stalls


@pytest.mark.parametrize(("ahead_c", "stalls"), [(0.0, [(125, 204)]), (25.0, [(150, 204)]), (60.0, [])])
def test_kiln_well_ahead_of_its_plan_may_rest(ahead_c: float, stalls: list[tuple[int, int]]) -> None:
    """10 degC above the plan or more it waits; 25 ahead it is 10 ahead after half an hour of standing still."""
    assert _stalls(STEEP, [(120, 30.0), (90, 0.0), (60, 30.0)], ahead_c) == stalls


def test_standstill_across_a_bend_of_the_plan_is_one_stall() -> None:
    """From 30 to 12 degC/h at hour 5: the quick rule before it, the slow one after."""
    spec = replace(STEEP, points=((0.0, 600.0), (5.0, 750.0), (20.0, 930.0)))

    assert _stalls(spec, [(120, 30.0), (300, 0.0)]) == [(125, 420)]


def test_closing_up_ends_a_stall() -> None:
    """The ware of a kiln that is closed up does not climb any more, and need not."""
    minutes = _course(STEEP, [(1000, 30.0), (300, 0.0)])
    (stall,) = true_stalls(STEEP, minutes)

    assert stall.end_h == pytest.approx(20.0)


@pytest.mark.parametrize(
    ("climbs", "stalls"),
    [
        ([(240, 30.0), (120, 0.0)], [(245, 300)]),  # the last 3 h hold 120 min of 30 degC/h: 20 degC/h
        ([(240, 19.0), (120, 0.0)], []),
        ([(120, 30.0), (58, 0.0)], []),  # not yet 3 h known
    ],
)
def test_without_a_plan_the_last_three_hours_are_the_measure(
    climbs: list[tuple[int, float]], stalls: list[tuple[int, int]]
) -> None:
    """20 degC/h over them or more, however the site's plan would have it."""
    assert _from_minute(true_stalls(STEEP, _course(STEEP, climbs, 60.0), has_plan=False)) == stalls


def test_without_a_plan_a_hold_that_the_crew_means_is_no_stall() -> None:
    """The crew's own course climbs at less than 8 degC/h from hour 6 on, and less than that is no excuse before."""
    holding = replace(STEEP, points=((0.0, 600.0), (6.0, 780.0), (20.0, 880.0)))
    minutes = _course(holding, [(240, 30.0), (120, 0.0)])

    assert true_stalls(holding, minutes, has_plan=False) == []
