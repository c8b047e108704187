"""One step of one alarm: what its condition, its delays and the seconds that pass do to it.

What a person was told is never taken back: an active alarm may grow worse, never milder, and one that was put off comes
back when its time is over or it grows worse.
"""

from collections.abc import Iterable, Iterator

from monitor.alarms.entry import Entry, alarm_of
from monitor.alarms.judge import Judgement, Scene, judge, next_event, priority_now
from monitor.alarms.records import AlarmChange
from monitor.alarms.state import ACTIVE, SOUNDING, Event, Reason, State, walk
from monitor.alarms.table import AlarmRow, Settings

STARTS = frozenset({Reason.BEGAN, Reason.SUPPRESSED})
SOUNDS_AGAIN = frozenset({Reason.BEGAN, Reason.WORSE, Reason.UNSHELVED, Reason.REMINDED})
_ENDS = frozenset({Reason.ENDED, Reason.ENDED_UNSEEN, Reason.LATCHED})
_UNSEEN = frozenset({State.CLEARED, State.LATCHED})


def advance(entry: Entry, row: AlarmRow, scene: Scene, order: int) -> Iterator[AlarmChange]:
    """Walk `entry` one step and yield each change it makes; `order` numbers the alarm if it becomes active now."""
    for reason in _reasons(entry, row, scene, order):
        yield change_of(entry, reason, scene.now, None)


def change_of(entry: Entry, reason: Reason, now: float, who: str | None) -> AlarmChange:
    """Return the journal line of a change that `entry` has just gone through."""
    return AlarmChange(entry.key, reason, now, who, alarm_of(entry))


def _reasons(entry: Entry, row: AlarmRow, scene: Scene, order: int) -> Iterator[Reason]:
    if _follow_clock(entry, scene.now):
        yield Reason.SHELVED  # until another time by the clock that was set back
    judged = judge(entry, row, scene)
    priority = priority_now(row, entry, judged, scene)
    if entry.state in _UNSEEN:
        priority = min(priority, entry.priority)
    held, entry.held = entry.held, judged.present or (judged.blind and entry.held)
    if entry.state is State.SHELVED and entry.held is not held:
        yield Reason.BACK if entry.held else Reason.OVER
    entry.state, reason = walk(entry.state, _event(entry, row, judged, scene))
    if reason is not Reason.NO_CHANGE:
        _note(entry, reason, judged, priority, now=scene.now, order=order)
        yield reason
    if entry.state in ACTIVE or entry.state is State.SHELVED:
        yield from _update(entry, judged, priority, scene.now)
    if entry.state in SOUNDING:
        yield from _escalate(entry, scene.settings, (scene.now - entry.unseen_since) / scene.conditions.speed)


def _follow_clock(entry: Entry, now: float) -> bool:
    """Count anew what began in the future: the clock was set back; return whether what is put off ends earlier."""
    for cause in entry.open.values():
        cause.begun = min(cause.begun, now)
    entry.unseen_since = min(entry.unseen_since, now)
    if entry.remind_since is not None:
        entry.remind_since = min(entry.remind_since, now)
    until = entry.shelved_until
    if entry.state is not State.SHELVED or until is None or until <= now + entry.shelved_for:
        return False
    entry.shelved_until = now + entry.shelved_for
    return True


def _event(entry: Entry, row: AlarmRow, judged: Judgement, scene: Scene) -> Event:
    if entry.state is State.SHELVED:
        if entry.shelved_until is not None and scene.now < entry.shelved_until:
            return Event.ACTIVE  # changes nothing
        return Event.UNSHELVE if entry.held else Event.UNSHELVE_OVER
    event = next_event(entry, row, judged, scene.now)
    if event is Event.INACTIVE and row.ends_seen:
        return Event.RESOLVE
    since = entry.remind_since
    if entry.state is State.ACKED and event is Event.ACTIVE and since is not None:
        return Event.REMIND if (scene.now - since) / scene.conditions.speed >= row.act_in_s else event
    return event


def _note(entry: Entry, reason: Reason, judged: Judgement, priority: int, *, now: float, order: int) -> None:
    entry.suppressed_by = judged.suppressed_by if reason is Reason.SUPPRESSED else None
    if reason in SOUNDS_AGAIN:
        entry.unseen_since, entry.escalation = now, 0
        entry.acked_at, entry.acked_by, entry.remind_since = None, None, None
    if reason in STARTS:
        entry.order, entry.priority = order, priority
        entry.since, entry.cleared, entry.acked_at, entry.acked_by = now, None, None, None
        entry.no_data, entry.sensor = judged.blind, judged.sensor
        entry.text = entry.text if judged.text is None else judged.text
    elif reason in _ENDS:
        entry.cleared, entry.no_data = now, False


def _update(entry: Entry, judged: Judgement, priority: int, now: float) -> Iterable[Reason]:
    """Bring a listed alarm up to date; yield what changed, after each change."""
    if priority < entry.priority and (judged.present or entry.state is not State.SHELVED):
        entry.priority = priority
        entry.state, reason = walk(entry.state, Event.WORSE)
        _note(entry, reason, judged, priority, now=now, order=entry.order)
        yield reason
    if judged.text is not None and (judged.text, judged.sensor) != (entry.text, entry.sensor):
        entry.text, entry.sensor = judged.text, judged.sensor
        yield Reason.RENAMED
    if judged.blind != entry.no_data and entry.state is not State.LATCHED:
        entry.no_data = judged.blind
        yield Reason.NO_DATA if judged.blind else Reason.DATA_BACK


def _escalate(entry: Entry, settings: Settings, unseen_s: float) -> Iterable[Reason]:
    if entry.priority != 1:
        return
    level = sum(unseen_s >= after_s for after_s in settings.escalate_s)
    if level > entry.escalation:
        entry.escalation = level
        yield Reason.ESCALATED
