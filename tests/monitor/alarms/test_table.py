"""The alarm table: the one that ships, and what is said about a broken one."""

import tomllib
from dataclasses import replace
from importlib.resources import files
from typing import Any

import pytest

from monitor.alarms.table import TABLE_FILE, TABLE_PACKAGE, Condition, check_table, parse_table
from monitor.model import Alarm, SensorFault
from monitor.problems import ProblemsError

TEXT = (files(TABLE_PACKAGE) / TABLE_FILE).read_text("utf-8")
ALARM = Alarm("fall", "temperature-falling", 2, True, False, False, 0.0, None, None, None, None, None, "front", "...")


@pytest.fixture
def raw() -> dict[str, Any]:
    """The shipped table before any check, free to be spoilt."""
    return tomllib.loads(TEXT)


def problems(raw: dict[str, Any]) -> list[str]:
    """Return what is said about a broken table."""
    with pytest.raises(ProblemsError) as caught:
        check_table(raw, "t.toml")
    assert str(caught.value) == "\n".join(caught.value.problems)
    return caught.value.problems


def test_shipped_table_has_the_agreed_rows() -> None:
    """Row numbers, priorities and times to act are those that were rationalised (starting values)."""
    table = parse_table(TEXT, TABLE_FILE)

    worse = {r.id: r.worse and (r.worse.priority, r.worse.when.value, r.worse.after_s) for r in table.row}
    assert {r.id: (r.number, r.priority, r.on_delay_s, r.act_in_s) for r in table.row} == {
        "temperature-falling": (1, 2, 0.0, 600.0),
        "stall": (2, 2, 0.0, 1800.0),
        "climbs-too-fast": (3, 1, 300.0, 300.0),
        "quartz-too-fast": (4, 3, 300.0, 600.0),
        "cools-too-fast": (5, 2, 300.0, 900.0),
        "over-limit": (6, 1, 180.0, 300.0),
        "stoke-overdue": (8, 2, 0.0, 300.0),
        "rhythm-drifts": (9, 3, 0.0, 3600.0),
        "spread": (10, 3, 1800.0, 1800.0),
        "reduction-unwanted": (11, 3, 300.0, 900.0),
        "reduction-lost": (12, 3, 300.0, 1200.0),
        "sensor-failed": (13, 2, 10.0, 900.0),
        "sensor-uncertain": (14, 3, 10.0, 3600.0),
        "node-lost": (15, 2, 120.0, 300.0),
        "nobody-hears": (17, 1, 120.0, 300.0),
        "service-stuck": (18, 1, 0.0, 300.0),
        "no-sign-of-life": (19, 1, 300.0, 300.0),
        "little-space": (20, 3, 60.0, 7200.0),
        "clock-wrong": (21, 3, 0.0, 3600.0),
        "power-low": (22, 2, 60.0, 1800.0),
        "handover-overdue": (23, 3, 900.0, 900.0),
        "host-warm": (24, 3, 300.0, 3600.0),
        "sounder-lost": (30, 2, 0.0, 900.0),
        "timber-hot": (25, 1, 60.0, 60.0),
        "store-failing": (28, 2, 0.0, 3600.0),
        "plan-late": (29, 3, 600.0, 3600.0),
    }
    assert {row_id: word for row_id, word in worse.items() if word is not None} == {
        "temperature-falling": (1, "high-fire", None),
        "quartz-too-fast": (2, "coming-down", None),
        "stoke-overdue": (1, "alone", None),
        "reduction-unwanted": (2, "early", None),
        "sensor-failed": (1, "guide-or-last", None),
        "node-lost": (1, "lasting", 600.0),
        "little-space": (1, "short", None),
    }
    assert {r.id for r in table.row if r.never_shelve} == {"node-lost", "nobody-hears", "service-stuck", "timber-hot"}


@pytest.mark.parametrize("fault", ["open", "range", "cold-junction", "missing", "short", "reversed", "frozen"])
def test_a_fault_that_blinds_a_sensor_raises_sensor_failed(fault: str) -> None:
    """Faults after which the number is wrong or absent are the failed sensor's row."""
    row = parse_table(TEXT, TABLE_FILE).row_for(Condition.SENSOR, SensorFault(fault))

    assert row is not None
    assert row.id == "sensor-failed"


@pytest.mark.parametrize("fault", ["drift", "letter", "swapped"])
def test_a_fault_that_only_casts_doubt_raises_sensor_uncertain(fault: str) -> None:
    """Doubt about a number waits for a convenient time."""
    row = parse_table(TEXT, TABLE_FILE).row_for(Condition.SENSOR, SensorFault(fault))

    assert row is not None
    assert (row.id, row.priority) == ("sensor-uncertain", 3)


def test_every_sensor_fault_has_exactly_one_row() -> None:
    """A fault without a row would never be seen, one with two would sound twice."""
    named = [fault for row in parse_table(TEXT, TABLE_FILE).row for fault in row.faults]

    assert sorted(named) == sorted(SensorFault)


def test_priority_one_begins_with_peoples_safety() -> None:
    """The first line of a priority 1 action is the safety of people, and only there."""
    table = parse_table(TEXT, TABLE_FILE)

    urgent = table.words_for(replace(ALARM, priority=1))
    assert urgent.action.split("\n")[0] == "Your safety before the pots."
    assert table.words_for(ALARM).action == urgent.action.split("\n", 1)[1]


