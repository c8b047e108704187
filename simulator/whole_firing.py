"""A firing worked out in one go with its truth, by default from lighting into the cooling."""

from collections.abc import Callable
from dataclasses import replace

from simulator.firing import FINE_S, Firing, Trace
from simulator.run import LIVE_EVERY_S, Course, course_of
from simulator.script.scenarios import Scenario
from simulator.spec.kiln_file import KilnSpec
from simulator.truth.minutes import MinuteKeeper
from simulator.truth.whole import Truth, true_of

LIT = 1_764_000_000
"""When it is lit, epoch seconds."""
LIVE_IN = "high-fire"
"""Stage in which a run of it would go live, so that a scenario which counts from there happens where it matters."""
COOLING_SHOWN_H = 8.0
"""Hours after the plan's end at which it ends."""
BLOCK_S = 3600


def whole_course(spec: KilnSpec, lit: int = LIT) -> Course:
    """Return the course of a whole firing lit at epoch second `lit`, a scan a second from the first to the last."""
    live_h = next((s.start_h for s in spec.stages if s.name == LIVE_IN), 0.0)
    end_h = spec.points[-1][0] + COOLING_SHOWN_H
    course = course_of(lit, live_h=live_h, lead_in_h=live_h, duration_h=end_h - live_h)
    return replace(course, past_every_s=LIVE_EVERY_S)


def fire(
    spec: KilnSpec,
    scenario: Scenario,
    course: Course,
    *,
    seed: int,
    on_block: Callable[[Firing, Trace], None] | None = None,
) -> Truth:
    """Fire `spec` as `scenario` and `course` say and return what was true; `on_block` gets every hour of it.

    A course without end goes on until a whole firing ends.
    """
    firing = Firing(spec, scenario, seed=seed, lit=course.lit, live_h=course.live_h)
    firing.hurry_to(course.live_s - course.lead_in_s)
    duration_s = course.duration_s
    until_s = _end_s(spec) if duration_s is None else course.live_s + duration_s
    keeper = MinuteKeeper()
    while firing.clock_s < until_s:
        trace = firing.run(min(BLOCK_S, until_s - firing.clock_s) // FINE_S)
        keeper.add(trace)
        if on_block is not None:
            on_block(firing, trace)
    return true_of(firing, keeper.minutes(), seed=seed)


def _end_s(spec: KilnSpec) -> int:
    course = whole_course(spec)
    return course.live_s + (course.duration_s or 0)
