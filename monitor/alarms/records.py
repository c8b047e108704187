"""What the alarm room receives and returns beside findings and alarms."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from monitor.alarms.state import Reason
from monitor.model import Alarm


@dataclass(frozen=True, slots=True)
class WatchedSensor:
    """A sensor of the site as alarms see it: which node it hangs on, and whether it stands in the chamber."""

    id: str
    node: str
    in_chamber: bool


@dataclass(frozen=True, slots=True)
class Conditions:
    """The present, beside findings.

    `celsius` holds the newest temperature of each sensor that has a valid one now, `no_data` the sensors from which
    nothing can be judged now. `node_silence_s` counts host seconds since each node's last scan (since the start where
    none came); a node that is not named cannot be judged. `speed` is record seconds per host second. `store_error`
    tells why nothing can be stored, None while it can.
    """

    guide: str | None = None
    celsius: Mapping[str, float] = field(default_factory=dict)
    no_data: frozenset[str] = frozenset()
    node_silence_s: Mapping[str, float] = field(default_factory=dict)
    store_error: str | None = None
    speed: float = 1.0


@dataclass(frozen=True, slots=True)
class AlarmChange:
    """One line of the alarm journal: what changed, when (epoch seconds), by whom (None: by itself), and the result."""

    key: str
    change: Reason
    time: float
    who: str | None
    alarm: Alarm


@dataclass(frozen=True, slots=True)
class Acknowledgement:
    """The answer to one acknowledgement: why, the change if it made one, the alarm as it stands (None: unknown)."""

    reason: Reason
    change: AlarmChange | None
    alarm: Alarm | None
