"""Minutes are means of twelve steps, however the run is cut into blocks."""

from dataclasses import fields
from itertools import pairwise

import numpy as np
import pytest

from monitor.model import FindingKind, FloatArray
from simulator.firing import FINE_S, Trace
from simulator.truth.minutes import SERIES, MinuteKeeper, Minutes, minute_means, spans_of

ZONES, SENSORS = 3, 2


def _trace(steps: int, begun_s: float = 3600.0) -> Trace:
    """Return a trace of made-up numbers."""
    rng = np.random.default_rng(5)
    two_axes = {"junction_c": SENSORS}
    flat = {"shed_c", "door", "embers_kg", "unburnt_w"}

    def series(name: str) -> FloatArray:
        if name == "clock_s":
            return np.asarray(begun_s + FINE_S * np.arange(1, steps + 1, dtype=np.float64))
        shape = (steps,) if name in flat else (steps, two_axes.get(name, ZONES))
        return rng.uniform(0.0, 1300.0, shape)

    return Trace(**{f.name: series(f.name) for f in fields(Trace)})


def _cut(trace: Trace, edges: list[int]) -> list[Trace]:
    bounds = [0, *edges, len(trace.clock_s)]
    return [Trace(*(getattr(trace, f.name)[a:b] for f in fields(Trace))) for a, b in pairwise(bounds)]


def test_minutes_are_labelled_with_their_middle() -> None:
    """Twelve steps a minute, an unfinished minute left out."""
    trace = _trace(25)
    minutes = minute_means(trace)

    np.testing.assert_allclose(minutes.hour, [1.0 + 0.5 / 60.0, 1.0 + 1.5 / 60.0])
    np.testing.assert_allclose(minutes.gas_c[1], trace.gas_c[12:24].mean(axis=0))
    assert minutes.begin_h == pytest.approx(1.0)
    assert minutes.end_h == pytest.approx(1.0 + 2.0 / 60.0)


@pytest.mark.parametrize("edges", [[12, 24], [1, 2, 30], [5, 6, 7, 100, 101, 119], [119]])
def test_cut_makes_no_difference(edges: list[int]) -> None:
    """To the last bit."""
    trace = _trace(120)
    keeper = MinuteKeeper()
    for part in _cut(trace, edges):
        keeper.add(part)
    whole, cut = minute_means(trace), keeper.minutes()

    for name in ("hour", *SERIES):
        np.testing.assert_array_equal(getattr(whole, name), getattr(cut, name))


def test_minutes_until_an_hour_are_those_before_it() -> None:
    """Cut at the end of the third of five."""
    until = minute_means(_trace(60)).until(1.0 + 3.0 / 60.0)

    assert isinstance(until, Minutes)
    assert len(until.hour) == len(until.ware_c) == len(until.door) == 3


def test_marked_minutes_become_spans_from_edge_to_edge() -> None:
    """With the names of the zones that were marked somewhere in each."""
    minutes = minute_means(_trace(72))
    on = np.array([False, True, True, False, True, False])
    front = np.array([False, False, True, False, False, False])
    spans = spans_of(FindingKind.FALL, minutes, on, {"front": front, "back": on})

    assert [(round(s.begin_h * 60.0, 6), round(s.end_h * 60.0, 6), s.zones) for s in spans] == [
        (61.0, 63.0, ("front", "back")),
        (64.0, 65.0, ("back",)),
    ]
