"""When each prompt is due."""

from typing import Any

import pytest

from monitor.alarms.moments import moments_of
from monitor.alarms.prompt_table import Moment
from tests.monitor.alarms.kiln import CLIMB, DRYING, HIGH, NOW, PROMPTS, sight


def due(highest_c: float | None = 600.0, **present: Any) -> set[Moment]:
    """Return the moments that are there."""
    found = moments_of(sight(**present), PROMPTS.settings, highest_c)
    return {moment for moment, is_there in found.items() if is_there}


@pytest.mark.parametrize(
    ("present", "moments"),
    [
        ({}, {Moment.FIRED}),
        ({"celsius": DRYING}, {Moment.FIRED, Moment.COLD}),
        ({"celsius": {**CLIMB, **dict.fromkeys(("firebox", "front", "middle", "back"), 20.0)}}, {Moment.COLD}),
        ({"celsius": HIGH}, {Moment.FIRED, Moment.HOT}),
        ({"watch_changed": NOW - 5.0}, {Moment.FIRED, Moment.WATCH_CHANGE}),
        ({"reduces": True}, {Moment.FIRED, Moment.REDUCTION}),
        ({"plan_top_c": 610.0}, {Moment.FIRED, Moment.NEAR_THE_END}),
        ({"last_stoke": NOW - 1000.0}, {Moment.FIRED, Moment.STOKE_DUE}),
        ({"last_sign": NOW - 2800.0}, {Moment.FIRED, Moment.SIGN_OF_LIFE}),
        ({"is_closed_up": True, "last_sign": NOW - 9000.0}, {Moment.COOLING}),
        ({"is_closed_up": True, "celsius": {**DRYING, "front": 99.0}}, {Moment.COOL}),
    ],
)
def test_the_present_tells_what_is_due(present: dict[str, Any], moments: set[Moment]) -> None:
    """Each moment alone beside that the kiln is fired."""
    assert due(**present) == moments


def test_a_fast_fall_without_a_stoke_asks_whether_the_kiln_is_closed_up() -> None:
    """60 degC in an hour; a stoke within it, a slower fall, or a closed kiln ask nothing."""
    unstoked = {"last_stoke": NOW - 3700.0}

    assert Moment.FALLING_UNSTOKED in due(661.0, **unstoked)
    assert Moment.FALLING_UNSTOKED not in due(659.0, **unstoked)
    assert Moment.FALLING_UNSTOKED not in due(661.0, last_stoke=NOW - 600.0)
    assert Moment.FALLING_UNSTOKED not in due(661.0, **unstoked, is_closed_up=True)


def test_what_cannot_be_known_is_said() -> None:
    """Without any temperature neither heat nor fire is known."""
    found = moments_of(sight(celsius={}), PROMPTS.settings, None)

    unknown = {Moment.FALLING_UNSTOKED, Moment.COLD, Moment.FIRED, Moment.HOT}
    assert {moment for moment, is_there in found.items() if is_there is None} == unknown
