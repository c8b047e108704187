"""Who is on watch: watches change by the clock on the wall, and the hours before dawn are the slow ones."""

from collections.abc import Sequence
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from simulator.spec.crew_spec import WatchSpec

DAWN_BEGINS_H = 3.0
DAWN_ENDS_H = 6.0
"""Hours of the day between which a tired watch is late (common practice, no source)."""


def hour_when_lit(lit: int, time_zone: str) -> float:
    """Return the hour of the day, 0 to 24, on the clock on the wall at epoch second `lit`."""
    wall = datetime.fromtimestamp(lit, UTC).astimezone(ZoneInfo(time_zone))
    return wall.hour + wall.minute / 60.0 + wall.second / 3600.0


def watch_at(watches: Sequence[WatchSpec], day_hour: float) -> WatchSpec:
    """Return who is on watch at `day_hour` of the day: each stays until the next one's hour, round the clock."""
    latest = None
    for watch in watches:
        if watch.from_hour <= day_hour and (latest is None or watch.from_hour > latest.from_hour):
            latest = watch
    return latest or max(watches, key=lambda w: w.from_hour)


def lateness(watch: WatchSpec, day_hour: float) -> float:
    """Return by what the intervals of `watch` are longer at `day_hour` of the day."""
    return watch.dawn_late if DAWN_BEGINS_H <= day_hour < DAWN_ENDS_H else 1.0
