"""Is the condition of an alarm there, can it be judged, does another alarm explain it, is it worse?

Three rules hold for all rows. No data never clears: what cannot be judged is held. A silent node explains that its
sensors are missing, a failed sensor explains a process alarm of its own, and where the firing stands explains what is
usual there, but only before that alarm was announced: what a person was told is never taken back. On-delays count time
from the condition's begin and tolerate gaps.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from monitor.alarms.circumstance import Circumstance, Phase
from monitor.alarms.entry import Entry, OpenCause
from monitor.alarms.records import Conditions, WatchedSensor
from monitor.alarms.state import Event, State
from monitor.alarms.table import OF_FINDINGS, OF_HOST, AlarmRow, Condition, Settings
from monitor.model import SensorFault

_HELD_ACTIVE = frozenset({State.UNACKED, State.ACKED})


@dataclass(frozen=True, slots=True)
class Scene:
    """All that a judgement may look at; `failed` names sensors with an open fault that raises an alarm.

    `silent_at` is the record time at which each node was last silent for longer than it may be, `phases` where the
    firing stands.
    """

    now: float
    conditions: Conditions
    settings: Settings
    sensors: Mapping[str, WatchedSensor]
    failed: frozenset[str]
    silent_at: Mapping[str, float]
    phases: frozenset[Phase] = frozenset()


@dataclass(frozen=True, slots=True)
class Judgement:
    """What is known of an alarm's condition now.

    `present`: it holds; `blind`: whether it still holds cannot be known; `lasted_s`: for how long it has held;
    `suppressed_by`: key of the alarm that explains it; `text`, `sensor`: how to tell it, None to leave it as told.
    """

    present: bool
    blind: bool
    lasted_s: float
    suppressed_by: str | None
    text: str | None
    sensor: str | None


def judge(entry: Entry, row: AlarmRow, scene: Scene) -> Judgement:
    """Return what is known now of the condition behind `entry`."""
    if row.condition is Condition.NODE:
        return _judge_node(entry, scene)
    if row.condition is Condition.SENSOR:
        return _judge_sensor(entry, scene)
    return _judge_process(entry, row, scene)


def next_event(entry: Entry, row: AlarmRow, judged: Judgement, now: float) -> Event:
    """Return what the delays let through; keeps `entry.gone_since`, the start of the off-delay."""
    if entry.state not in _HELD_ACTIVE:
        entry.gone_since = None
        if judged.present and judged.suppressed_by is not None:
            return Event.SUPPRESS
        return Event.ACTIVE if judged.present and judged.lasted_s >= row.on_delay_s else Event.INACTIVE
    if judged.present or judged.blind:
        entry.gone_since = None
        return Event.ACTIVE
    entry.gone_since = now if entry.gone_since is None else min(entry.gone_since, now)
    if now - entry.gone_since < row.off_delay_s:
        return Event.ACTIVE
    return Event.LATCH if row.latching else Event.INACTIVE


def priority_now(row: AlarmRow, entry: Entry, judged: Judgement, scene: Scene) -> int:
    """Return the priority that the circumstances give `entry` now."""
    worse = row.worse
    if worse is None:
        return row.priority
    if worse.when is Circumstance.HIGH_FIRE:
        applies = _is_at_least(scene.settings.high_fire_c, judged.sensor or entry.sensor, scene)
    elif worse.when is Circumstance.EARLY:
        applies = not _is_at_least(scene.settings.early_c, None, scene)
    elif worse.when is Circumstance.GUIDE_OR_LAST:
        applies = _is_guide_or_last(entry.subject, scene)
    elif worse.when is Circumstance.LASTING:
        applies = worse.after_s is not None and judged.lasted_s >= worse.after_s
    else:
        applies = worse.when in entry.circumstances
    return worse.priority if applies else row.priority


def is_silent(node: str, conditions: Conditions, settings: Settings) -> bool:
    """Return whether `node` has been silent for so long that its sensors' last values say nothing."""
    return conditions.node_silence_s.get(node, 0.0) >= settings.node_silent_s


