"""Spans are cut to what a recording holds."""

from monitor.model import FindingKind
from simulator.truth.spans import TrueSpan, within


def test_spans_are_cut_to_the_recording() -> None:
    """What reaches over an end is cut there; what lies outside or only touches is left out."""
    hours = [(1.0, 2.0), (1.0, 5.0), (4.0, 6.0), (9.0, 12.0), (10.0, 12.0)]
    spans = [TrueSpan(FindingKind.STALL, a, b) for a, b in hours]

    assert [(s.begin_h, s.end_h) for s in within(spans, 2.0, 10.0)] == [(2.0, 5.0), (4.0, 6.0), (9.0, 10.0)]
