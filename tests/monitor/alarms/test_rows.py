"""Every row of the shipped table: a scenario that raises it, and one close by that must not.

Set points are those of the table (starting values, common practice, no source) unless a test names one.
"""

from dataclasses import dataclass, field, replace
from typing import Any

import pytest

from monitor.alarms.book import AlarmBook
from monitor.alarms.records import Agreed, Host
from monitor.model import Finding, FindingKind, FindingState, SensorFault
from tests.monitor.alarms.kiln import AGREED, CLIMB, DRYING, HEARD, HIGH, NOW, SENSORS, STEADY, TABLE, seen


def told(kind: str, sensor: str | None, fault: str | None = None, state: str = "begin", **more: Any) -> Finding:
    """Return a finding known at `NOW`."""
    which = None if fault is None else SensorFault(fault)
    return Finding(NOW, FindingKind(kind), FindingState(state), sensor, NOW, None, None, "words", which, **more)


def climbing(c_per_h: float, *sensors: str) -> dict[str, float]:
    """Return the calm climbs with those of `sensors` changed."""
    return {**STEADY, **dict.fromkeys(sensors, c_per_h)}


def at(celsius: float) -> dict[str, float]:
    """Return a kiln of that heat everywhere."""
    return {**dict.fromkeys(CLIMB, celsius), "roof": 30.0}


def host(**changes: Any) -> Host:
    """Return a host at ease, with `changes`."""
    return replace(HEARD, **changes)


@dataclass(frozen=True)
class Case:
    """What happens; `priority` of the row's alarm after `lasts_s`, None where it must not be told."""

    row: str
    priority: int | None
    present: dict[str, Any] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()
    lasts_s: float = 0.0
    agreed: Agreed = AGREED


