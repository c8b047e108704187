"""What the alarm room receives and returns beside findings and alarms."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from monitor.alarms.state import Reason
from monitor.model import Alarm


@dataclass(frozen=True, slots=True)
class WatchedSensor:
    """A sensor of the site as alarms see it: which node it hangs on, and whether it stands in the chamber.

    `place` is the site's word for where it stands, `limit_c` what must never be passed there, None for no limit.
    """

    id: str
    node: str
    in_chamber: bool
    place: str = ""
    limit_c: float | None = None


@dataclass(frozen=True, slots=True)
class Agreed:
    """What the people of the site agreed on; None where they did not say, and nothing is watched for it then.

    `is_raw` ware may dry only slowly. `spread_c` is how far the chamber's sensors may be apart. `reduction_c` holds
    ranges of the guide's temperature in which reduction is wanted. `interval_s` holds (degC at the guide, seconds
    between stokes), rising, linear between. `sign_of_life` says whether people are to show that they are there.
    """

    is_raw: bool = True
    spread_c: float | None = None
    reduction_c: tuple[tuple[float, float], ...] | None = None
    interval_s: tuple[tuple[float, float], ...] | None = None
    sign_of_life: bool = True


@dataclass(frozen=True, slots=True)
class Host:
    """What the host knows of itself and of who listens; None where it cannot know.

    `panels_with_sound` counts screens that can be heard, `lowest_battery` (0 to 1) is theirs. `engine_error` and
    `clock_error` say in words what is wrong, `voice_error` which sounders cannot be relied on. `free_bytes` are left
    where firings are kept, `host_c` is its own heat.
    """

    panels_with_sound: int | None = None
    lowest_battery: float | None = None
    engine_error: str | None = None
    clock_error: str | None = None
    voice_error: str | None = None
    free_bytes: float | None = None
    host_c: float | None = None


@dataclass(frozen=True, slots=True)
class Conditions:
    """The present, beside findings.

    `celsius` holds the newest temperature of each sensor that has a valid one now, `no_data` the sensors from which
    nothing can be judged now, `climb_c_per_h` how fast each rises net of stoke ripple, where that is known.
    `node_silence_s` counts host seconds since each node's last scan (since the start where none came); a node that is
    not named cannot be judged. `speed` is record seconds per host second. `store_error` tells why nothing can be
    stored, None while it can. `planned_c_per_h` is what the plan asks now, `behind_plan_s` how long ago it asked for
    the guide's temperature; None without a plan. `last_stoke` (front) and `last_sign` of a person's life are epoch
    seconds of record time, `local_hour` the time of day (0 to 24) where the kiln stands. `handover_due_s` counts host
    seconds since a handover fell due that nobody went through, None where none is due. `watch_changed` is when the
    watch changed last by the rota, epoch seconds; `reduces` whether a finding of reduction is open; `plan_top_c` the
    plan's last temperature.
    """

    guide: str | None = None
    celsius: Mapping[str, float] = field(default_factory=dict)
    no_data: frozenset[str] = frozenset()
    node_silence_s: Mapping[str, float] = field(default_factory=dict)
    store_error: str | None = None
    speed: float = 1.0
    climb_c_per_h: Mapping[str, float] = field(default_factory=dict)
    is_closed_up: bool = False
    planned_c_per_h: float | None = None
    behind_plan_s: float | None = None
    last_stoke: float | None = None
    last_sign: float | None = None
    local_hour: float | None = None
    handover_due_s: float | None = None
    watch_changed: float | None = None
    reduces: bool = False
    plan_top_c: float | None = None
    host: Host = Host()


@dataclass(frozen=True, slots=True)
class AlarmChange:
    """One line of the alarm journal: what changed, when (epoch seconds), by whom (None: by itself), and the result."""

    key: str
    change: Reason
    time: float
    who: str | None
    alarm: Alarm


@dataclass(frozen=True, slots=True)
class Answer:
    """The answer to what a person did: why, the change if it made one, the alarm as it stands (None: unknown)."""

    reason: Reason
    change: AlarmChange | None
    alarm: Alarm | None
