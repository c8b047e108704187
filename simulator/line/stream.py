"""Where a run goes: over a line to a host at any speed, or into a recording."""

import gzip
import sys
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Protocol

from monitor.model import Entry, Scan
from monitor.wire.entry_line import write_entry
from monitor.wire.pack import write_pack
from monitor.wire.recording import tick_lines
from simulator.firing import FINE_S
from simulator.line.delivery import Beginning, Delivery, delivered
from simulator.line.faulty_line import Sending, Turn
from simulator.line.heartbeat import parse_heartbeat
from simulator.line.line_noise import Noise
from simulator.line.line_spells import LineSpells
from simulator.line.pace import Pace
from simulator.run import Run

LIVE_BLOCK_S = 60
"""How far ahead of the live scans the kiln is worked out at most, seconds of kiln time."""
LIVE_AHEAD_S = 0.5
"""How far ahead it is worked out at most, seconds of life: so late does a hand on the kiln show."""
RECORDING_BLOCK_S = 3600


class Line(Protocol):
    """A node's end of a line to a host. What sends or waits returns False if told to stop before it is done."""

    def send_pack(self, payload: bytes) -> bool:
        """Send a pack, waiting while the line takes no more."""

    def send_noise(self, noise: bytes) -> bool:
        """Send bytes as they are."""

    def turn(self, turn: Turn) -> None:
        """Bring about a fault of the line itself, or end it."""

    def wait_until(self, due: float) -> bool:
        """Listen until the monotonic clock says `due`."""

    def words(self) -> list[bytes]:
        """Return what the host said since the last call."""


@dataclass(frozen=True, slots=True)
class Streamed:
    """How many scans of the kiln were sent off, and how late the latest was, seconds of life."""

    scans: int
    worst_late_s: float


class _Stream:
    """One run on its way over a line."""

    def __init__(self, run: Run, line: Line) -> None:
        self._line = line
        self._delivery = Delivery(run.firing.spells, _beginning(run))
        self.scans = 0

    def send(self, scan: Scan) -> bool:
        """Send whatever the kiln's `scan` leads to; return False if told to stop."""
        now_s = time.monotonic()
        for word in self._line.words():
            heartbeat = parse_heartbeat(word)
            if heartbeat is not None:
                self._delivery.heard(heartbeat.boot, heartbeat.seq, now_s)
        self.scans += 1
        return all(self._put(sending) for sending in self._delivery.step(scan, now_s))

    def _put(self, sending: Sending) -> bool:
        what = sending.what
        if isinstance(what, Turn):
            self._line.turn(what)
            return True
        if isinstance(what, Noise):
            return self._line.send_pack(what.payload) if what.is_pack else self._line.send_noise(what.payload)
        return self._line.send_pack(write_pack(what))


def tell(words: str) -> None:
    """Write a line to the person who started the simulator."""
    print(f"nightstoke-sim: {words}", file=sys.stderr, flush=True)


def stream_run(run: Run, line: Line, speed: float | None, report: Callable[[str], None] = tell) -> Streamed:
    """Send the lead-in as fast as it is read, then live scans `speed` times life (None: as fast).

    The node keeps what the host has not reported committed, and sends it again as a real one does. `report` is told
    in words when the stream falls behind.
    """
    stream, pace = _Stream(run, line), Pace()
    for scan in run.lead_in():
        if not stream.send(scan):
            return Streamed(stream.scans, pace.worst_s)
    begun: float | None = None
    first_time = 0.0
    for scan in run.live(_block_s(speed)):
        if begun is None:
            begun, first_time = time.monotonic(), scan.time
        if speed is not None:
            due = begun + (scan.time - first_time) / speed
            if not line.wait_until(due):
                break
            _tell_lateness(pace, due, report)
        if not stream.send(scan):
            break
    return Streamed(stream.scans, pace.worst_s)


def _block_s(speed: float | None) -> int:
    """Return how far ahead of live scans the kiln is worked out at `speed`, seconds of kiln time."""
    if speed is None:
        return LIVE_BLOCK_S
    return min(max(int(LIVE_AHEAD_S * speed) // FINE_S * FINE_S, FINE_S), LIVE_BLOCK_S)


def _tell_lateness(pace: Pace, due: float, report: Callable[[str], None]) -> None:
    now = time.monotonic()
    words = pace.note(now - due, now)
    if words is not None:
        report(words)


def record_run(run: Run, path: Path, log: Sequence[Entry] = ()) -> int:
    """Write the whole run to `path`, one pack a line, packed if it ends in .gz; return the number of scans.

    `log` is what the crew told, in order of its clock; what was told before or after the run is left out. With faults
    of node or line it is written as a host received it, in order of arrival, with host lines that carry the arrival
    clock.
    """
    count = 0
    with _open_recording(path) as file:
        is_faulty = bool(LineSpells(run.firing.spells, 0.0).all)
        told = deque(log)
        for at, line, is_scan in _faulty_lines(run) if is_faulty else _plain_lines(run):
            while told and told[0].clock <= at:
                entry = told.popleft()
                if count:
                    file.write(write_entry(entry) + b"\n")
            file.write(line)
            count += is_scan
    return count


def _plain_lines(run: Run) -> Iterator[tuple[float, bytes, bool]]:
    """Yield clock, line and whether it is a scan."""
    for scan in _all_scans(run):
        yield scan.time, write_pack(scan) + b"\n", True


def _faulty_lines(run: Run) -> Iterator[tuple[float, bytes, bool]]:
    """Yield clock, line and whether it is a scan."""
    delivery = Delivery(run.firing.spells, _beginning(run))
    clock: float | None = None
    for sending in delivered(_all_scans(run), delivery):
        if isinstance(sending.what, Turn):
            continue
        if clock is None or sending.at > clock:
            for tick in tick_lines(clock, sending.at):
                yield sending.at, tick, False
            clock = sending.at
        if isinstance(sending.what, Noise):
            yield clock, sending.what.payload.removesuffix(b"\n") + b"\n", False
        else:
            yield clock, write_pack(sending.what) + b"\n", True
    for tick in tick_lines(clock, delivery.now):
        yield delivery.now, tick, False


def _all_scans(run: Run) -> Iterator[Scan]:
    yield from run.lead_in()
    yield from run.live(RECORDING_BLOCK_S)


def _beginning(run: Run) -> Beginning:
    """Return where `run`, not begun yet, begins."""
    firing = run.firing
    return Beginning(firing.lit, firing.lit + firing.clock_s, firing.spec.node, run.seed)


@contextmanager
def _open_recording(path: Path) -> Iterator[IO[bytes] | gzip.GzipFile]:
    """Open `path` for writing; a packed one carries no name and no time, so that the same run gives the same bytes."""
    with path.open("wb") as raw:
        if path.suffix != ".gz":
            yield raw
            return
        with gzip.GzipFile(filename="", mode="wb", compresslevel=3, fileobj=raw, mtime=0) as packed:
            yield packed
