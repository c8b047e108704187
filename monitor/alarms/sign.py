"""One judgement of a condition that no finding tells: there, not there, or not to be known."""

from collections.abc import Callable
from dataclasses import dataclass

from monitor.alarms.circumstance import Circumstance, Phase
from monitor.alarms.records import Agreed, Conditions, WatchedSensor
from monitor.alarms.table import Condition, Settings

WasOpen = Callable[[Condition, str | None], bool]
"""Whether a condition, about a subject, held when it was last judged: what ends needs more than what begins."""


@dataclass(frozen=True, slots=True)
class Sign:
    """What is known now of `condition` about `subject` (a sensor; None for the kiln).

    `present` is None where it cannot be known. `sensor` showed it, if one did. `text` says it in words where it is
    present; `circumstances` are those that hold beside it.
    """

    condition: Condition
    subject: str | None
    present: bool | None
    text: str = ""
    sensor: str | None = None
    circumstances: frozenset[Circumstance] = frozenset()


@dataclass(frozen=True, slots=True)
class Sight:
    """All that a sign may be made of at record time `now`; `is_fired` and `phases` as `phase.py` says."""

    now: float
    seen: Conditions
    agreed: Agreed
    settings: Settings
    sensors: tuple[WatchedSensor, ...]
    is_fired: bool | None
    phases: frozenset[Phase]

    @property
    def chamber(self) -> tuple[WatchedSensor, ...]:
        """The sensors that stand in the chamber."""
        return tuple(s for s in self.sensors if s.in_chamber)


def is_over(value: float | None, limit: float, deadband: float, *, was: bool) -> bool | None:
    """Return whether `value` lies above `limit`, or not yet `deadband` below it where it did; None where unknown."""
    if value is None:
        return None
    return value > (limit - deadband if was else limit)
