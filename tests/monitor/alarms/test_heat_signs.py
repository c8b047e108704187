"""Limits of places, timber, and the spread of the chamber."""

from dataclasses import replace

from monitor.alarms.heat_signs import heat_signs
from monitor.alarms.table import Condition
from tests.monitor.alarms.kiln import AGREED, CLIMB, STEADY, always, never, sight


def test_only_what_has_a_limit_is_watched() -> None:
    """One probe with a limit, one at timber, and the agreed spread."""
    assert [(s.condition, s.subject) for s in heat_signs(sight(), never)] == [
        (Condition.HARD_LIMIT, "firebox"), (Condition.TIMBER, "roof"), (Condition.SPREAD, None),
    ]  # fmt: skip
    unsaid = sight(agreed=replace(AGREED, spread_c=None))
    assert Condition.SPREAD not in {s.condition for s in heat_signs(unsaid, never)}


def test_a_silent_timber_probe_is_not_cool() -> None:
    """No data is told as such: it holds what was."""
    blind = sight(celsius={s: c for s, c in CLIMB.items() if s != "roof"})
    (roof,) = [s for s in heat_signs(blind, always) if s.subject == "roof"]

    assert roof.present is None


def test_a_spread_that_closes_stays_told_until_it_is_closed() -> None:
    """It begins only where it grows; once told it ends by the numbers, not by a first step back."""
    closing = sight(celsius={**CLIMB, "front": 700.0}, climb_c_per_h={**STEADY, "front": 10.0})
    spread = {was: [s for s in heat_signs(closing, was) if s.condition is Condition.SPREAD] for was in (never, always)}

    assert [s.present for s in spread[never]] == [False]
    assert [s.present for s in spread[always]] == [True]


def test_one_sensor_has_no_spread() -> None:
    """What the others do cannot be known."""
    alone = sight(celsius={"front": 600.0})

    assert [s.present for s in heat_signs(alone, never) if s.condition is Condition.SPREAD] == [None]
