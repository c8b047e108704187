"""Who is on watch when."""

from dataclasses import replace

import pytest

from simulator.crew.roster import hour_when_lit, lateness, watch_at
from simulator.spec.kiln_file import load_kiln

FIRST = load_kiln("demo").crew.watches[0]
DAY = replace(FIRST, name="day", from_hour=6.0, dawn_late=1.0)
LATE = replace(FIRST, name="late", from_hour=14.0, dawn_late=1.1)
NIGHT = replace(FIRST, name="night", from_hour=22.0, dawn_late=1.2)


@pytest.mark.parametrize(
    ("day_hour", "name"),
    [(6.0, "day"), (13.99, "day"), (14.0, "late"), (22.0, "night"), (0.0, "night"), (5.99, "night")],
)
def test_watches_change_by_the_clock_on_the_wall(day_hour: float, name: str) -> None:
    """Each stays until the next one's hour, over midnight too; the order of the list does not matter."""
    assert watch_at((NIGHT, DAY, LATE), day_hour).name == name


def test_one_watch_is_always_there() -> None:
    """Before its hour too."""
    assert watch_at((LATE,), 3.0) is LATE


def test_only_the_hours_before_dawn_are_slow() -> None:
    """From three to six."""
    assert [lateness(NIGHT, h) for h in (2.9, 3.0, 5.9, 6.0)] == [1.0, 1.2, 1.2, 1.0]


@pytest.mark.parametrize(("zone", "hour"), [("UTC", 22.5), ("Europe/Lisbon", 23.5), ("Asia/Kolkata", 4.0)])
def test_hour_of_lighting_is_the_one_on_the_wall(zone: str, hour: float) -> None:
    """2026-06-15 22:30:00 UTC; Lisbon is an hour ahead in summer, Kolkata five and a half (IANA time zones)."""
    assert hour_when_lit(1_781_562_600, zone) == hour
