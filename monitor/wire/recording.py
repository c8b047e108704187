"""A recording: one pack per line, in order of arrival; host lines carry the arrival clock and what people told.

Reading turns lines into events; writing turns stored arrivals and entries into lines. Opening and unpacking files is
the caller's. Times stay as sent: mapping relative ones is `node_clock.py`, identity and order `sequence.py`.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from heapq import merge
from typing import Final

from monitor.model import Arrival, Entry, Event, Scan, Tick
from monitor.wire.entry_line import write_entry
from monitor.wire.fields import RELATIVE_BELOW_S, PackError
from monitor.wire.pack import parse_line, write_pack, write_tick

NO_CLOCK: Final = "no-clock"
"""Kind of a broken line whose relative time nothing said before can place."""


@dataclass(slots=True)
class RecordingCounts:
    """What the lines held; `broken` counts skipped lines by kind, `without_scan` packs that told of nothing we know."""

    lines: int = 0
    scans: int = 0
    ticks: int = 0
    entries: int = 0
    without_scan: int = 0
    broken: Counter[str] = field(default_factory=Counter)


class RecordingReader:
    """Lines in, events out, each with the clock of the recording, which never goes back.

    Without host lines the clock is the highest scan time so far; `has_host_lines` turns true with the first host line.
    """

    def __init__(self) -> None:
        self.counts = RecordingCounts()
        self.has_host_lines = False
        self._clock: float | None = None

    def events(self, lines: Iterable[bytes]) -> Iterator[Event]:
        """Yield what `lines` hold; a broken line is counted and skipped, an empty one skipped."""
        for line in lines:
            text = line.strip()
            if text:
                self.counts.lines += 1
                yield from self._line_events(text)

    def _line_events(self, text: bytes) -> Sequence[Event]:
        try:
            told = parse_line(text)
        except PackError as error:
            self.counts.broken[error.reason.value] += 1
            return ()
        if isinstance(told, Tick):
            return (self._tick(told),)
        if isinstance(told, Entry):
            return (self._entry(told),)
        if not told:
            self.counts.without_scan += 1
        return [arrival for scan in told if (arrival := self._arrival(scan)) is not None]

    def _tick(self, tick: Tick) -> Tick:
        self.counts.ticks += 1
        self.has_host_lines = True
        if self._clock is None or tick.clock > self._clock:
            self._clock = tick.clock
        return Tick(self._clock)

    def _entry(self, entry: Entry) -> Entry:
        self.counts.entries += 1
        if self._clock is None or entry.clock > self._clock:
            self._clock = entry.clock
        return replace(entry, clock=self._clock)

    def _arrival(self, scan: Scan) -> Arrival | None:
        if scan.time >= RELATIVE_BELOW_S and not self.has_host_lines:
            self._clock = scan.time if self._clock is None else max(self._clock, scan.time)
        if self._clock is None:
            self.counts.broken[NO_CLOCK] += 1
            return None
        self.counts.scans += 1
        return Arrival(scan, self._clock)


def by_clock(arrivals: Iterable[Arrival], entries: Iterable[Entry]) -> Iterator[Arrival | Entry]:
    """Yield what arrived and what was told, each in order of its clock, as one."""

    def clock(event: Arrival | Entry) -> float:
        return event.clock

    both: tuple[Iterable[Arrival | Entry], ...] = (arrivals, entries)
    return merge(*both, key=clock)


def export_lines(events: Iterable[Arrival | Entry], until: float | None = None) -> Iterator[bytes]:
    """Yield the lines of a recording, each with its newline.

    Host lines carry the arrival clock: one before each scan whose clock is new, and one a second in a gap.
    Long gaps are streamed, not held.

    Args:
        events: what was accepted and told, in order of arrival, times absolute, clocks never going back.
        until: the clock up to which the live run went on after the last of them, epoch seconds; what fell due by time
            alone until then falls due in the replay too.
    """
    clock: float | None = None
    for event in events:
        yield from tick_lines(clock, event.clock)
        clock = event.clock
        yield (write_entry(event) if isinstance(event, Entry) else write_pack(event.scan)) + b"\n"
    if clock is not None and until is not None:
        yield from tick_lines(clock, until)


def tick_lines(told: float | None, clock: float) -> Iterator[bytes]:
    """Yield the host lines that lead from the clock `told` to `clock`, at most one second apart."""
    if told is not None and clock <= told:
        return
    filled = clock if told is None else told + 1.0
    while filled < clock:
        yield write_tick(filled) + b"\n"
        filled += 1.0
    yield write_tick(clock) + b"\n"
