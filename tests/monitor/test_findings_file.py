"""Findings as lines: the fields of each kind, and an order that does not depend on how they were found."""

import json
from dataclasses import replace
from itertools import permutations

from monitor.findings_file import finding_lines
from monitor.model import Finding, FindingKind, FindingState, SensorFault

STALL = Finding(10.0, FindingKind.STALL, FindingState.BEGIN, "middle", 5.0, 3.14159, "Cel/h", "stands still")
OPEN = Finding(10.0, FindingKind.SENSOR, FindingState.BEGIN, "back", 9.0, None, None, "wire", fault=SensorFault.OPEN)
OPEN_END = Finding(12.0, FindingKind.SENSOR, FindingState.END, "back", 11.0, None, None, "back", fault=SensorFault.OPEN)
STOKE = Finding(10.0, FindingKind.STOKE, FindingState.EVENT, None, 8.0, None, None, "stoke", door="front")
RHYTHM = Finding(11.0, FindingKind.RHYTHM, FindingState.BEGIN, None, 8.0, 1.3, None, "slower", ratio=1.3)


def told(*findings: Finding) -> list[dict[str, object]]:
    """Return the objects that the lines hold."""
    return [json.loads(line) for line in finding_lines(findings)]


def test_order_is_time_kind_sensor_fault_state() -> None:
    """Whatever order they are found in, the file is the same."""
    expected = list(finding_lines([OPEN, STALL, STOKE, RHYTHM, OPEN_END]))

    assert [json.loads(line)["kind"] for line in expected] == ["sensor", "stall", "stoke", "rhythm", "sensor"]
    for some in permutations([STALL, OPEN, STOKE, RHYTHM, OPEN_END]):
        assert list(finding_lines(some)) == expected


def test_every_line_has_the_common_fields_in_order() -> None:
    """Time, kind, state, sensor, onset, measure, unit, text; the measure with four digits."""
    (line,) = told(STALL)

    assert list(line) == ["time", "kind", "state", "sensor", "onset", "measure", "unit", "text"]
    assert line["measure"] == 3.142
    assert line["kind"] == "stall"


def test_how_sure_is_told_where_it_is_known() -> None:
    """A field more at the end, not null for what was never weighed."""
    sure, told_of = told(replace(STOKE, confidence=0.92)), told(STOKE)

    assert list(sure[0])[-1] == "confidence"
    assert sure[0]["confidence"] == 0.92
    assert "confidence" not in told_of[0]


def test_kinds_carry_their_own_field_and_no_other() -> None:
    """A stoke has a door, a rhythm its ratio, a sensor its fault; null where unknown."""
    by_kind = {str(line["kind"]): line for line in told(STOKE, RHYTHM, OPEN, STALL)}

    own = ("door", "ratio", "fault")
    assert {kind: [k for k in own if k in line] for kind, line in by_kind.items()} == {
        "stoke": ["door"],
        "rhythm": ["ratio"],
        "sensor": ["fault"],
        "stall": [],
    }
    assert by_kind["sensor"]["fault"] == "open"
    assert by_kind["stoke"]["sensor"] is None
