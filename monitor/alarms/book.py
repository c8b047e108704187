"""The alarm book: findings and conditions in, alarms and their changes out; all of it can be saved.

Writes what is known into the ledger (`ledger.py`), walks every alarm through the state table (`state.py`) step by step
(`advance.py`), and answers people. Each change is returned as a record for the journal: replayed in order, the journal
gives the list of alarms. Sound, storing and showing are left to others.
"""

from collections.abc import Iterable, Sequence
from typing import Self

import msgspec

from monitor.alarms.advance import STARTS, advance, change_of
from monitor.alarms.circumstance import Phase
from monitor.alarms.entry import Entry, alarm_of
from monitor.alarms.judge import Scene, is_silent
from monitor.alarms.ledger import Ledger
from monitor.alarms.phase import is_fired, phases_of
from monitor.alarms.records import Agreed, AlarmChange, Answer, Conditions, WatchedSensor
from monitor.alarms.sign import Sight
from monitor.alarms.signs import signs_of
from monitor.alarms.state import ACTIVE, ANNOUNCED, SOUNDING, Event, Reason, State, walk
from monitor.alarms.table import AlarmTable
from monitor.model import Alarm, Finding

SAVED_VERSION = 2


class _Saved(msgspec.Struct):
    version: int
    entries: list[Entry]
    silent_at: dict[str, float]
    order: int


