"""Time of day where the kiln stands, and when the watch changed last; pure: the moment comes in."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo


def local_hour(now: float, zone: str) -> float:
    """Return the hour of the day (0 to 24) at epoch second `now` in the IANA `zone`."""
    at = datetime.fromtimestamp(now, ZoneInfo(zone))
    return at.hour + at.minute / 60.0 + at.second / 3600.0


def last_change(now: float, change_hours: Sequence[float], zone: str) -> float | None:
    """Return the epoch second of the newest change of watch up to `now`; None where the day has no changes.

    `change_hours` are hours of the local day, rising. A change in the hour that a clock change leaves out counts as
    datetime resolves it (PEP 495).
    """
    at = datetime.fromtimestamp(now, ZoneInfo(zone))
    for days_ago in (0, 1, 2):
        day = (at - timedelta(days=days_ago)).replace(hour=0, minute=0, second=0, microsecond=0, fold=0)
        for hours in reversed(change_hours):
            minutes = round(hours * 60.0)
            change = day.replace(hour=minutes // 60, minute=minutes % 60).timestamp()
            if change <= now:
                return change
    return None


def changes_between(begun: float, ended: float, change_hours: Sequence[float], zone: str) -> list[float]:
    """Return the epoch seconds of all changes of watch after `begun` up to `ended`, rising."""
    found: list[float] = []
    at: float | None = last_change(ended, change_hours, zone)
    while at is not None and at > begun:
        found.append(at)
        at = last_change(at - 1.0, change_hours, zone)
    return found[::-1]
