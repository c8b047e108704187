"""The truth file beside a recording: `NAME.truth.jsonl` beside `NAME.senml.jsonl`.

The writer holds minutes only, so that four days fit in memory. The same firing gives the same bytes.
"""

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from simulator.firing import Firing, Trace
from simulator.truth.lines import (
    ConeLine,
    HeaderLine,
    Line,
    MinuteLine,
    SensorWords,
    SpanLine,
    StageWords,
    StokeLine,
    ZoneWords,
    write_line,
)
from simulator.truth.minutes import MinuteKeeper
from simulator.truth.whole import Truth, true_of


class TruthWriter:
    """Takes in a run's trace block by block (a `Run`'s `on_trace`) and writes the truth file at the end."""

    def __init__(self, path: Path, *, scenario: str, seed: int, has_plan: bool = True) -> None:
        self._path = path
        self._scenario = scenario
        self._seed = seed
        self._has_plan = has_plan
        self._keeper = MinuteKeeper()

    def add(self, trace: Trace) -> None:
        """Take in the block that follows the last one."""
        self._keeper.add(trace)

    def finish(self, firing: Firing) -> Truth:
        """Write the file and return what it says."""
        self._keeper.add(firing.run(0))  # no step: a run that took none still knows its zones and sensors
        truth = true_of(firing, self._keeper.minutes(), seed=self._seed, has_plan=self._has_plan)
        header = header_of(firing, truth, scenario=self._scenario, seed=self._seed, has_plan=self._has_plan)
        write_truth(self._path, header, truth)
        return truth


def truth_path(recording: Path) -> Path:
    """Return where the truth of `recording` goes: `NAME.truth.jsonl` beside it."""
    name = recording.name.removesuffix(".gz").removesuffix(".jsonl").removesuffix(".senml")
    return recording.with_name(f"{name}.truth.jsonl")


def header_of(firing: Firing, truth: Truth, *, scenario: str, seed: int, has_plan: bool) -> HeaderLine:
    """Return the header of the file."""
    spec, minutes = firing.spec, truth.minutes
    now_h = firing.clock_s / 3600.0
    begin_h, end_h = (minutes.begin_h, minutes.end_h) if len(minutes.hour) else (now_h, now_h)
    return HeaderLine(
        kiln=spec.name,
        scenario=scenario,
        seed=seed,
        lit=float(firing.lit),
        begin=_epoch(firing.lit, begin_h),
        end=_epoch(firing.lit, end_h),
        plan=spec.points if has_plan else None,
        guide=spec.guide,
        stages=tuple(StageWords(s.name, s.begin_h, s.interval_min) for s in spec.stages),
        zones=tuple(ZoneWords(z.name, z.place) for z in spec.zones),
        sensors=tuple(SensorWords(s.id, s.type, s.zone) for s in spec.sensors),
    )


def write_truth(path: Path, header: HeaderLine, truth: Truth) -> None:
    """Write `truth` to `path`."""
    with path.open("wb") as file:
        file.writelines(write_line(line) for line in _lines(header, truth))


def _lines(header: HeaderLine, truth: Truth) -> Iterator[Line]:
    yield header
    events: list[StokeLine | SpanLine] = [*_stokes(header.lit, truth), *_spans(header.lit, truth)]
    yield from sorted(events, key=_begin)
    yield from _cones(header.lit, truth)
    yield from _minutes(header.lit, truth)


def _begin(line: StokeLine | SpanLine) -> float:
    return line.time if isinstance(line, StokeLine) else line.begin


def _stokes(lit: float, truth: Truth) -> Iterator[StokeLine]:
    for s in truth.stokes:
        yield StokeLine(
            time=_epoch(lit, s.hour), door=s.door, zone=s.zone, wet_kg=round(s.wet_kg, 3), charges=s.charges
        )


def _spans(lit: float, truth: Truth) -> Iterator[SpanLine]:
    for s in truth.spans:
        yield SpanLine(
            kind=s.kind,
            begin=_epoch(lit, s.begin_h),
            end=_epoch(lit, s.end_h),
            zones=s.zones,
            ratio=None if s.ratio is None else round(s.ratio, 3),
            sensor=s.sensor,
            fault=s.fault,
            cause=s.cause,
        )


def _cones(lit: float, truth: Truth) -> Iterator[ConeLine]:
    for c in truth.cones:
        yield ConeLine(
            zone=c.zone,
            cone=c.number,
            bends=None if c.bends_h is None else _epoch(lit, c.bends_h),
            down=None if c.down_h is None else _epoch(lit, c.down_h),
            heat_work=float(f"{c.heat_work:.4g}"),
            bend_deg=round(c.bend_deg, 1),
        )


def _minutes(lit: float, truth: Truth) -> Iterator[MinuteLine]:
    minutes = truth.minutes
    columns = {
        "time": np.round(lit + 3600.0 * minutes.hour, 1),
        "gas_c": np.round(minutes.gas_c, 2),
        "ware_c": np.round(minutes.ware_c, 2),
        "junction_c": np.round(minutes.junction_c, 2),
        "excess_air": np.round(truth.excess_air, 3),
        "air_kg_s": np.round(minutes.air_kg_s, 5),
        "demand_kg_s": np.round(minutes.demand_kg_s, 5),
        "embers_kg": np.round(minutes.embers_kg, 3),
        "door": np.round(minutes.door, 3),
        "ports": np.round(minutes.ports, 3),
    }
    for row in zip(*(c.tolist() for c in columns.values()), strict=True):
        yield MinuteLine(**dict(zip(columns, row, strict=True)))


def _epoch(lit: float, hour: float) -> float:
    return round(lit + 3600.0 * hour, 1)
