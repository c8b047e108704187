"""`nightstoke replay`: a recording through the very same pipeline as live, as fast as the machine allows."""

import argparse
import gzip
import sys
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from io import BufferedReader
from itertools import islice
from pathlib import Path
from typing import BinaryIO, cast
from zoneinfo import ZoneInfo

import numpy as np

from monitor.exits import BAD_ARGUMENTS, BAD_RECORDING, DONE, CommandError
from monitor.findings_file import finding_lines
from monitor.model import Arrival, Event, Finding, FloatArray
from monitor.pipeline import Outcome, Pipeline
from monitor.site_file import Site
from monitor.site_reader import read_site
from monitor.thermocouple.convert import Conversion
from monitor.wire.recording import RecordingCounts, RecordingReader
from monitor.wire.wide_csv import CsvError, WideCsvReader, csv_input

BATCH_EVENTS = 4000


@dataclass(slots=True)
class Result:
    """What a replay found: temperatures in order of arrival, findings, and the counts of its closing summary."""

    findings: list[Finding] = field(default_factory=list)
    times: list[FloatArray] = field(default_factory=list)
    celsius: list[FloatArray] = field(default_factory=list)
    accepted: int = 0
    late: int = 0

    def take(self, outcome: Outcome, *, keep_temperatures: bool) -> None:
        """Add what followed from one batch."""
        self.findings += outcome.findings
        self.accepted += len(outcome.accepted)
        self.late += sum(a.is_late for a in outcome.accepted)
        if keep_temperatures:
            self.times.append(outcome.temperatures.time)
            self.celsius.append(outcome.temperatures.celsius)


def run(options: argparse.Namespace) -> int:
    """Replay a recording and write what was asked for."""
    site = read_site(Path(options.site))
    recording = Path(options.recording)
    outputs = [Path(p) for p in (options.findings, options.temperatures) if p is not None]
    for path in outputs:
        _check_writable(path)
    if len({path.resolve() for path in (recording, *outputs)}) <= len(outputs):
        raise CommandError(BAD_ARGUMENTS, "recording, --findings and --temperatures must be different files")
    result, counts, pipeline = _replay(recording, site, keep_temperatures=options.temperatures is not None)
    if counts.scans == 0:
        raise CommandError(BAD_RECORDING, f"{recording}: no valid line among {counts.lines}; is it a recording?")
    _write(outputs[0], finding_lines(result.findings))
    if options.temperatures is not None:
        _write(outputs[1], temperature_lines(site, result))
    _summarise(result, counts, pipeline)
    return DONE


def _replay(recording: Path, site: Site, *, keep_temperatures: bool) -> tuple[Result, RecordingCounts, Pipeline]:
    result = Result()
    try:
        with recording.open("rb") as raw:
            lines = _with_progress(raw, recording)
            pipeline, counts, events = _open(recording, site, lines)
            while batch := list(islice(events, 1)):
                outcome = pipeline.feed(_chained(batch, islice(events, BATCH_EVENTS - 1)))
                result.take(outcome, keep_temperatures=keep_temperatures)
    except (OSError, EOFError, zlib.error) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise CommandError(BAD_RECORDING, f"{recording}: cannot be read: {reason}") from error
    except CsvError as error:
        raise CommandError(BAD_RECORDING, f"{recording}: {error}") from error
    return result, counts, pipeline


def _chained(first: list[Event], rest: Iterable[Event]) -> Iterator[Event]:
    yield from first
    yield from rest


def _open(recording: Path, site: Site, lines: Iterable[bytes]) -> tuple[Pipeline, RecordingCounts, Iterator[Event]]:
    if recording.name.lower().removesuffix(".gz").endswith(".csv"):
        table = WideCsvReader(ZoneInfo(site.kiln.time_zone))
        pipeline = Pipeline(
            site,
            None,
            inputs={csv_input(sensor.id): i for i, sensor in enumerate(site.sensor)},
            conversions=[Conversion(None) for _ in site.sensor],
            guard_clock=False,
        )
        return pipeline, table.counts, _told_columns(table, lines)
    reader = RecordingReader()
    pipeline = Pipeline(site, None, guard_clock=False)
    return pipeline, reader.counts, _guarded(reader, lines, pipeline)


def _told_columns(table: WideCsvReader, lines: Iterable[bytes]) -> Iterator[Arrival]:
    """Yield the rows' events, then say which columns were left out."""
    yield from table.events(lines)
    if table.ignored:
        left_out = ", ".join(table.ignored)
        print(f"columns without '<sensor id> degC' or 'degF' in their heading left out: {left_out}", file=sys.stderr)


def _guarded(reader: RecordingReader, lines: Iterable[bytes], pipeline: Pipeline) -> Iterator[Event]:
    """Yield events; from the first host line on, arrival clocks are a host's."""
    for event in reader.events(lines):
        pipeline.guard_clock = reader.has_host_lines
        yield event


def _with_progress(raw: BufferedReader, recording: Path) -> Iterator[bytes]:
    size = max(1, recording.stat().st_size)
    lines = cast("BinaryIO", gzip.GzipFile(fileobj=raw)) if recording.name.lower().endswith(".gz") else raw
    shows = sys.stderr.isatty()
    for number, line in enumerate(lines):
        if shows and number % BATCH_EVENTS == 0:
            print(f"\r{recording.name}: {100 * raw.tell() // size} %", end="", file=sys.stderr, flush=True)
        yield line
    if shows:
        print("\r\033[K", end="", file=sys.stderr)


def temperature_lines(site: Site, result: Result) -> Iterator[str]:
    """Yield the CSV of temperatures: one row per accepted scan in order of time, late ones in place."""
    yield ",".join(["time", *(sensor.id for sensor in site.sensor)]) + "\n"
    if not result.times:
        return
    time = np.concatenate(result.times)
    celsius = np.round(np.concatenate(result.celsius), 3) + 0.0
    order = np.argsort(time, kind="stable")
    for at, row in zip(time[order].tolist(), celsius[order].tolist(), strict=True):
        yield f"{at:.3f}," + ",".join([f"{c:.3f}" if c == c else "" for c in row]) + "\n"  # noqa: PLR0124 - NaN differs


def _check_writable(path: Path) -> None:
    if path.is_dir() or not path.absolute().parent.is_dir():
        raise CommandError(BAD_ARGUMENTS, f"{path}: cannot be written; name a file in a folder that exists")


def _write(path: Path, lines: Iterable[str]) -> None:
    try:
        with path.open("w", encoding="utf-8", newline="") as out:
            out.writelines(lines)
    except OSError as error:
        raise CommandError(BAD_ARGUMENTS, f"{path}: cannot be written: {error.strerror}") from error


def _summarise(result: Result, counts: RecordingCounts, pipeline: Pipeline) -> None:
    nodes = pipeline.node_counts().values()
    repeats, lost = sum(n.repeats for n in nodes), sum(n.missed - n.recovered for n in nodes)
    told = f", {counts.entries} entries" if counts.entries else ""
    broken = ", ".join(f"{number} {kind}" for kind, number in sorted(counts.broken.items())) or "none"
    print(
        f"{counts.lines} lines: {result.accepted} scans accepted, {result.late} late, {repeats} repeats, {lost} lost"
        f"{told}; broken lines skipped: {broken}; {len(result.findings)} findings",
        file=sys.stderr,
    )