def test_shared_words_are_filled_in() -> None:
    """A falling kiln first asks to look before anyone feeds a choked fire."""
    words = parse_table(TEXT, TABLE_FILE).words_for(ALARM)

    assert words.action.startswith("Stand aside, open slowly, look. Dark, smoky or deep embers: do not stoke;")
    assert "{" not in words.cause + words.consequence + words.action
    assert (words.title, words.act_in_s) == ("Temperature falling", 600.0)


def test_words_for_an_unknown_row_are_refused() -> None:
    """An alarm whose row is gone is a fault of ours and says which."""
    with pytest.raises(ValueError, match="no row 'nonsense'"):
        parse_table(TEXT, TABLE_FILE).words_for(replace(ALARM, row="nonsense"))


def test_unreadable_text_is_told_with_its_file() -> None:
    """Text that is no TOML names the file and the place."""
    with pytest.raises(ProblemsError, match=r"t\.toml: not readable as TOML: .*line 2"):
        parse_table("[settings]\nhigh_fire_c = = 3", "t.toml")


def spoil(raw: dict[str, Any], row: int, **changes: Any) -> dict[str, Any]:
    """Change keys of one row."""
    raw["row"][row].update(changes)
    return raw


LASTING = 'give seconds with when = "lasting", and only there'
FAULTS = 'name the faults where condition = "sensor", and only there'
HIGH = {"priority": 1, "when": "high-fire"}
CASES: list[tuple[int, dict[str, Any], str]] = [
    (0, {"priority": 0}, "row[1].priority: Input should be greater than or equal to 1 (found 0)"),
    (0, {"on_delay_s": -1.0}, "row[1].on_delay_s: Input should be greater than or equal to 0 (found -1.0)"),
    (0, {"act_in_s": float("nan")}, "row[1].act_in_s: Input should be a finite number (found nan)"),
    (1, {"id": "Stall!"}, "row[2].id: use lower-case letters, digits and '-', beginning with a letter"),
    (1, {"id": "node-lost"}, "row[14].id: 'node-lost' is used by row[2] too"),
    (1, {"number": 1}, "row[2].number: 1 is used by row[1] too"),
    (1, {"condition": "fall"}, "row[2].condition: 'fall' is used by row[1] too"),
    (1, {"condition": "fall"}, "row: no row for 'stall': it would never sound"),
    (11, {"faults": ["open"]}, "row: no row for 'sensor missing': it would never sound"),
    (11, {"faults": []}, f"row[12].faults: {FAULTS}"),
    (11, {"faults": "open"}, "row[12].faults: Input should be a valid tuple (found 'open')"),
    (0, {"faults": ["open"]}, f"row[1].faults: {FAULTS}"),
    (0, {"worse": {**HIGH, "priority": 2}}, "row[1].worse: its priority must be more urgent (lower) than the row's 2"),
    (13, {"worse": {"priority": 1, "when": "lasting"}}, f"row[14].worse.after_s: {LASTING}"),
    (0, {"worse": {**HIGH, "after_s": 1.0}}, f"row[1].worse.after_s: {LASTING} (found 1.0)"),
    (
        0,
        {"worse": {**HIGH, "when": "late"}},
        "row[1].worse.when: Input should be 'high-fire', 'early', 'guide-or-last', 'lasting',",
    ),
    (
        0,
        {"action": "{loook}"},
        "row[1].action: {loook} stands for nothing; allowed: {look}, {safety_first} (found '{loook}')",
    ),
    (0, {"colour": "red"}, "row[1].colour: unknown key; allowed here: id, number, title, condition,"),
    (0, {"worse": {**HIGH, "x": 1}}, "row[1].worse.x: unknown key; allowed here: priority, when, after_s"),
]


@pytest.mark.parametrize(("row", "changes", "said"), CASES)
def test_a_spoilt_row_is_told_with_key_and_remedy(
    raw: dict[str, Any], row: int, changes: dict[str, Any], said: str
) -> None:
    """Each error names file, row, key and what is allowed."""
    assert any(line.startswith(f"t.toml: {said}") for line in problems(spoil(raw, row, **changes)))


def test_all_errors_come_at_once(raw: dict[str, Any]) -> None:
    """Errors in keys, in rows and across rows are told together."""
    del raw["settings"]
    del raw["words"]["look"]
    raw["extra"] = 1
    raw["row"][1] = {"id": "stall", "number": 1, "priority": 9, "condition": "stall", "faults": ["open"]}

    told = problems(raw)
    for said in (
        "settings: missing; add it",
        "words.look: missing; add it",
        "extra: unknown key; allowed here: settings, words, row",
        "row[2].priority: Input should be less than or equal to 3 (found 9)",
        "row[2].faults: name the faults",
        "row[2].action: missing; add it",
        "row[2].number: 1 is used by row[1] too",
    ):
        assert any(said in line for line in told), said


@pytest.mark.parametrize("rows", ["none", [1, 2], None])
def test_rows_that_are_no_rows_are_told_not_stumbled_over(raw: dict[str, Any], rows: Any) -> None:
    """Whatever stands in place of the rows, the answer is a list of problems."""
    raw["row"] = rows

    assert any("row" in line for line in problems(raw))
