"""`nightstoke export`: a stored firing as a recording, also while the service runs."""

import argparse
import gzip
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO, cast

from monitor.exits import BAD_ARGUMENTS, DONE, NOT_AVAILABLE, CommandError
from monitor.model import Arrival, Finding, FindingState, SensorFault
from monitor.store.errors import DamagedBlockError, StoreError
from monitor.store.opening import open_reader
from monitor.store.reader import Reader
from monitor.store.records import Firing
from monitor.wire.node_order import WAIT_S
from monitor.wire.recording import by_clock, export_lines

ENDINGS = (".senml.jsonl", ".senml.jsonl.gz")
LEVEL = 6


def run(options: argparse.Namespace) -> int:
    """Write the chosen firing to the file named."""
    out = Path(options.out)
    if not out.name.endswith(ENDINGS):
        raise CommandError(BAD_ARGUMENTS, f"{out}: a recording's name ends in {' or '.join(ENDINGS)}")
    try:
        reader = open_reader(Path(options.data))
        try:
            firing = _choose(reader.firings(), options.firing, Path(options.data))
            scans, damaged = _export(reader, firing, out)
        finally:
            reader.close()
    except StoreError as error:
        raise CommandError(NOT_AVAILABLE, str(error)) from error
    print(f"{firing.id}: {scans} scans written to {out}", file=sys.stderr)
    for block in damaged:
        print(f"left out: {block}", file=sys.stderr)
    return NOT_AVAILABLE if damaged else DONE


def _choose(firings: list[Firing], wanted: str | None, directory: Path) -> Firing:
    if not firings:
        raise CommandError(NOT_AVAILABLE, f"{directory} holds no firing yet")
    if wanted is None:
        return firings[-1]
    for firing in firings:
        if firing.id == wanted:
            return firing
    raise CommandError(
        BAD_ARGUMENTS, f"no firing {wanted!r} in {directory}; there are {', '.join(f.id for f in firings)}"
    )


def _export(reader: Reader, firing: Firing, out: Path) -> tuple[int, list[DamagedBlockError]]:
    part = out.with_name(out.name + ".part")
    damaged: list[DamagedBlockError] = []
    scans = 0

    def arrivals() -> Iterator[Arrival]:
        nonlocal scans
        for stored in reader.scans_in_arrival_order(firing.id, on_damage=damaged.append):
            scans += 1
            yield Arrival(stored.scan, stored.clock)

    try:
        with part.open("wb") as raw, _packed(raw, out) as lines:
            events = by_clock(arrivals(), reader.entries(firing.id))
            lines.writelines(export_lines(events, until=_until(reader, firing)))
        part.replace(out)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise CommandError(BAD_ARGUMENTS, f"{out}: cannot be written: {error.strerror}") from error
    return scans, damaged


def _packed(raw: BinaryIO, out: Path) -> BinaryIO:
    if out.suffix == ".gz":
        return cast("BinaryIO", gzip.GzipFile(filename="", fileobj=raw, mode="wb", compresslevel=LEVEL, mtime=0))
    return raw


def _until(reader: Reader, firing: Firing) -> float | None:
    """Return the clock up to which the live run is known to have gone on."""
    if firing.ended is not None:
        return firing.ended
    return max((_known_by(finding) for finding in reader.findings(firing.id)), default=None)


def _known_by(finding: Finding) -> float:
    """Return the clock at which a finding was known: its time, but a silence is told as of when it fell due."""
    is_silence = finding.fault is SensorFault.MISSING and finding.state is FindingState.BEGIN
    return finding.time + (WAIT_S if is_silence else 0.0)