CLOSED = {"is_closed_up": True}
CASES = [
    Case("temperature-falling", 2, findings=(told("fall", "front"),)),
    Case("temperature-falling", 1, {"celsius": HIGH}, (told("fall", "front"),)),
    Case("temperature-falling", None, CLOSED, (told("fall", "front"),)),
    Case("temperature-falling", None, {"planned_c_per_h": 0.0}, (told("fall", "front"),)),
    Case("temperature-falling", None, {"celsius": DRYING}, (told("fall", "front"),)),
    Case("stall", 2, findings=(told("stall", "middle"),)),
    Case("stall", None, {"celsius": at(950.0)}, (told("stall", "middle"),)),
    Case("stall", None, {"planned_c_per_h": 0.0}, (told("stall", "middle"),)),
    Case("climbs-too-fast", 1, {"celsius": DRYING, "climb_c_per_h": climbing(30.0, "front")}, lasts_s=301.0),
    Case("climbs-too-fast", None, {"celsius": DRYING, "climb_c_per_h": climbing(30.0, "front")}, lasts_s=290.0),
    Case("climbs-too-fast", None, {"climb_c_per_h": climbing(90.0, "front")}, lasts_s=301.0),
    Case(
        "climbs-too-fast", None, {"celsius": DRYING, "climb_c_per_h": climbing(50.0, "front")}, lasts_s=301.0,
        agreed=replace(AGREED, is_raw=False),
    ),
    Case("quartz-too-fast", 3, {"celsius": at(573.0), "climb_c_per_h": climbing(120.0, "back")}, lasts_s=301.0),
    Case("quartz-too-fast", 2, {"celsius": at(573.0), "climb_c_per_h": climbing(-120.0, "back")}, lasts_s=301.0),
    Case("quartz-too-fast", None, {"celsius": at(620.0), "climb_c_per_h": climbing(120.0, "back")}, lasts_s=301.0),
    Case(
        "cools-too-fast", 2, {**CLOSED, "celsius": at(700.0), "climb_c_per_h": climbing(-90.0, "front")}, lasts_s=301.0
    ),
    Case(
        "cools-too-fast", 2, {**CLOSED, "celsius": at(250.0), "climb_c_per_h": climbing(-60.0, "front")}, lasts_s=301.0
    ),
    Case(
        "cools-too-fast", None, {**CLOSED, "celsius": at(400.0), "climb_c_per_h": climbing(-60.0, "front")},
        lasts_s=301.0,
    ),
    Case(
        "cools-too-fast", None, {**CLOSED, "celsius": at(1000.0), "climb_c_per_h": climbing(-200.0, "front")},
        lasts_s=301.0,
    ),
    Case("cools-too-fast", None, {"climb_c_per_h": climbing(-90.0, "front")}, lasts_s=301.0),
    Case("over-limit", 1, {"celsius": {**HIGH, "firebox": 1351.0}}, lasts_s=181.0),
    Case("over-limit", None, {"celsius": {**HIGH, "firebox": 1349.0}}, lasts_s=181.0),
    Case("over-limit", None, {"celsius": {**HIGH, "front": 1400.0}}, lasts_s=181.0),  # no limit there
    Case("stoke-overdue", 2, {"last_stoke": NOW - 2000.0}),
    Case("stoke-overdue", 1, {"last_stoke": NOW - 2000.0, "last_sign": NOW - 1801.0}),
    Case("stoke-overdue", None, {"last_stoke": NOW - 1500.0}),
    Case("stoke-overdue", None, {"last_stoke": NOW - 2000.0}, agreed=replace(AGREED, interval_s=None)),
    Case("stoke-overdue", None, {"last_stoke": NOW - 2000.0, **CLOSED}),
    Case("stoke-overdue", None, {"last_stoke": NOW - 2000.0, "celsius": at(250.0)}),  # below the first agreed point
    Case("rhythm-drifts", 3, findings=(told("rhythm", None),)),
    Case("rhythm-drifts", None, CLOSED, (told("rhythm", None),)),
    Case("spread", 3, {"celsius": {**CLIMB, "front": 700.0}, "climb_c_per_h": climbing(50.0, "front")}, lasts_s=1801.0),
    Case(
        "spread", None, {"celsius": {**CLIMB, "front": 700.0}, "climb_c_per_h": climbing(30.0, "front")}, lasts_s=1801.0
    ),
    Case(
        "spread", None, {"celsius": {**CLIMB, "front": 650.0}, "climb_c_per_h": climbing(50.0, "front")}, lasts_s=1801.0
    ),
    Case("reduction-unwanted", 2, findings=(told("reduction", "lambda"),), lasts_s=301.0),
    Case("reduction-unwanted", 3, {"celsius": at(1050.0)}, (told("reduction", "lambda"),), 301.0),
    Case("reduction-unwanted", None, {"celsius": at(950.0)}, (told("reduction", "lambda"),), 301.0),
    Case("reduction-unwanted", None, {}, (told("reduction", None, confidence=0.9),), 301.0),
    Case("reduction-lost", 3, {"celsius": at(950.0)}, (told("reduction", "lambda", state="end"),), 301.0),
    Case("reduction-lost", None, {"celsius": at(1050.0)}, (told("reduction", "lambda", state="end"),), 301.0),
    Case("sensor-failed", 2, findings=(told("sensor", "front", "open"),), lasts_s=11.0),
    Case("sensor-failed", 1, findings=(told("sensor", "middle", "open"),), lasts_s=11.0),
    Case("sensor-failed", None, findings=(told("sensor", "front", "open"),), lasts_s=5.0),
    Case("sensor-uncertain", 3, findings=(told("sensor", "front", "drift"),), lasts_s=11.0),
    Case("sensor-uncertain", None, findings=(told("sensor", "front", "drift"),), lasts_s=5.0),
    Case("node-lost", 2, {"node_silence_s": {"shed-1": 121.0}}),
    Case("node-lost", 1, {"node_silence_s": {"shed-1": 601.0}}),
    Case("node-lost", None, {"node_silence_s": {"shed-1": 119.0}}),
    Case("nobody-hears", 1, {"host": host(panels_with_sound=0)}, lasts_s=121.0),
    Case("nobody-hears", None, {"host": host(panels_with_sound=0)}, lasts_s=115.0),
    Case("nobody-hears", None, {"host": host(panels_with_sound=0), "celsius": at(30.0)}, lasts_s=121.0),
    Case("nobody-hears", None, {"host": host(panels_with_sound=0), **CLOSED}, lasts_s=121.0),
    Case("service-stuck", 1, {"host": host(engine_error="ValueError: x")}),
    Case("service-stuck", None, {"host": HEARD}),
    Case("sounder-lost", 2, {"host": host(voice_error="host: not heard for 30 s")}),
    Case("sounder-lost", None, {"host": HEARD}),
    Case("no-sign-of-life", 1, {"last_sign": NOW - 2701.0}, lasts_s=301.0),
    Case("no-sign-of-life", 1, {"last_sign": NOW - 1801.0, "local_hour": 2.5}, lasts_s=301.0),
    Case("no-sign-of-life", None, {"last_sign": NOW - 1801.0, "local_hour": 22.0}, lasts_s=301.0),
    Case(
        "no-sign-of-life", None, {"last_sign": NOW - 9000.0}, lasts_s=301.0, agreed=replace(AGREED, sign_of_life=False)
    ),
    Case("no-sign-of-life", None, {"last_sign": NOW - 9000.0, **CLOSED}, lasts_s=301.0),
    Case("little-space", 3, {"host": host(free_bytes=4e8)}, lasts_s=61.0),
    Case("little-space", 1, {"host": host(free_bytes=1e7)}, lasts_s=61.0),
    Case("little-space", None, {"host": host(free_bytes=6e8)}, lasts_s=61.0),
    Case("clock-wrong", 3, {"host": host(clock_error="The clock was set back.")}),
    Case("clock-wrong", None, {"host": HEARD}),
    Case("power-low", 2, {"host": host(lowest_battery=0.2)}, lasts_s=61.0),
    Case("power-low", None, {"host": host(lowest_battery=0.3)}, lasts_s=61.0),
    Case("power-low", None, {"host": host(lowest_battery=None)}, lasts_s=61.0),
    Case("handover-overdue", 3, {"handover_due_s": 60.0}, lasts_s=901.0),
    Case("handover-overdue", None, {"handover_due_s": None}, lasts_s=901.0),
    Case("host-warm", 3, {"host": host(host_c=85.0)}, lasts_s=301.0),
    Case("host-warm", None, {"host": host(host_c=75.0)}, lasts_s=301.0),
    Case("timber-hot", 1, {"celsius": {**CLIMB, "roof": 81.0}}, lasts_s=61.0),
    Case("timber-hot", 1, {"celsius": {**CLIMB, "roof": 81.0}, **CLOSED}, lasts_s=61.0),
    Case("timber-hot", None, {"celsius": {**CLIMB, "roof": 79.0}}, lasts_s=61.0),
    Case("store-failing", 2, {"store_error": "the disk is full"}),
    Case("store-failing", None, {"store_error": None}),
    Case("plan-late", 3, {"behind_plan_s": 7500.0}, lasts_s=601.0),
    Case("plan-late", None, {"behind_plan_s": 7000.0}, lasts_s=601.0),
]  # fmt: skip


