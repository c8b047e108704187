"""A run: lead-in, then live."""

from itertools import islice

import numpy as np

from simulator.firing import Trace
from simulator.run import Run, course_of
from simulator.script.scenarios import find_scenario
from simulator.spec.kiln_file import load_kiln

SPEC = load_kiln("demo")
LIT = 1_764_000_000


def test_lead_in_comes_before_live_without_gap() -> None:
    """Six minutes of past at one scan per 10 s, then one a second, numbered through."""
    run = Run(SPEC, find_scenario("steady"), course_of(LIT, live_h=2.0, lead_in_h=0.1, duration_h=0.01), seed=1)
    past, live = list(run.lead_in()), list(run.live(60))

    begin = LIT + 7200
    assert [s.time for s in past] == [begin - 360 + 10 * n for n in range(1, 37)]
    assert [s.time for s in live] == [begin + n for n in range(1, 36)]
    assert [s.seq for s in past + live] == list(range(36 + 35))


def test_run_without_duration_does_not_end() -> None:
    """It goes on past any block."""
    run = Run(SPEC, find_scenario("steady"), course_of(LIT, live_h=0.0), seed=1)

    assert len(list(islice(run.live(5), 100))) == 100


def test_truth_is_handed_out_with_the_scans() -> None:
    """All of it, in order, lead-in and live."""
    traces: list[Trace] = []
    course = course_of(LIT, live_h=1.0, lead_in_h=0.5, duration_h=0.1)
    run = Run(SPEC, find_scenario("steady"), course, seed=1, on_trace=traces.append)
    list(run.lead_in())
    list(run.live(60))

    clock_s = np.concatenate([t.clock_s for t in traces])
    np.testing.assert_array_equal(clock_s, np.arange(1805.0, 3600.0 + 360.0 + 1.0, 5.0))
    assert len(run.firing.deeds) > 0


def test_past_cannot_begin_before_lighting() -> None:
    """A lead-in longer than the firing is cut."""
    course = course_of(LIT, live_h=1.0, lead_in_h=6.0)

    assert course.lead_in_s == course.live_s == 3600


def test_hours_are_cut_to_whole_steps() -> None:
    """A tenth of a second more or less does not matter."""
    assert course_of(LIT, live_h=1.00003, duration_h=0.50003).duration_s == 1800
