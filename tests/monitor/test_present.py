"""The present as panels see it: values with their age and quality, alarms with their words, findings."""

import msgspec
import numpy as np
import pytest

from monitor.model import (
    Alarm,
    Arrival,
    Finding,
    FindingKind,
    FindingState,
    InputFault,
    Reading,
    Scan,
    SensorClimb,
    SensorFault,
    Status,
    Temperatures,
)
from monitor.pipeline import Accepted, Outcome
from monitor.present import RECENT_FINDINGS, Present, finding_line
from tests.made_up import BEGIN, made_up_site, tables

OK, ABSENT, OPEN, COLD = Status.OK, Status.ABSENT, Status.OPEN, Status.COLD_JUNCTION
STOKE = Finding(
    BEGIN + 60, FindingKind.STOKE, FindingState.EVENT, None, BEGIN + 30, None, None, "Stoked.", door="front"
)


def outcome(time: float, celsius: list[float], status: list[Status], *findings: Finding) -> Outcome:
    """Return what followed from one scan whose sensors read so."""
    scan = Scan("shed-1", time, (Reading("shed-1/t1", fault=InputFault.OPEN),))
    values = Temperatures(np.array([time]), np.array([celsius]), np.array([status], dtype=np.uint8))
    return Outcome([Accepted(Arrival(scan, time), is_late=False)], values, list(findings), [], 0)


def present(*, is_test: bool = False, more: str = "") -> Present:
    """Return the present of the made-up kiln."""
    return Present(made_up_site(more), tables().alarms, is_test=is_test)


def test_before_the_first_scan_nothing_is_known() -> None:
    """No number, no age, and the letter that says that nothing can be read."""
    values = present().all_values(10.0)

    assert [(v.sensor, v.celsius, v.status, v.quality, v.age_s) for v in values] == [
        (sensor, None, "absent", "F", None) for sensor in ("firebox", "middle", "back")
    ]


def test_only_sensors_that_were_heard_change() -> None:
    """An absent sensor keeps its last word and grows older."""
    now = present()
    first = now.take(outcome(BEGIN, [500.1234, 900.0, np.nan], [OK, OK, ABSENT]), None, 100.0)
    second = now.take(outcome(BEGIN + 1, [np.nan, 901.0, np.nan], [ABSENT, OK, ABSENT]), None, 101.0)
    values = now.all_values(103.5)

    assert (first, second) == ({0, 1}, {1})
    assert [(v.celsius, v.age_s) for v in values] == [(500.123, 3.5), (901.0, 2.5), (None, None)]
    assert now.newest_celsius() == {"firebox": 500.1234, "middle": 901.0}
    assert [v.sensor for v in now.values([1], 103.5)] == ["middle"]


def test_a_scan_of_the_past_is_as_old_as_it_is() -> None:
    """What was stored an hour ago is not shown as fresh because it is read now."""
    now = present()
    happened = outcome(BEGIN, [500.0, np.nan, np.nan], [OK, ABSENT, ABSENT])

    now.take(happened, None, 100.0, clock=happened.accepted[0].arrival.clock + 3600.0)

    assert now.all_values(101.0)[0].age_s == 3601.0


def test_an_older_scan_changes_nothing() -> None:
    """What comes late is stored and drawn, but the newest word stands."""
    now = present()
    now.take(outcome(BEGIN + 10, [500.0, np.nan, np.nan], [OK, ABSENT, ABSENT]), None, 100.0)
    changed = now.take(outcome(BEGIN, [400.0, np.nan, np.nan], [OK, ABSENT, ABSENT]), None, 101.0)

    assert changed == set()
    assert now.all_values(101.0)[0].celsius == 500.0


@pytest.mark.parametrize(
    ("status", "word"),
    [(OPEN, "open"), (Status.RANGE, "range"), (COLD, "cold-junction"), (Status.BELOW, "below"),
     (Status.ABOVE, "above"), (Status.UNDEFINED, "undefined")],
)  # fmt: skip
def test_a_fault_takes_the_number_away(status: Status, word: str) -> None:
    """NAMUR NE 107 letter F; the old number is not shown as if it were true."""
    now = present()
    now.take(outcome(BEGIN, [500.0, np.nan, np.nan], [OK, ABSENT, ABSENT]), None, 100.0)
    now.take(outcome(BEGIN + 1, [np.nan, np.nan, np.nan], [status, ABSENT, ABSENT]), None, 101.0)
    value = now.all_values(101.0)[0]

    assert (value.celsius, value.status, value.quality) == (None, word, "F")
    assert now.newest_celsius() == {}


@pytest.mark.parametrize(("is_test", "letter"), [(False, "good"), (True, "C")])
def test_a_test_is_marked_in_every_value(is_test: bool, letter: str) -> None:
    """NAMUR NE 107 letter C, function check, for a simulator or a replay."""
    now = present(is_test=is_test)
    now.take(outcome(BEGIN, [500.0, np.nan, np.nan], [OK, ABSENT, ABSENT]), None, 100.0)

    assert now.all_values(100.0)[0].quality == letter


