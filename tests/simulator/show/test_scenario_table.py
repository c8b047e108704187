"""The table of scenarios counts what was true and prints it in columns."""

import io
from dataclasses import replace

import numpy as np
import pytest

from monitor.model import FindingKind, SensorFault
from simulator.physics.cones import TrueCone
from simulator.run import Course, course_of
from simulator.script.scenarios import SCENARIOS, Scenario, ScenarioError
from simulator.show import scenario_table
from simulator.show.scenario_table import Row, print_table, row_from, row_of, rows_of, table_text
from simulator.spec.kiln_file import KilnSpec, load_kiln
from simulator.truth.minutes import Minutes
from simulator.truth.spans import TrueSpan
from simulator.truth.stokes import Door, TrueStoke
from simulator.truth.whole import Truth
from simulator.whole_firing import LIT, whole_course

ROW = Row("steady", "Demo kiln", 96.0, 632, 140, 0, 1, 5.25, 2, 3, 1288.4, "9/13")
NAMES = [s.name for s in SCENARIOS]


class Screen(io.StringIO):
    """A terminal."""

    def isatty(self) -> bool:
        """Say that it is one."""
        return True


def _truth() -> Truth:
    hour = 10.0 + (np.arange(120) + 0.5) / 60.0
    two = np.ones((120, 2))
    minutes = Minutes(
        hour=hour, gas_c=two, ware_c=two * np.array([900.0, 1000.0]), junction_c=two, air_kg_s=two, demand_kg_s=two,
        door=hour, ports=two, embers_kg=hour,
    )  # fmt: skip
    spans = (
        TrueSpan(FindingKind.STALL, 10.0, 10.5),
        TrueSpan(FindingKind.FALL, 10.0, 10.5),
        TrueSpan(FindingKind.FALL, 11.0, 11.5),
        TrueSpan(FindingKind.REDUCTION, 10.0, 10.5),
        TrueSpan(FindingKind.REDUCTION, 11.0, 11.25),
        TrueSpan(FindingKind.SENSOR, 10.0, 12.0, sensor="middle", fault=SensorFault.OPEN),
    )
    stokes = [TrueStoke(10.0 + k / 10.0, Door.SIDE if k == 3 else Door.FRONT, "x", 1.0) for k in range(6)]
    cones = (TrueCone("x", "8", 10.0, 11.0, 1.5, 90.0), TrueCone("x", "9", 10.0, None, 0.5, 11.0))
    return Truth(minutes, two, tuple(stokes), spans, cones)


def test_row_counts_what_was_true() -> None:
    """Hours of reduction, everything else by number; the hottest ware."""
    row = row_from(_truth(), scenario="made-up", kiln="Made-up kiln")

    assert row == Row("made-up", "Made-up kiln", pytest.approx(2.0), 5, 1, 1, 2, 0.75, 0, 1, 1000.0, "1/2")


def test_table_stands_in_columns() -> None:
    """Words to the left, numbers to the right, as wide as they need to be."""
    lines = table_text([ROW, replace(ROW, scenario="a-long-name", reduction_h=15.0)]).splitlines()

    assert lines == [
        "scenario     kiln       hours  front  side  stalls  falls  reduction h  rhythm  sensor  top degC  cones down",
        "steady       Demo kiln     96    632   140       0      1          5.2       2       3      1288        9/13",
        "a-long-name  Demo kiln     96    632   140       0      1         15.0       2       3      1288        9/13",
    ]


def test_table_is_in_the_order_of_the_scenarios_and_shows_progress(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whichever is done first."""
    monkeypatch.setattr(
        scenario_table, "rows_of", lambda names, **_: (replace(ROW, scenario=n) for n in reversed(names))
    )
    out, terminal = io.StringIO(), Screen()
    print_table(seed=1, jobs=2, out=out, err=terminal)

    assert [line.split()[0] for line in out.getvalue().splitlines()[1:]] == NAMES
    assert f"{len(NAMES)} of {len(NAMES)}: {NAMES[0]}\n" in terminal.getvalue()


def test_progress_is_for_a_terminal_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """A file of errors stays empty."""
    monkeypatch.setattr(scenario_table, "rows_of", lambda names, **_: (replace(ROW, scenario=n) for n in names))
    log = io.StringIO()
    print_table(seed=1, out=io.StringIO(), err=log)

    assert log.getvalue() == ""


def test_rows_come_from_firings_here_or_in_other_processes() -> None:
    """The same either way: the same seed, the same firing."""
    course = course_of(LIT, live_h=0.0, duration_h=1.0)
    here = list(rows_of(NAMES[:2], seed=1, jobs=1, course=course))
    there = rows_of(NAMES[:2], seed=1, jobs=2, course=course)

    assert [row.scenario for row in here] == NAMES[:2]
    assert sorted(here, key=lambda r: r.scenario) == sorted(there, key=lambda r: r.scenario)
    assert here[0].hours == pytest.approx(1.0)
    assert here[0].front_stokes >= 3


@pytest.mark.parametrize(("scenario", "kiln"), [("steady", "demo"), ("quick-day", "quick")])
def test_row_is_of_a_whole_firing_of_the_scenarios_kiln(
    scenario: str, kiln: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From lighting into the cooling, unless told otherwise."""
    spec = load_kiln(kiln)
    asked: list[Course] = []

    def note(_spec: KilnSpec, _scenario: Scenario, course: Course, *, seed: int) -> Truth:
        asked.append(course)
        return _truth()

    monkeypatch.setattr(scenario_table, "fire", note)
    row = row_of(scenario, 1)

    assert asked == [whole_course(spec)]
    assert (row.scenario, row.kiln) == (scenario, spec.name)


def test_unknown_scenario_is_told() -> None:
    """By name."""
    with pytest.raises(ScenarioError, match="no scenario 'glaze'"):
        row_of("glaze", 1)
