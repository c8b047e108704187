"""Numbers and order of findings."""

import numpy as np
import pytest

from monitor.engine.told import four_digits, in_order, sensor_finding, span_finding
from monitor.model import Finding, FindingKind, FindingState, SensorFault


@pytest.mark.parametrize(
    ("number", "told"),
    [(3.14159, 3.142), (-0.000123456, -0.0001235), (12345.6, 12350.0), (0.0, 0.0), (np.nan, None), (np.inf, None)],
)
def test_measures_have_four_significant_digits(number: float, told: float | None) -> None:
    """Four digits wherever the point stands; what is not finite is not told."""
    assert four_digits(number) == told


def _fall(time: float, state: FindingState, sensor: str | None) -> Finding:
    return span_finding(FindingKind.FALL, state, sensor, times=(time, time), measure=np.nan, text="")


def _fault(time: float, sensor: str, fault: SensorFault) -> Finding:
    return sensor_finding(FindingState.BEGIN, sensor, fault, times=(time, time), text="")


def test_findings_are_ordered_by_time_kind_sensor_fault_state() -> None:
    """Each key decides where those before it are equal; no sensor comes first."""
    right = [
        _fall(1.0, FindingState.BEGIN, "z"),
        _fall(2.0, FindingState.BEGIN, None),
        _fall(2.0, FindingState.BEGIN, "a"),
        _fall(2.0, FindingState.END, "a"),
        _fault(2.0, "a", SensorFault.MISSING),
        _fault(2.0, "a", SensorFault.OPEN),
        _fault(2.0, "b", SensorFault.MISSING),
    ]
    mixed = [(0, right[i]) for i in (4, 1, 6, 0, 3, 2, 5)]

    assert [f for _, f in in_order(mixed)] == right


def test_equal_findings_of_two_kilns_are_ordered_by_kiln() -> None:
    """The kiln decides last."""
    f = _fault(2.0, "a", SensorFault.OPEN)

    assert in_order([(1, f), (0, f)]) == [(0, f), (1, f)]


@pytest.mark.parametrize(("kind", "unit"), [(FindingKind.STALL, "Cel/h"), (FindingKind.FALL, "Cel")])
def test_a_measure_carries_its_senml_unit(kind: FindingKind, unit: str) -> None:
    """A stall is measured in Cel/h, a fall in Cel; without a measure there is no unit."""
    begin = span_finding(kind, FindingState.BEGIN, "middle", times=(5.0, 4.0), measure=3.14159, text="t")
    end = span_finding(kind, FindingState.END, "middle", times=(9.0, 8.0), measure=np.nan, text="t")

    assert (begin.time, begin.onset, begin.measure, begin.unit) == (5.0, 4.0, 3.142, unit)
    assert (end.measure, end.unit) == (None, None)