def alarms_after(case: Case) -> dict[str, int]:
    """Return the priority of each row that is told after the case has lasted, looked at every 5 s."""
    book = AlarmBook(TABLE, SENSORS, case.agreed)
    present = seen(**case.present)
    before = [replace(f, state=FindingState.BEGIN) for f in case.findings if f.state is FindingState.END]
    book.step(NOW - 1.0, before, present)
    steps = int(case.lasts_s // 5.0)
    for i in range(steps + 1):
        book.step(NOW + 5.0 * i, case.findings if i == 0 else (), present)
    book.step(NOW + case.lasts_s, (), present)
    return {alarm.row: alarm.priority for alarm in book.alarms()}


@pytest.mark.parametrize("case", CASES, ids=[f"{c.row}-{i}" for i, c in enumerate(CASES)])
def test_a_row_is_raised_by_its_scenario_and_not_by_one_close_by(case: Case) -> None:
    """The priority is that of the circumstances; where it must not be told it is not listed."""
    assert alarms_after(case).get(case.row) == case.priority


def test_every_row_has_a_scenario_of_both_kinds() -> None:
    """A row that nothing raises, or that everything raises, would not be tested."""
    raised = {case.row for case in CASES if case.priority is not None}
    spared = {case.row for case in CASES if case.priority is None}

    assert raised == spared == {row.id for row in TABLE.row}


def test_a_calm_kiln_alarms_nobody() -> None:
    """An hour of an undisturbed climb, of drying and of a kiln that cools slowly: no alarm at all."""
    for quiet in ({}, {"celsius": DRYING, "climb_c_per_h": climbing(10.0, *STEADY)}, CLOSED):
        assert alarms_after(Case("-", None, {**quiet, "last_stoke": NOW, "last_sign": NOW}, lasts_s=900.0)) == {}