def test_climbs_come_with_the_slots_and_change_all_sensors() -> None:
    """Two decimals; None while it cannot be known."""
    now = present()
    climbs = [SensorClimb("firebox", 51.2345, 3.456), SensorClimb("middle", None, None)]
    changed = now.take(outcome(BEGIN, [500.0, np.nan, np.nan], [OK, ABSENT, ABSENT]), climbs, 100.0)
    values = now.all_values(100.0)

    assert changed == {0, 1, 2}
    assert [(v.climb_c_per_h, v.climb_uncertainty_c_per_h) for v in values] == [
        (51.23, 3.46),
        (None, None),
        (None, None),
    ]


def test_findings_are_kept_as_they_are_told_and_bounded() -> None:
    """The newest fifty; words and times unchanged."""
    now = present()
    for _ in range(RECENT_FINDINGS + 5):
        now.take(outcome(BEGIN, [np.nan] * 3, [ABSENT] * 3, STOKE), None, 100.0)

    assert len(now.findings) == RECENT_FINDINGS
    assert now.findings[-1] == finding_line(STOKE)


def test_a_finding_is_told_in_plain_words() -> None:
    """Enumerations as their words, so that it encodes."""
    fault = Finding(
        BEGIN, FindingKind.SENSOR, FindingState.BEGIN, "firebox", BEGIN - 5, 1.5, "Cel", "t", SensorFault.COLD_JUNCTION
    )
    told = msgspec.to_builtins(finding_line(fault))

    assert told == {
        "time": BEGIN, "kind": "sensor", "state": "begin", "sensor": "firebox", "onset": BEGIN - 5, "measure": 1.5,
        "unit": "Cel", "text": "t", "fault": "cold-junction", "door": None, "ratio": None, "confidence": None,
    }  # fmt: skip


@pytest.mark.parametrize(("door", "counts"), [("front", True), (None, True), ("side", False)])
def test_the_last_stoke_is_one_of_the_front(door: str | None, counts: bool) -> None:
    """A side stoke does not begin the interval anew."""
    now = present()
    now.note(Finding(BEGIN + 60, FindingKind.STOKE, FindingState.EVENT, None, BEGIN + 30, None, None, "", door=door))

    assert now.last_stoke == (BEGIN + 30 if counts else None)


def test_a_new_firing_forgets_the_fire_and_keeps_the_numbers() -> None:
    """What a sensor said last is true in the next firing, too."""
    now = present()
    climbs = [SensorClimb("firebox", 51.0, 3.0)]
    now.take(outcome(BEGIN, [500.0, np.nan, np.nan], [OK, ABSENT, ABSENT], STOKE), climbs, 100.0)
    now.forget_fire()
    value = now.all_values(100.0)[0]

    assert (list(now.findings), now.last_stoke) == ([], None)
    assert (value.celsius, value.climb_c_per_h) == (500.0, None)


def test_an_alarm_has_the_words_of_the_table() -> None:
    """Title, cause, consequence, action and the time to act; seconds since it began, never below none."""
    alarm = Alarm(
        "node:shed-1", "node-lost", 2, True, False, False, BEGIN, None, None, None, None, None, None, "Silent."
    )
    (line,) = present().alarm_lines([alarm], BEGIN + 12.3456)
    (early,) = present().alarm_lines([alarm], BEGIN - 5)

    assert (line.title, line.text, line.act_in_s) == ("Probe box lost", "Silent.", 300.0)
    assert line.action.startswith("Go by eye")
    assert (line.since_s, early.since_s) == (12.346, 0.0)


def test_an_urgent_alarm_begins_with_the_safety_of_people() -> None:
    """Priority 1 sends people to a hot kiln."""
    alarm = Alarm(
        "fall", "temperature-falling", 1, True, False, False, BEGIN, None, None, None, None, None, "middle", ""
    )
    (line,) = present().alarm_lines([alarm], BEGIN)

    assert line.action.startswith("Your safety before the pots.")


PLAN = "[plan]\npoints = [[0, 20], [2, 120]]\n"


@pytest.mark.parametrize(
    ("plan", "lit", "begin"),
    [
        ("", BEGIN, None),
        (PLAN, None, None),
        (PLAN, BEGIN, BEGIN),
        (PLAN + 'lit = "2025-11-24T17:00:00+01:00"\n', BEGIN + 500, BEGIN),
    ],
)
def test_the_plan_is_drawn_from_lighting_on(plan: str, lit: float | None, begin: float | None) -> None:
    """Its own time of lighting counts, else the firing's first scan; without plan or time there is none."""
    line = present(more=plan).plan_line(lit)

    if begin is None:
        assert line is None
    else:
        assert line is not None
        assert (line.points, line.guide) == ([(begin, 20.0), (begin + 7200.0, 120.0)], "middle")


def test_the_sensors_are_those_of_the_site() -> None:
    """In its order, with place, letter and input."""
    sensors = [(s.id, s.place, s.type, s.input) for s in present().sensors()]

    assert sensors == [
        ("firebox", "firebox", "K", "shed-1/t1"),
        ("middle", "middle", None, "shed-1/t2"),
        ("back", "back", None, "shed-2/t1"),
    ]


def test_a_stoke_told_late_does_not_turn_the_time_back() -> None:
    """One found between two others comes after the newer one: that stays the last."""
    now = present()
    now.note(STOKE)
    now.note(
        Finding(BEGIN + 90, FindingKind.STOKE, FindingState.EVENT, None, BEGIN - 200, None, None, "", door="front")
    )

    assert now.last_stoke == BEGIN + 30
