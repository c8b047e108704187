"""Recordings in and out."""

import json
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.model import Arrival, Entry, EntryKind, Reading, Scan, Tick
from monitor.wire.entry_line import write_entry
from monitor.wire.pack import write_pack, write_tick
from monitor.wire.recording import NO_CLOCK, RecordingReader, by_clock, export_lines

T = 1764000000.0


def scan(time: float, seq: int = 0) -> Scan:
    """Make a small scan."""
    return Scan("shed-1", time, (Reading("shed-1/t1", emf_volts=0.01),), boot="a", seq=seq)


def test_host_lines_carry_the_clock() -> None:
    """With host lines an arrival has the clock of the last host line, whatever its own time."""
    reader = RecordingReader()
    lines = [write_tick(T + 1), write_pack(scan(T - 50)), write_tick(T + 2), write_pack(scan(T + 90, 1))]

    assert list(reader.events(lines)) == [
        Tick(T + 1),
        Arrival(scan(T - 50), T + 1),
        Tick(T + 2),
        Arrival(scan(T + 90, 1), T + 2),
    ]
    assert reader.has_host_lines
    assert (reader.counts.lines, reader.counts.scans, reader.counts.ticks) == (4, 2, 2)


def test_without_host_lines_the_highest_scan_time_is_the_clock() -> None:
    """A scan from before, late in its place, does not turn the clock back."""
    reader = RecordingReader()
    lines = [write_pack(scan(T)), write_pack(scan(T + 5, 2)), write_pack(scan(T + 1, 1))]

    assert [event.clock for event in reader.events(lines)] == [T, T + 5, T + 5]
    assert not reader.has_host_lines


def test_clock_of_host_lines_never_goes_back() -> None:
    """A host line with an earlier clock lets the clock stand still."""
    events = RecordingReader().events([write_tick(T + 5), write_tick(T), write_pack(scan(T))])

    assert [event.clock for event in events] == [T + 5, T + 5, T + 5]


def test_each_scan_of_a_pack_is_an_arrival() -> None:
    """Several scans in one line arrive one behind the other."""
    pack = [{"bn": "n/", "bt": T, "n": "seq", "v": 1, "t": -1}, {"n": "seq", "v": 2}]
    events = list(RecordingReader().events([json.dumps(pack).encode()]))

    assert events == [Arrival(Scan("n", T - 1, (), seq=1), T - 1), Arrival(Scan("n", T, (), seq=2), T)]


def test_broken_lines_are_counted_by_kind_and_skipped() -> None:
    """Broken lines cost nothing but themselves; empty ones are none; a pack without a scan is counted apart."""
    reader = RecordingReader()
    lines = [b"hello\n", b"\n", b"  \r\n", b'[{"n":"seq","v":true}]\n', b"[]\n", write_pack(scan(T)) + b"\r\n", b"[{"]

    assert list(reader.events(lines)) == [Arrival(scan(T), T)]
    assert reader.counts.broken == {"not-json": 2, "wrong-type": 1}
    assert (reader.counts.lines, reader.counts.without_scan, reader.counts.scans) == (5, 1, 1)


def test_relative_time_needs_a_clock() -> None:
    """A relative time is passed on once anything said what time it is, and is a broken line before."""
    reader = RecordingReader()
    relative = write_pack(scan(-3.0))

    assert list(reader.events([relative, write_pack(scan(T, 1)), relative])) == [
        Arrival(scan(T, 1), T),
        Arrival(scan(-3.0), T),
    ]
    assert reader.counts.broken == {NO_CLOCK: 1}


def test_export_tells_the_clock_before_each_scan_and_each_second() -> None:
    """A gap is filled by one host line a second, and the clock goes on to the end of the live run."""
    arrivals = [Arrival(scan(T, 0), T + 0.25), Arrival(scan(T + 1, 1), T + 0.25), Arrival(scan(T + 3, 2), T + 3.5)]
    lines = list(export_lines(arrivals, until=T + 5.0))
    clocks = [event.clock for event in RecordingReader().events(lines) if isinstance(event, Tick)]

    assert clocks == [T + 0.25, T + 1.25, T + 2.25, T + 3.25, T + 3.5, T + 4.5, T + 5]
    assert all(line.endswith(b"]\n") for line in lines)


def test_entries_are_told_at_their_clock() -> None:
    """Among scans by clock, after the host line of that clock; read again, their clock never goes back."""
    closed = Entry("a1", T + 2.5, T + 1.0, EntryKind.CLOSED_UP, who="Ana")
    arrivals = [Arrival(scan(T, 0), T), Arrival(scan(T + 3, 1), T + 3)]
    lines = list(export_lines(by_clock(arrivals, [closed])))
    events = [event for event in RecordingReader().events(lines) if not isinstance(event, Tick)]
    late = RecordingReader()
    found = list(late.events([write_tick(T + 9), write_entry(closed), b'[{"bn":"host/","n":"entry","vs":"sang"}]']))

    assert events == [arrivals[0], closed, arrivals[1]]
    assert lines.index(write_entry(closed) + b"\n") == lines.index(write_tick(T + 2.5) + b"\n") + 1
    assert [event.clock for event in found] == [T + 9, T + 9]
    assert (late.counts.entries, dict(late.counts.broken)) == (1, {"range": 1})


@pytest.mark.parametrize("until", [None, T - 100.0])
def test_export_ends_with_its_last_scan_unless_told_otherwise(until: float | None) -> None:
    """Without a later end of the live run the last scan is the last line."""
    assert list(export_lines([Arrival(scan(T), T)], until)) == [write_tick(T) + b"\n", write_pack(scan(T)) + b"\n"]


def test_export_of_nothing_is_nothing() -> None:
    """Without a scan there is no clock to tell."""
    assert list(export_lines([], until=T)) == []


def test_export_streams_a_long_gap() -> None:
    """A gap of a year is not held in memory: its first lines come at once."""
    lines = export_lines([Arrival(scan(T), T), Arrival(scan(T + 3e7, 1), T + 3e7)])

    assert [next(lines) for _ in range(4)][2:] == [write_tick(T + 1) + b"\n", write_tick(T + 2) + b"\n"]


@given(st.lists(st.tuples(st.floats(0, 20), st.floats(-40, 5)), min_size=1, max_size=20))
def test_export_reads_back_as_the_same_arrivals(steps: list[tuple[float, float]]) -> None:
    """What is exported and read again is every arrival with its clock, and never more than a second between clocks."""
    arrivals = []
    clock = T
    for seq, (wait_s, offset_s) in enumerate(steps):
        clock += wait_s
        arrivals.append(Arrival(scan(clock + offset_s, seq), clock))
    events = list(RecordingReader().events(export_lines(arrivals)))

    assert [event for event in events if isinstance(event, Arrival)] == arrivals
    clocks = [event.clock for event in events]
    assert all(0 <= b - a <= 1.0 for a, b in pairwise(clocks))
