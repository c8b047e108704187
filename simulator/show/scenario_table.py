"""One table of all scenarios: what truly happens in each, at its own kiln, fired from lighting into the cooling."""

import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from multiprocessing import get_context
from typing import TextIO

from monitor.model import FindingKind
from simulator.run import Course
from simulator.script.scenarios import SCENARIOS, find_scenario
from simulator.spec.kiln_file import load_kiln
from simulator.truth.stokes import Door
from simulator.truth.whole import Truth
from simulator.whole_firing import fire, whole_course


@dataclass(frozen=True, slots=True)
class Row:
    """What truly happened in one scenario; `cones` says how many of how many are down."""

    scenario: str
    kiln: str
    hours: float
    front_stokes: int
    side_stokes: int
    stalls: int
    falls: int
    reduction_h: float
    rhythm_spans: int
    sensor_faults: int
    top_c: float
    cones: str


COLUMNS: tuple[tuple[str, Callable[[Row], str]], ...] = (
    ("scenario", lambda r: r.scenario),
    ("kiln", lambda r: r.kiln),
    ("hours", lambda r: f"{r.hours:.0f}"),
    ("front", lambda r: str(r.front_stokes)),
    ("side", lambda r: str(r.side_stokes)),
    ("stalls", lambda r: str(r.stalls)),
    ("falls", lambda r: str(r.falls)),
    ("reduction h", lambda r: f"{r.reduction_h:.1f}"),
    ("rhythm", lambda r: str(r.rhythm_spans)),
    ("sensor", lambda r: str(r.sensor_faults)),
    ("top degC", lambda r: f"{r.top_c:.0f}"),
    ("cones down", lambda r: r.cones),
)
WORDS = 2
"""How many columns hold words, to the left; numbers stand to the right."""


def print_table(*, seed: int, jobs: int = 1, out: TextIO = sys.stdout, err: TextIO = sys.stderr) -> None:
    """Fire every scenario after `seed`, `jobs` at a time, and write the table to `out`.

    Progress goes to `err` where that is a terminal.
    """
    names = [s.name for s in SCENARIOS]
    rows: dict[str, Row] = {}
    for row in rows_of(names, seed=seed, jobs=jobs):
        rows[row.scenario] = row
        if err.isatty():
            err.write(f"\r\x1b[K{len(rows)} of {len(names)}: {row.scenario}" + "\n" * (len(rows) == len(names)))
            err.flush()
    out.write(table_text([rows[name] for name in names]))


def rows_of(names: Sequence[str], *, seed: int, jobs: int, course: Course | None = None) -> Iterator[Row]:
    """Yield the row of each scenario in `names` as it is done, `jobs` at a time; `course` as `row_of` has it."""
    if jobs == 1:
        yield from (row_of(name, seed, course) for name in names)
        return
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool:
        fired = [pool.submit(row_of, name, seed, course) for name in names]
        yield from (done.result() for done in as_completed(fired))


def row_of(name: str, seed: int, course: Course | None = None) -> Row:
    """Fire the scenario called `name` as `course` says, by default from lighting into the cooling; return its row."""
    scenario = find_scenario(name)
    spec = load_kiln(scenario.kiln)
    truth = fire(spec, scenario, course or whole_course(spec), seed=seed)
    return row_from(truth, scenario=name, kiln=spec.name)


def row_from(truth: Truth, *, scenario: str, kiln: str) -> Row:
    """Return what `truth` comes to."""
    doors = [s.door for s in truth.stokes]
    down = sum(cone.down_h is not None for cone in truth.cones)
    return Row(
        scenario=scenario,
        kiln=kiln,
        hours=truth.minutes.end_h - truth.minutes.begin_h,
        front_stokes=doors.count(Door.FRONT),
        side_stokes=doors.count(Door.SIDE),
        stalls=len(truth.of(FindingKind.STALL)),
        falls=len(truth.of(FindingKind.FALL)),
        reduction_h=sum(s.end_h - s.begin_h for s in truth.of(FindingKind.REDUCTION)),
        rhythm_spans=len(truth.of(FindingKind.RHYTHM)),
        sensor_faults=len(truth.of(FindingKind.SENSOR)),
        top_c=float(truth.minutes.ware_c.max()),
        cones=f"{down}/{len(truth.cones)}",
    )


def table_text(rows: Iterable[Row]) -> str:
    """Return `rows` under their headings, columns as wide as they need to be."""
    cells = [[head for head, _ in COLUMNS], *([text(row) for _, text in COLUMNS] for row in rows)]
    widths = [max(len(line[k]) for line in cells) for k in range(len(COLUMNS))]
    lines = (
        "  ".join(c.ljust(w) if k < WORDS else c.rjust(w) for k, (c, w) in enumerate(zip(line, widths, strict=True)))
        for line in cells
    )
    return "".join(line.rstrip() + "\n" for line in lines)
