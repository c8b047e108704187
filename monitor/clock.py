"""The record clock: what time it is for the firing. One of the few files that may ask the machine.

Record time never goes back. Intervals a person feels (ages, silence, link limits) are taken from `host_seconds`, which
no clock step moves.
"""

import time
from typing import Protocol


class RecordClock(Protocol):
    """Tells the firing's time in epoch seconds; `behind_s` is how far the machine lay behind the record."""

    behind_s: float

    def now(self) -> float:
        """Return record time."""

    def follow(self, scan_time: float) -> None:
        """Take note of a scan's time."""


def host_seconds() -> float:
    """Return seconds that only ever grow by the seconds that pass."""
    return time.monotonic()


def wall_seconds() -> float:
    """Return what the machine takes for the time, epoch seconds; for names and checks, never for intervals."""
    return time.time()  # noqa: TID251 - the one place where wall time enters


class HostClock:
    """The machine's own clock, read once and carried on by the seconds that pass.

    `floor` is the newest time already stored: a machine that woke with a clock in the past goes on from there, and
    `behind_s` says how far it was behind.
    """

    def __init__(self, floor: float = 0.0) -> None:
        wall = wall_seconds()
        self.behind_s = max(0.0, floor - wall)
        self._offset = max(wall, floor) - host_seconds()

    def now(self) -> float:
        """Return record time, to the millisecond as it is stored and exported."""
        return round(host_seconds() + self._offset, 3)

    def follow(self, scan_time: float) -> None:
        """Ignore scan times: the host's clock leads."""


class FollowingClock:
    """The clock of a simulated kiln: the newest scan time seen."""

    def __init__(self, floor: float = 0.0) -> None:
        self.behind_s = 0.0
        self._newest = floor

    def now(self) -> float:
        """Return record time."""
        return self._newest

    def follow(self, scan_time: float) -> None:
        """Move on to a newer scan's time."""
        self._newest = max(self._newest, scan_time)
