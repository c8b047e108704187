"""Findings as lines of JSON: fields by kind, four digits, one order."""

import json
import random
from dataclasses import replace

import pytest

from monitor.findings_file import finding_lines
from monitor.model import Finding, FindingKind, FindingState, SensorFault

COMMON = ["time", "kind", "state", "sensor", "onset", "measure", "unit", "text"]
STALL = Finding(
    1764003600.0, FindingKind.STALL, FindingState.BEGIN, "middle", 1764002400.0, 3.14159, "Cel/h", "middle stalls."
)


def lines_of(*findings: Finding) -> list[dict[str, object]]:
    """Return the objects of the lines."""
    return [json.loads(line) for line in finding_lines(findings)]


def test_a_line_holds_the_agreed_fields() -> None:
    """As in the section "Replay" of DEVELOPERS.md; `measure` has four significant digits."""
    (text,) = finding_lines([STALL])

    assert text == (
        '{"time": 1764003600.0, "kind": "stall", "state": "begin", "sensor": "middle", "onset": 1764002400.0, '
        '"measure": 3.142, "unit": "Cel/h", "text": "middle stalls."}\n'
    )


@pytest.mark.parametrize(
    ("kind", "state", "own", "more"),
    [
        (FindingKind.STOKE, FindingState.EVENT, {"door": "front"}, {"door": "front"}),
        (FindingKind.STOKE, FindingState.EVENT, {}, {"door": None}),
        (FindingKind.STALL, FindingState.END, {}, {}),
        (FindingKind.FALL, FindingState.BEGIN, {}, {}),
        (FindingKind.REDUCTION, FindingState.BEGIN, {}, {}),
        (FindingKind.RHYTHM, FindingState.BEGIN, {"ratio": 1.25}, {"ratio": 1.25}),
        (FindingKind.SENSOR, FindingState.BEGIN, {"fault": SensorFault.COLD_JUNCTION}, {"fault": "cold-junction"}),
    ],
)
def test_each_kind_has_its_own_fields_and_no_other(
    kind: FindingKind, state: FindingState, own: dict[str, object], more: dict[str, object]
) -> None:
    """A stoke names its door, a rhythm its ratio, a sensor its fault."""
    (line,) = lines_of(replace(STALL, kind=kind, state=state, **own))  # type: ignore[arg-type]

    assert list(line) == [*COMMON, *more]
    assert {key: line[key] for key in more} == more
    assert (line["kind"], line["state"]) == (kind.value, state.value)


def test_sensor_and_measure_may_be_null() -> None:
    """A finding over all zones names none, an end measures nothing."""
    (line,) = lines_of(replace(STALL, sensor=None, measure=None, unit=None))

    assert (line["sensor"], line["measure"], line["unit"]) == (None, None, None)


@pytest.mark.parametrize(
    ("measure", "told"), [(123456.0, 123500.0), (0.000123456, 0.0001235), (-2.71828, -2.718), (0.0, 0.0)]
)
def test_measures_have_four_significant_digits(measure: float, told: float) -> None:
    """Large, small, negative and none."""
    (line,) = lines_of(replace(STALL, measure=measure))

    assert line["measure"] == told


def test_the_order_does_not_depend_on_how_findings_were_found() -> None:
    """By time, then kind, sensor (none first), fault, state."""
    sensor = replace(STALL, kind=FindingKind.SENSOR)
    ordered = [
        replace(STALL, time=1.0, kind=FindingKind.STALL),
        replace(STALL, time=2.0, kind=FindingKind.FALL, sensor=None),
        replace(STALL, time=2.0, kind=FindingKind.FALL, sensor="back"),
        replace(sensor, time=2.0, sensor="back", fault=SensorFault.OPEN, state=FindingState.BEGIN),
        replace(sensor, time=2.0, sensor="back", fault=SensorFault.OPEN, state=FindingState.END),
        replace(sensor, time=2.0, sensor="back", fault=SensorFault.RANGE),
        replace(sensor, time=2.0, sensor="front", fault=SensorFault.OPEN),
        replace(STALL, time=2.0, kind=FindingKind.STALL),
    ]
    expected = [line for finding in ordered for line in finding_lines([finding])]
    shuffled = ordered.copy()

    for seed in range(20):
        random.Random(seed).shuffle(shuffled)
        assert list(finding_lines(shuffled)) == expected
