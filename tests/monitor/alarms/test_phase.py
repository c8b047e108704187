"""Where the firing stands."""

from typing import Any

import pytest

from monitor.alarms.circumstance import Phase
from monitor.alarms.phase import is_fired, phases_of
from tests.monitor.alarms.kiln import AGREED, CLIMB, DRYING, SENSORS, TABLE, seen


@pytest.mark.parametrize(
    ("present", "phases"),
    [
        ({}, set()),
        ({"celsius": DRYING}, {Phase.DRYING}),
        ({"celsius": {**DRYING, "back": 121.0, "middle": 125.0, "front": 130.0}}, set()),
        ({"planned_c_per_h": 4.0}, {Phase.SOAK}),
        ({"planned_c_per_h": None}, set()),
        ({"celsius": {**CLIMB, "middle": 950.0}}, {Phase.REDUCTION}),
        ({"is_closed_up": True, "celsius": DRYING, "planned_c_per_h": 0.0}, {Phase.COOLING}),
        ({"celsius": {}}, set()),
    ],
)
def test_the_present_tells_the_phases(present: dict[str, Any], phases: set[Phase]) -> None:
    """Drying until the coldest of the chamber is past 120 degC; closed up is cooling and nothing else."""
    assert phases_of(seen(**present), SENSORS, TABLE.settings, AGREED) == phases


@pytest.mark.parametrize(
    ("present", "fired"),
    [
        ({}, True),
        ({"celsius": {"front": 59.0}}, False),
        ({"celsius": {"roof": 90.0}}, None),  # timber says nothing of the fire
        ({"celsius": {}}, None),
        ({"celsius": CLIMB, "is_closed_up": True}, False),
    ],
)
def test_a_kiln_is_fired_when_it_is_warm_and_not_closed_up(present: dict[str, Any], fired: bool | None) -> None:
    """What cannot be known is said."""
    assert is_fired(seen(**present), SENSORS, TABLE.settings) is fired
