"""Time of day and changes of watch, against the clock changes of Lisbon (IANA time zone database, 2026)."""

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from monitor.local_time import changes_between, last_change, local_hour

ZONE = "Europe/Lisbon"


def at(text: str) -> float:
    """Return the epoch second of a local time in Lisbon."""
    return datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(ZONE)).timestamp()


@pytest.mark.parametrize(("utc", "hour"), [("2026-07-01T12:30:00+00:00", 13.5), ("2026-01-01T12:30:00+00:00", 12.5)])
def test_the_hour_is_that_of_the_kiln(utc: str, hour: float) -> None:
    """An hour ahead of UTC in summer, none in winter."""
    assert local_hour(datetime.fromisoformat(utc).timestamp(), ZONE) == hour


@pytest.mark.parametrize(
    ("now", "change"),
    [
        ("2026-05-02T05:59:59", "2026-05-01T22:00:00"),
        ("2026-05-02T06:00:00", "2026-05-02T06:00:00"),
        ("2026-10-25T12:00:00", "2026-10-25T06:00:00"),  # the day on which the clock goes back
    ],
)
def test_the_newest_change_is_found(now: str, change: str) -> None:
    """Also of the day before, and where a day has 25 hours."""
    assert last_change(at(now), (6.0, 14.0, 22.0) if "10-25" not in now else (6.0, 18.0), ZONE) == at(change)


def test_without_changes_there_is_none() -> None:
    """A kiln without a rota."""
    assert last_change(at("2026-05-02T06:00:00"), (), ZONE) is None


def test_all_changes_of_a_firing_are_listed() -> None:
    """Through the night in which the clock goes forward (29 March 2026)."""
    found = changes_between(at("2026-03-28T12:00:00"), at("2026-03-29T12:00:00"), (6.0, 18.5), ZONE)

    assert found == [at("2026-03-28T18:30:00"), at("2026-03-29T06:00:00")]