class AlarmBook:
    """All alarms of one kiln whose people agreed on `agreed`.

    `left_out` names the alarms that a saved book held but whose row the table no longer has.
    """

    def __init__(self, table: AlarmTable, sensors: Sequence[WatchedSensor], agreed: Agreed | None = None) -> None:
        self._table = table
        self._sensors = {s.id: s for s in sensors}
        self._agreed = agreed or Agreed()
        self._ledger = Ledger(table, names_reduction=self._agreed.reduction_c is not None)
        self._silent_at: dict[str, float] = {}
        self._order = 0
        self.left_out: tuple[str, ...] = ()

    def step(self, now: float, findings: Iterable[Finding], conditions: Conditions) -> list[AlarmChange]:
        """Take in what is known at `now` (record time, epoch seconds) and return every change it makes, in order."""
        sight = self.sight(now, conditions)
        for finding in findings:
            self._ledger.take_finding(finding, now, sight.phases)
        if conditions.guide in conditions.celsius and Phase.REDUCTION not in sight.phases:
            self._ledger.reduction_is_over()
        self._take_nodes(now, conditions)
        self._ledger.take_signs(signs_of(sight, self._ledger.was_open), now)
        failed = self._ledger.failed_sensors()
        scene = Scene(now, conditions, self._table.settings, self._sensors, failed, self._silent_at, sight.phases)
        return [change for entry in self._ledger.in_order() for change in self._advance(entry, scene)]

    def sight(self, now: float, conditions: Conditions) -> Sight:
        """Return all that signs are made of at `now`."""
        settings, sensors = self._table.settings, tuple(self._sensors.values())
        phases = phases_of(conditions, sensors, settings, self._agreed)
        return Sight(now, conditions, self._agreed, settings, sensors, is_fired(conditions, sensors, settings), phases)

    def acknowledge(self, key: str, who: str, now: float) -> Answer:
        """Note that `who` has seen alarm `key`; the first to say so counts."""
        return self._acknowledge(key, who, now, remind=False)

    def acknowledge_all(self, who: str, now: float) -> list[AlarmChange]:
        """Note that every alarm that sounds now was seen by one press (the wired button).

        Whoever presses it need not have read which ones: each sounds again if it is not better after its time to act.
        """
        sounding = [e.key for e in self._ledger.listed() if e.state in SOUNDING]
        answers = [self._acknowledge(key, who, now, remind=True) for key in sounding]
        return [a.change for a in answers if a.change is not None]

    def shelve(self, key: str, why: str, who: str, now: float, *, for_s: float, speed: float = 1.0) -> Answer:
        """Put off alarm `key` for `for_s` host seconds, at `speed` record seconds each, because of `why`."""
        entry = self._ledger.entries.get(key)
        if entry is None:
            return Answer(Reason.NO_SUCH_ALARM, None, None)
        most_s = self._table.shelve_most_s(alarm_of(entry))
        if entry.state in ANNOUNCED and for_s > most_s:
            return Answer(Reason.TOO_LONG if most_s else Reason.NEVER_SHELVED, None, alarm_of(entry))
        entry.state, reason = walk(entry.state, Event.SHELVE)
        if reason is not Reason.SHELVED:
            return Answer(reason, None, alarm_of(entry) if entry.state in ANNOUNCED else None)
        entry.shelved_for = for_s * speed
        entry.shelved_until, entry.shelved_by, entry.shelved_why = now + entry.shelved_for, who, why
        entry.acked_at, entry.acked_by, entry.escalation, entry.held = now, who, 0, True
        return self._answer(entry, reason, now, who)

    def unshelve(self, key: str, who: str, now: float) -> Answer:
        """Take back that alarm `key` was put off: it sounds again if its condition holds."""
        entry = self._ledger.entries.get(key)
        if entry is None or entry.state is not State.SHELVED:
            return Answer(Reason.NO_SUCH_ALARM, None, None)
        entry.state, reason = walk(entry.state, Event.UNSHELVE if entry.held else Event.UNSHELVE_OVER)
        entry.acked_at, entry.acked_by, entry.unseen_since = None, None, now
        entry.cleared = None if entry.held else now
        return self._answer(entry, reason, now, who)

    def silenced(self, who: str, now: float) -> list[AlarmChange]:
        """Return a journal line for each alarm whose sound `who` has just switched off for a short while."""
        return [change_of(e, Reason.SILENCED, now, who) for e in self._ledger.listed() if e.state in SOUNDING]

    def alarms(self) -> list[Alarm]:
        """Return every alarm that is active, not seen yet or put off, most urgent first, no suppressed one."""
        return [alarm_of(e) for e in self._ledger.listed()]

    def suppressed(self) -> list[Alarm]:
        """Return the alarms that hold but are explained by another, or by where the firing stands."""
        held = (e for e in self._ledger.entries.values() if e.state is State.SUPPRESSED)
        return [alarm_of(e) for e in sorted(held, key=lambda e: e.key)]

    def sounding(self) -> int | None:
        """Return the most urgent priority that should sound now, None for quiet."""
        return min((e.priority for e in self._ledger.listed() if e.state in SOUNDING), default=None)

    def first_in_group(self) -> str | None:
        """Return the key of the alarm that began first of those active now (OPC 10000-9 FirstInGroup)."""
        active = [e for e in self._ledger.listed() if e.state in ACTIVE]
        return min(active, key=lambda e: e.order).key if active else None

    def save(self) -> bytes:
        """Return all state as JSON."""
        entries = sorted(self._ledger.entries.values(), key=lambda e: e.key)
        return msgspec.json.encode(_Saved(SAVED_VERSION, entries, self._silent_at, self._order))

    @classmethod
    def restore(
        cls, table: AlarmTable, sensors: Sequence[WatchedSensor], saved: bytes, agreed: Agreed | None = None
    ) -> Self:
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
        book = cls(table, sensors, agreed)
        book._ledger.entries = {e.key: e for e in held.entries if table.row_named(e.row) is not None}
        book._silent_at = held.silent_at
        book._order = held.order
        book.left_out = tuple(e.key for e in held.entries if e.key not in book._ledger.entries)
        return book

    def _acknowledge(self, key: str, who: str, now: float, *, remind: bool) -> Answer:
        entry = self._ledger.entries.get(key)
        if entry is None:
            return Answer(Reason.NO_SUCH_ALARM, None, None)
        entry.state, reason = walk(entry.state, Event.ACKNOWLEDGE)
        if reason is not Reason.ACKNOWLEDGED:
            return Answer(reason, None, alarm_of(entry) if entry.state in ANNOUNCED else None)
        entry.acked_at, entry.acked_by, entry.escalation = now, who, 0
        entry.remind_since = now if remind else None
        return self._answer(entry, reason, now, who)

    def _answer(self, entry: Entry, reason: Reason, now: float, who: str) -> Answer:
        change = change_of(entry, reason, now, who)
        return Answer(reason, change, change.alarm)

    def _take_nodes(self, now: float, conditions: Conditions) -> None:
        settings = self._table.settings
        for node, silence_s in conditions.node_silence_s.items():
            if is_silent(node, conditions, settings):
                self._ledger.open_node(node)
            if silence_s * conditions.speed >= settings.node_silent_s:
                self._silent_at[node] = now
        self._silent_at = {node: min(at, now) for node, at in self._silent_at.items()}

    def _advance(self, entry: Entry, scene: Scene) -> list[AlarmChange]:
        changes = list(advance(entry, self._ledger.row(entry), scene, self._order + 1))
        self._order += any(change.change in STARTS for change in changes)
        is_node = entry.key.startswith("node:")
        if entry.state is State.NORMAL and not (entry.open or (is_node and self._node_is_silent(entry, scene))):
            del self._ledger.entries[entry.key]
        return changes

    def _node_is_silent(self, entry: Entry, scene: Scene) -> bool:
        return is_silent(entry.subject or "", scene.conditions, scene.settings)
