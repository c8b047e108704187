"""Rates of the chamber's sensors: deadband, and what cannot be known."""

from monitor.alarms.rate_signs import rate_signs
from monitor.alarms.sign import Sign, WasOpen
from monitor.alarms.table import Condition
from tests.monitor.alarms.kiln import DRYING, STEADY, always, never, sight


def of(condition: Condition, was: WasOpen = never, **present: object) -> dict[str | None, Sign]:
    """Return the signs of `condition` by sensor."""
    return {s.subject: s for s in rate_signs(sight(**present), was) if s.condition is condition}  # type: ignore[arg-type]


def test_a_rate_just_under_its_limit_ends_nothing() -> None:
    """20 degC/h is the limit of raw ware; 5 below it ends."""
    just_under = {**STEADY, "front": 16.0, "middle": 14.0}

    before = of(Condition.DRYING_CLIMB, celsius=DRYING, climb_c_per_h=just_under)
    held = of(Condition.DRYING_CLIMB, always, celsius=DRYING, climb_c_per_h=just_under)
    assert (before["front"].present, held["front"].present, held["middle"].present) == (False, True, False)


def test_a_sensor_without_a_climb_is_not_known() -> None:
    """The others are judged."""
    known = of(Condition.DRYING_CLIMB, celsius=DRYING, climb_c_per_h={"back": 50.0})

    assert {sensor: sign.present for sensor, sign in known.items()} == {"front": None, "middle": None, "back": True}


def test_only_ware_is_watched() -> None:
    """The firebox may do as it likes."""
    assert set(of(Condition.INVERSION)) == {"front", "middle", "back"}
