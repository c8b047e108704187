"""All entries of one kiln's alarm book, and what is written into them: findings, silent nodes and signs."""

from collections.abc import Iterable, Iterator

from monitor.alarms.circumstance import Phase
from monitor.alarms.entry import Entry, OpenCause
from monitor.alarms.sign import Sign
from monitor.alarms.state import ANNOUNCED, SOUNDING, State
from monitor.alarms.table import OF_FINDINGS, AlarmRow, AlarmTable, Condition
from monitor.model import Finding, FindingKind, FindingState

_CONDITION_OF = {
    FindingKind.FALL: Condition.FALL,
    FindingKind.STALL: Condition.STALL,
    FindingKind.RHYTHM: Condition.RHYTHM,
    FindingKind.SENSOR: Condition.SENSOR,
}
_CAUSES_FIRST = tuple(dict.fromkeys([Condition.NODE, Condition.SENSOR, Condition.STORE, *Condition]))
_NOT_OF_SIGNS = OF_FINDINGS | {Condition.NODE}


class Ledger:
    """The entries, by key; `names_reduction` says whether the site agreed on where reduction is wanted."""

    def __init__(self, table: AlarmTable, *, names_reduction: bool) -> None:
        self.table = table
        self.entries: dict[str, Entry] = {}
        self._names_reduction = names_reduction
        self._first_rows: dict[Condition, AlarmRow] = {}
        for row in table.row:
            self._first_rows.setdefault(row.condition, row)

    def row(self, entry: Entry) -> AlarmRow:
        """Return the row of the table that `entry` belongs to."""
        row = self.table.row_named(entry.row)
        assert row is not None
        return row

    def in_order(self) -> list[Entry]:
        """Return all entries, those first that may explain others."""
        return sorted(self.entries.values(), key=lambda e: (_CAUSES_FIRST.index(self.row(e).condition), e.key))

    def listed(self) -> list[Entry]:
        """Return what a person must be shown, most urgent first, what is put off last."""
        shown = (e for e in self.entries.values() if e.state in ANNOUNCED)
        return sorted(shown, key=lambda e: (e.state is State.SHELVED, e.priority, e.state not in SOUNDING, e.order))

    def failed_sensors(self) -> frozenset[str]:
        """Return the sensors with an open fault that leaves them without a number."""
        row = self.table.row_for(Condition.SENSOR)
        entries = (e for e in self.entries.values() if e.open and self.row(e) is row)
        return frozenset(e.subject for e in entries if e.subject is not None)

    def was_open(self, condition: Condition, subject: str | None) -> bool:
        """Return whether `condition` about `subject` held when it was last judged."""
        entry = self.entries.get(self._key(self._needed_row(condition), subject))
        return entry is not None and bool(entry.open)

    def open_node(self, node: str) -> None:
        """Make sure that there is an entry of a node that is silent."""
        self._entry(self._needed_row(Condition.NODE), node)

    def take_finding(self, finding: Finding, now: float, phases: frozenset[Phase]) -> None:
        """Write down what `finding` begins or ends; one that asks nobody to act is shown as a finding only."""
        if finding.kind is FindingKind.REDUCTION:
            if finding.sensor is not None and self._names_reduction:  # inferred ones name no sensor: no alarm
                self._take_reduction(finding, now, phases)
            return
        condition = _CONDITION_OF.get(finding.kind)
        row = None if condition is None else self.table.row_for(condition, finding.fault)
        if row is None:
            return
        entry = self._entry(row, finding.sensor if condition is Condition.SENSOR else None)
        fault = finding.fault or ""
        if finding.state is FindingState.BEGIN:
            entry.open[fault] = OpenCause(finding.onset, finding.text, finding.sensor)
        else:
            entry.open.pop(fault, None)

    def _take_reduction(self, finding: Finding, now: float, phases: frozenset[Phase]) -> None:
        unwanted, lost = (
            self._entry(self._needed_row(condition), None)
            for condition in (Condition.REDUCTION_UNWANTED, Condition.REDUCTION_LOST)
        )
        if finding.state is FindingState.BEGIN:
            unwanted.open[""] = OpenCause(now, finding.text, finding.sensor)
            lost.open.clear()
        else:
            unwanted.open.clear()
            if Phase.REDUCTION in phases:
                lost.open[""] = OpenCause(now, finding.text, finding.sensor)

    def reduction_is_over(self) -> None:
        """Note that reduction is wanted no longer: that it ended is no loss."""
        row = self._needed_row(Condition.REDUCTION_LOST)
        entry = self.entries.get(self._key(row, None))
        if entry is not None:
            entry.open.clear()

    def take_signs(self, signs: Iterable[Sign], now: float) -> None:
        """Write down `signs`; what is no longer watched is over."""
        watched = {key for sign in signs if (key := self._take_sign(sign, now)) is not None}
        for entry in self._of_signs():
            if entry.key not in watched:
                entry.open.clear()
                entry.blind = False

    def _take_sign(self, sign: Sign, now: float) -> str | None:
        row = self._needed_row(sign.condition)
        key = self._key(row, sign.subject)
        if sign.present is not True:
            entry = self.entries.get(key)
            if entry is not None:
                entry.blind = sign.present is None
                if not entry.blind:
                    entry.open.clear()
            return key
        entry = self._entry(row, sign.subject)
        cause = entry.open.setdefault("", OpenCause(now, sign.text, sign.sensor))
        cause.text, cause.sensor = sign.text, sign.sensor
        entry.blind, entry.circumstances = False, sign.circumstances
        return key

    def _of_signs(self) -> Iterator[Entry]:
        return (e for e in self.entries.values() if self.row(e).condition not in _NOT_OF_SIGNS)

    def _needed_row(self, condition: Condition) -> AlarmRow:
        return self._first_rows[condition]  # the table is checked for it

    def _entry(self, row: AlarmRow, subject: str | None) -> Entry:
        key = self._key(row, subject)
        found = self.entries.get(key)
        if found is None:
            found = self.entries[key] = Entry(key=key, row=row.id, subject=subject, priority=row.priority)
        return found

    def _key(self, row: AlarmRow, subject: str | None) -> str:
        """Return the key of an alarm: the condition's word; further rows on one condition begin with their own id."""
        word = row.condition.value if row is self._first_rows[row.condition] else row.id
        return word if subject is None else f"{word}:{subject}"
