"""Where a run goes: to a pseudo-terminal at any speed, or into a recording."""

import gzip
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from monitor.model import Scan
from monitor.wire.line import frame_line
from monitor.wire.pack import write_pack
from simulator.pseudo_terminal import PseudoTerminal
from simulator.run import Run

LIVE_BLOCK_S = 60
"""How far ahead of the live scans the kiln is worked out, seconds of kiln time."""
RECORDING_BLOCK_S = 3600


def stream_run(run: Run, terminal: PseudoTerminal, speed: float | None) -> int:
    """Send the lead-in as fast as it is read, then live scans `speed` times life (None: as fast); return the scans."""
    sent = 0
    for scan in run.lead_in():
        if not _send(terminal, scan):
            return sent
        sent += 1
    begun: float | None = None
    first_time = 0.0
    for scan in run.live(LIVE_BLOCK_S):
        if begun is None:
            begun, first_time = time.monotonic(), scan.time
        if speed is not None and not terminal.wait_until(begun + (scan.time - first_time) / speed):
            return sent
        if not _send(terminal, scan):
            return sent
        sent += 1
    return sent


def record_run(run: Run, path: Path) -> int:
    """Write the whole run to `path`, one pack a line, packed if it ends in .gz; return the number of scans."""
    count = 0
    with _open_recording(path) as file:
        for scan in _all_scans(run):
            file.write(write_pack(scan) + b"\n")
            count += 1
    return count


def _all_scans(run: Run) -> Iterator[Scan]:
    yield from run.lead_in()
    yield from run.live(RECORDING_BLOCK_S)


def _send(terminal: PseudoTerminal, scan: Scan) -> bool:
    return terminal.send(frame_line(write_pack(scan)))


@contextmanager
def _open_recording(path: Path) -> Iterator[IO[bytes] | gzip.GzipFile]:
    """Open `path` for writing; a packed one carries no name and no time, so that the same run gives the same bytes."""
    with path.open("wb") as raw:
        if path.suffix != ".gz":
            yield raw
            return
        with gzip.GzipFile(filename="", mode="wb", compresslevel=3, fileobj=raw, mtime=0) as packed:
            yield packed
