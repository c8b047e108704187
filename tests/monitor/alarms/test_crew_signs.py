"""Agreed intervals, quiet, and what cannot be known of a crew."""

import pytest

from monitor.alarms.crew_signs import agreed_interval_s, crew_signs, least_quiet_s, quiet_s
from monitor.alarms.records import Agreed
from monitor.alarms.sign import Sight
from monitor.alarms.table import Condition
from tests.monitor.alarms.kiln import CLIMB, NOW, TABLE, sight


@pytest.mark.parametrize(
    ("celsius", "interval_s"), [(299.0, None), (300.0, 1200.0), (650.0, 780.0), (1000.0, 360.0), (1300.0, 360.0)]
)
def test_the_agreed_interval_lies_on_the_line_between_its_points(celsius: float, interval_s: float | None) -> None:
    """Linear between (300 degC, 20 min) and (1000 degC, 6 min), constant beyond, none below."""
    assert agreed_interval_s(sight(celsius={**CLIMB, "middle": celsius})) == interval_s


def test_quiet_counts_the_seconds_of_people() -> None:
    """A kiln 60 times as fast as life wakes nobody 60 times as often."""
    assert quiet_s(sight(last_sign=NOW - 3600.0, speed=60.0)) == 60.0
    assert quiet_s(sight(last_sign=None)) is None


@pytest.mark.parametrize(
    ("hour", "least_s"), [(None, 2700.0), (0.9, 2700.0), (1.0, 1800.0), (5.9, 1800.0), (6.0, 2700.0)]
)
def test_the_small_hours_ask_sooner(hour: float | None, least_s: float) -> None:
    """45 minutes, 30 from one to six (starting values)."""
    assert least_quiet_s(TABLE.settings, hour) == least_s


def present(now: Sight, condition: Condition) -> bool | None:
    """Return what the sign of `condition` says."""
    (sign,) = [s for s in crew_signs(now) if s.condition is condition]
    return sign.present


def test_with_the_eye_on_the_fire_lost_a_late_stoke_cannot_be_known() -> None:
    """The firebox sensor shows stokes; without it, none seen is none known."""
    blind = {s: c for s, c in CLIMB.items() if s != "firebox"}

    assert present(sight(celsius=blind, last_stoke=NOW - 5000.0), Condition.STOKE_OVERDUE) is None
    assert present(sight(celsius=blind, last_stoke=NOW - 50.0), Condition.STOKE_OVERDUE) is False


def test_a_kiln_that_nobody_can_see_holds_what_was() -> None:
    """Whether it is fired is unknown: a quiet crew is neither alarmed nor cleared."""
    assert present(sight(celsius={}, last_sign=NOW - 9000.0), Condition.SIGN_OF_LIFE) is None


def test_what_was_not_agreed_is_not_watched() -> None:
    """No interval, no sign of life: neither sign is there."""
    conditions = {s.condition for s in crew_signs(sight(agreed=Agreed(sign_of_life=False)))}

    assert conditions == {Condition.HANDOVER}
