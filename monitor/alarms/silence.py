"""Silence: all sound off for a short while, broken by whatever is new or worse.

Counts host seconds given as `now_s` (a monotonic clock), not record time, which in a demo runs faster than life.
"""

from collections.abc import Iterable

from monitor.alarms.records import AlarmChange
from monitor.alarms.state import Reason

BREAKS_SILENCE = frozenset({Reason.BEGAN, Reason.WORSE, Reason.REMINDED, Reason.UNSHELVED})


class Silence:
    """One silence for all sound; it hides no alarm and acknowledges none."""

    def __init__(self, length_s: float) -> None:
        self._length_s = length_s
        self._until_s: float | None = None

    def start(self, now_s: float) -> None:
        """Silence all sound from `now_s` on; a second press begins the time anew."""
        self._until_s = now_s + self._length_s

    def hear(self, changes: Iterable[AlarmChange]) -> bool:
        """End the silence if any of `changes` is a new or worse alarm; return whether it ended one."""
        if self._until_s is None or not any(c.change in BREAKS_SILENCE for c in changes):
            return False
        self._until_s = None
        return True

    def remaining_s(self, now_s: float) -> float:
        """Return how many more seconds sound stays off, 0 when it is on."""
        if self._until_s is None or now_s >= self._until_s:
            self._until_s = None
            return 0.0
        return min(self._length_s, self._until_s - now_s)
