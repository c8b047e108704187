"""A firing in one go: all of it, with its truth."""

from dataclasses import replace

import pytest

from simulator.firing import Firing, Trace
from simulator.run import Course, course_of
from simulator.script.scenarios import find_scenario
from simulator.spec.kiln_file import load_kiln
from simulator.whole_firing import LIT, fire, whole_course

SPEC = load_kiln("demo")
STEADY = find_scenario("steady")


def test_whole_course_reaches_from_lighting_into_the_cooling() -> None:
    """Live in high fire, all before it recorded, eight hours beyond the plan's end."""
    course = whole_course(SPEC)

    assert course.lead_in_s == course.live_s
    assert course.live_h == SPEC.stage("high-fire").start_h
    assert course.live_h + (course.duration_s or 0) / 3600.0 == pytest.approx(SPEC.points[-1][0] + 8.0)


def test_truth_is_that_of_the_recorded_hours() -> None:
    """Half an hour of past and one of life, in blocks of an hour at most."""
    blocks: list[tuple[int, int]] = []

    def note(firing: Firing, trace: Trace) -> None:
        blocks.append((firing.clock_s, len(trace.clock_s)))

    course = course_of(LIT, live_h=1.0, lead_in_h=0.5, duration_h=1.0)
    truth = fire(SPEC, STEADY, course, seed=1, on_block=note)

    assert blocks == [(5400, 720), (7200, 360)]
    assert (truth.minutes.begin_h, truth.minutes.end_h) == pytest.approx((0.5, 2.0))


def test_course_without_end_goes_on_until_a_whole_firing_ends() -> None:
    """Of a kiln whose plan is over an hour after lighting; closed up from half an hour on, nothing is judged."""
    stages = (SPEC.stages[0], replace(SPEC.stages[-1], begin_h=0.5))
    short = replace(SPEC, stages=stages, points=((0.0, 15.0), (1.0, 30.0)))
    truth = fire(short, STEADY, Course(LIT, live_s=8 * 3600), seed=1)

    assert (truth.minutes.begin_h, truth.minutes.end_h) == pytest.approx((8.0, 9.0))
    assert (truth.stokes, truth.spans) == ((), ())
