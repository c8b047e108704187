"""The alarm book: findings and conditions in, alarms and their changes out; all of it can be saved.

Walks every alarm through the state table (`state.py`) by the judgement of its condition (`judge.py`) and the words of
the rationalisation table (`table.py`). Each change is returned as a record for the journal: replayed in order, the
journal gives the list of alarms. Sound, storing and showing are left to others.
"""

from collections.abc import Iterable, Sequence
from typing import Self

import msgspec

from monitor.alarms.entry import Entry, OpenCause, alarm_of
from monitor.alarms.judge import Judgement, Scene, is_silent, judge, next_event, priority_now
from monitor.alarms.records import Acknowledgement, AlarmChange, Conditions, WatchedSensor
from monitor.alarms.state import ACTIVE, ANNOUNCED, SOUNDING, Event, Reason, State, walk
from monitor.alarms.table import AlarmRow, AlarmTable, Condition
from monitor.model import Alarm, Finding, FindingKind, FindingState

SAVED_VERSION = 1

_CONDITION_OF = {
    FindingKind.FALL: Condition.FALL,
    FindingKind.STALL: Condition.STALL,
    FindingKind.SENSOR: Condition.SENSOR,
}
_CAUSES_FIRST = (Condition.NODE, Condition.SENSOR, Condition.STORE, Condition.FALL, Condition.STALL)
_UNSEEN = frozenset({State.CLEARED, State.LATCHED})
_STARTS = frozenset({Reason.BEGAN, Reason.SUPPRESSED})
_ENDS = frozenset({Reason.ENDED, Reason.ENDED_UNSEEN, Reason.LATCHED})


class _Saved(msgspec.Struct):
    version: int
    entries: list[Entry]
    silent_at: dict[str, float]
    order: int