def _judge_node(entry: Entry, scene: Scene) -> Judgement:
    silence_s = scene.conditions.node_silence_s.get(entry.subject or "")
    if silence_s is None:
        return Judgement(present=False, blind=True, lasted_s=0.0, suppressed_by=None, text=None, sensor=None)
    return Judgement(
        present=silence_s >= scene.settings.node_silent_s,
        blind=False,
        lasted_s=silence_s,
        suppressed_by=None,
        text=f"Nothing arrives from probe box {entry.subject}.",
        sensor=None,
    )


def _judge_sensor(entry: Entry, scene: Scene) -> Judgement:
    sensor = scene.sensors.get(entry.subject or "")
    node = "" if sensor is None else sensor.node
    freed_at = scene.silent_at[node] + scene.settings.node_return_s if node in scene.silent_at else None
    own = dict(entry.open)
    if freed_at is not None and scene.now <= freed_at:
        own.pop(SensorFault.MISSING, None)
    told = own or entry.open
    return Judgement(
        present=bool(told),
        blind=is_silent(node, scene.conditions, scene.settings),
        lasted_s=max((_lasted_s(fault, cause, scene.now, freed_at) for fault, cause in own.items()), default=0.0),
        suppressed_by=f"node:{node}" if told and not own else None,
        text=max(told.values(), key=lambda cause: cause.begun).text if told else None,
        sensor=entry.subject,
    )


def _judge_process(entry: Entry, row: AlarmRow, scene: Scene) -> Judgement:
    cause = next(iter(entry.open.values()), None)
    sensor = entry.sensor if cause is None else cause.sensor
    blind = _is_blind(sensor, scene) if row.condition in OF_FINDINGS else entry.blind
    pace = scene.conditions.speed if row.condition in OF_HOST else 1.0
    return Judgement(
        present=cause is not None,
        blind=blind,
        lasted_s=0.0 if cause is None else (scene.now - cause.begun) / pace,
        suppressed_by=_explained_by(row, sensor, scene),
        text=None if cause is None else cause.text,
        sensor=sensor,
    )


def _explained_by(row: AlarmRow, sensor: str | None, scene: Scene) -> str | None:
    if sensor in scene.failed:
        return f"sensor:{sensor}"
    return next((f"phase:{phase}" for phase in row.not_in if phase in scene.phases), None)


def _lasted_s(fault: str, cause: OpenCause, now: float, freed_at: float | None) -> float:
    """Return for how many seconds `cause` has held; while its node was the reason, missing does not count."""
    if fault == SensorFault.MISSING and freed_at is not None:
        return now - max(cause.begun, freed_at)
    return now - cause.begun


def _is_blind(sensor: str | None, scene: Scene) -> bool:
    """Return whether nothing can be said of `sensor` now; of no sensor in particular: of the whole chamber."""
    if sensor is not None:
        watched = scene.sensors.get(sensor)
        silent = watched is not None and is_silent(watched.node, scene.conditions, scene.settings)
        return silent or sensor in scene.conditions.no_data
    chamber = [s.id for s in scene.sensors.values() if s.in_chamber]
    return bool(chamber) and all(_is_blind(s, scene) for s in chamber)


def _is_at_least(least_c: float, sensor: str | None, scene: Scene) -> bool:
    """Return whether the guide or `sensor` is that hot; where neither has a value, whether any sensor is."""
    celsius = scene.conditions.celsius
    known = [c for s, c in celsius.items() if s in {scene.conditions.guide, sensor}] or celsius.values()
    return any(c >= least_c for c in known)


def _is_guide_or_last(sensor: str | None, scene: Scene) -> bool:
    """Return whether `sensor` is the guide, or no other chamber sensor has a value while this one should."""
    if sensor is not None and sensor == scene.conditions.guide:
        return True
    watched = scene.sensors.get(sensor or "")
    if watched is None or not watched.in_chamber:
        return False
    return not any(s.in_chamber and s.id != sensor and s.id in scene.conditions.celsius for s in scene.sensors.values())