class AlarmBook:
    """All alarms of one kiln.

    `left_out` names the alarms that a saved book held but whose row the table no longer has.
    """

    def __init__(self, table: AlarmTable, sensors: Sequence[WatchedSensor]) -> None:
        self._table = table
        self._sensors = {s.id: s for s in sensors}
        self._entries: dict[str, Entry] = {}
        self._silent_at: dict[str, float] = {}
        self._order = 0
        self.left_out: tuple[str, ...] = ()

    def step(self, now: float, findings: Iterable[Finding], conditions: Conditions) -> list[AlarmChange]:
        """Take in what is known at `now` (record time, epoch seconds) and return every change it makes, in order."""
        for finding in findings:
            self._take(finding)
        self._take_nodes(now, conditions)
        self._take_store(now, conditions.store_error)
        failed = frozenset(
            e.subject
            for e in self._entries.values()
            if e.open and e.subject is not None and self._row(e) is self._table.row_for(Condition.SENSOR)
        )
        scene = Scene(now, conditions, self._table.settings, self._sensors, failed, self._silent_at)
        entries = sorted(self._entries.values(), key=lambda e: (_CAUSES_FIRST.index(self._row(e).condition), e.key))
        return [change for entry in entries for change in self._advance(entry, scene)]

    def acknowledge(self, key: str, who: str, now: float) -> Acknowledgement:
        """Note that `who` has seen alarm `key`; the first to say so counts."""
        entry = self._entries.get(key)
        if entry is None:
            return Acknowledgement(Reason.NO_SUCH_ALARM, None, None)
        entry.state, reason = walk(entry.state, Event.ACKNOWLEDGE)
        if reason is not Reason.ACKNOWLEDGED:
            shown = alarm_of(entry) if entry.state in ANNOUNCED else None
            return Acknowledgement(reason, None, shown)
        entry.acked_at, entry.acked_by = now, who
        change = _change(entry, reason, now, who)
        return Acknowledgement(reason, change, change.alarm)

    def acknowledge_all(self, who: str, now: float) -> list[AlarmChange]:
        """Note that `who` has seen every alarm that sounds now (the wired button)."""
        answers = [self.acknowledge(e.key, who, now) for e in self._listed() if e.state in SOUNDING]
        return [a.change for a in answers if a.change is not None]

    def alarms(self) -> list[Alarm]:
        """Return every alarm that is active or was not seen yet, most urgent first; suppressed ones are not here."""
        return [alarm_of(e) for e in self._listed()]

    def suppressed(self) -> list[Alarm]:
        """Return the alarms that hold but are explained by another."""
        held = (e for e in self._entries.values() if e.state is State.SUPPRESSED)
        return [alarm_of(e) for e in sorted(held, key=lambda e: e.key)]

    def sounding(self) -> int | None:
        """Return the most urgent priority that should sound now, None for quiet."""
        return min((e.priority for e in self._entries.values() if e.state in SOUNDING), default=None)

    def first_in_group(self) -> str | None:
        """Return the key of the alarm that began first of those active now (OPC 10000-9 FirstInGroup)."""
        active = [e for e in self._entries.values() if e.state in ACTIVE]
        return min(active, key=lambda e: e.order).key if active else None

    def save(self) -> bytes:
        """Return all state as JSON."""
        entries = sorted(self._entries.values(), key=lambda e: e.key)
        return msgspec.json.encode(_Saved(SAVED_VERSION, entries, self._silent_at, self._order))

    @classmethod
    def restore(cls, table: AlarmTable, sensors: Sequence[WatchedSensor], saved: bytes) -> Self:
        """Return the book that `save` wrote.

        Raises:
            ValueError: where `saved` is no saved book of this version; a new book is then the way on.
        """
        try:
            held = msgspec.json.decode(saved, type=_Saved)
        except msgspec.DecodeError as error:
            raise ValueError(f"the saved alarms cannot be read: {error}") from error
        if held.version != SAVED_VERSION:
            raise ValueError(f"the saved alarms have version {held.version}; this program reads {SAVED_VERSION}")
        book = cls(table, sensors)
        book._entries = {e.key: e for e in held.entries if table.row_named(e.row) is not None}
        book._silent_at = held.silent_at
        book._order = held.order
        book.left_out = tuple(e.key for e in held.entries if e.key not in book._entries)
        return book

    def _listed(self) -> list[Entry]:
        shown = (e for e in self._entries.values() if e.state in ANNOUNCED)
        return sorted(shown, key=lambda e: (e.priority, e.state not in SOUNDING, e.order))

    def _row(self, entry: Entry) -> AlarmRow:
        row = self._table.row_named(entry.row)
        assert row is not None
        return row

    def _entry(self, row: AlarmRow, subject: str | None) -> Entry:
        """Return the entry of `row` about `subject`, a new one if there is none.

        The key begins with the condition's word; further rows on the same condition begin with their own id.
        """
        word = row.condition.value if row is self._table.row_for(row.condition) else row.id
        key = word if subject is None else f"{word}:{subject}"
        return self._entries.setdefault(key, Entry(key=key, row=row.id, subject=subject, priority=row.priority))

    def _take(self, finding: Finding) -> None:
        condition = _CONDITION_OF.get(finding.kind)
        row = None if condition is None else self._table.row_for(condition, finding.fault)
        if row is None:
            return  # shown as a finding; by the table it asks nobody to act
        entry = self._entry(row, finding.sensor if condition is Condition.SENSOR else None)
        fault = finding.fault or ""
        if finding.state is FindingState.BEGIN:
            entry.open[fault] = OpenCause(finding.onset, finding.text, finding.sensor)
        else:
            entry.open.pop(fault, None)

    def _take_nodes(self, now: float, conditions: Conditions) -> None:
        row = self._table.row_for(Condition.NODE)
        assert row is not None
        settings = self._table.settings
        for node, silence_s in conditions.node_silence_s.items():
            if is_silent(node, conditions, settings):
                self._entry(row, node)
            if silence_s * conditions.speed >= settings.node_silent_s:
                self._silent_at[node] = now
        self._silent_at = {node: min(at, now) for node, at in self._silent_at.items()}

    def _take_store(self, now: float, error: str | None) -> None:
        row = self._table.row_for(Condition.STORE)
        assert row is not None
        if error is None:
            if row.condition in self._entries:
                self._entry(row, None).open.clear()
            return
        text = f"Scans cannot be stored: {error}"
        self._entry(row, None).open.setdefault("", OpenCause(now, text, None)).text = text

    def _advance(self, entry: Entry, scene: Scene) -> list[AlarmChange]:
        row = self._row(entry)
        for cause in entry.open.values():
            cause.begun = min(cause.begun, scene.now)  # the clock was set back: count anew
        judged = judge(entry, row, scene)
        priority = priority_now(row, entry, judged, scene)
        if entry.state in _UNSEEN:
            priority = min(priority, entry.priority)
        entry.state, reason = walk(entry.state, next_event(entry, row, judged, scene.now))
        changes = []
        if reason is not Reason.NO_CHANGE:
            self._note(entry, reason, judged, priority, scene.now)
            changes.append(_change(entry, reason, scene.now, None))
        if entry.state in ACTIVE:
            changes += [_change(entry, r, scene.now, None) for r in _update(entry, judged, priority)]
        if entry.state is State.NORMAL and not judged.present:
            del self._entries[entry.key]
        return changes

    def _note(self, entry: Entry, reason: Reason, judged: Judgement, priority: int, now: float) -> None:
        entry.suppressed_by = judged.suppressed_by if reason is Reason.SUPPRESSED else None
        if reason in _STARTS:
            entry.order = self._order = self._order + 1
            entry.priority = priority
            entry.since, entry.cleared, entry.acked_at, entry.acked_by = now, None, None, None
            entry.no_data, entry.sensor = judged.blind, judged.sensor
            entry.text = entry.text if judged.text is None else judged.text
        elif reason in _ENDS:
            entry.cleared, entry.no_data = now, False


def _update(entry: Entry, judged: Judgement, priority: int) -> Iterable[Reason]:
    """Bring an active alarm up to date; yield what changed, after each change.

    An alarm may grow worse, never milder, while it is active: a swing round a set point must not hide it.
    """
    if priority < entry.priority:
        entry.priority = priority
        entry.state, reason = walk(entry.state, Event.WORSE)
        entry.acked_at, entry.acked_by = None, None
        yield reason
    if judged.text is not None and (judged.text, judged.sensor) != (entry.text, entry.sensor):
        entry.text, entry.sensor = judged.text, judged.sensor
        yield Reason.RENAMED
    if judged.blind != entry.no_data and entry.state is not State.LATCHED:
        entry.no_data = judged.blind
        yield Reason.NO_DATA if judged.blind else Reason.DATA_BACK


def _change(entry: Entry, reason: Reason, now: float, who: str | None) -> AlarmChange:
    return AlarmChange(entry.key, reason, now, who, alarm_of(entry))
