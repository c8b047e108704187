"""The present as panels see it: the newest word of every sensor, alarms with their words, recent findings.

Builds messages and nothing else; what is known comes from the pipeline and the wiring.
"""

from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from monitor.alarms.report import Report
from monitor.alarms.table import AlarmTable
from monitor.model import Alarm, Entry, EntryKind, Finding, FindingKind, Prompt, PromptPoint, SensorClimb, Status
from monitor.pipeline import Outcome
from monitor.publish.messages import (
    AlarmLine,
    AlarmReport,
    EntryLine,
    FindingLine,
    Help,
    LoadLine,
    PlanLine,
    PromptAnswer,
    PromptLine,
    Sensor,
    Value,
)
from monitor.publish.messages import PromptPoint as PromptPointLine
from monitor.site_file import Site

RECENT_FINDINGS = 50
RECENT_ENTRIES = 50
GOOD, FAILED, CHECK = "good", "F", "C"
"""Quality letters of NAMUR NE 107; good has none."""


@dataclass(slots=True)
class Newest:
    """One sensor's newest scan: record time, degC (NaN unless status is OK), and host seconds at its arrival."""

    time: float = -np.inf
    celsius: float = np.nan
    status: Status = Status.ABSENT
    host_s: float | None = None


class Present:
    """Keeps the newest of everything; ages are host seconds up to the `now_s` of asking.

    `speed` is record seconds per host second.
    """

    def __init__(self, site: Site, table: AlarmTable, *, is_test: bool, speed: float = 1.0) -> None:
        self.findings: deque[FindingLine] = deque(maxlen=RECENT_FINDINGS)
        self.last_stoke: float | None = None
        self.entries: dict[str, EntryLine] = {}
        self._site = site
        self._table = table
        self._is_test = is_test
        self._speed = speed
        self._newest = [Newest() for _ in site.sensor]
        self._climbs: dict[str, SensorClimb] = {}

    def take(
        self, outcome: Outcome, climbs: Iterable[SensorClimb] | None, now_s: float, *, clock: float = -np.inf
    ) -> set[int]:
        """Take in an outcome and, where slots were judged, the climbs; return the positions of sensors that changed.

        `clock` is the record clock now, for scans that arrived some time ago: they are as old as that.
        """
        changed: set[int] = set()
        for row, accepted in enumerate(outcome.accepted):
            time = accepted.arrival.scan.time
            heard_s = now_s - max(0.0, clock - accepted.arrival.clock)
            status = outcome.temperatures.status[row]
            for i in np.flatnonzero(status != Status.ABSENT).tolist():
                if time > self._newest[i].time:
                    celsius = float(outcome.temperatures.celsius[row, i])
                    self._newest[i] = Newest(time, celsius, Status(int(status[i])), heard_s)
                    changed.add(i)
        if climbs is not None:
            self._climbs = {climb.sensor: climb for climb in climbs}
            changed.update(range(len(self._newest)))
        for finding in outcome.findings:
            self.note(finding)
        self.note_entries(outcome.entries)
        return changed

    def note(self, finding: Finding) -> FindingLine:
        """Keep a finding among the recent ones and return it as it is told."""
        line = finding_line(finding)
        self.findings.append(line)
        if finding.kind is FindingKind.STOKE and finding.door != "side":
            self._stoked(finding.onset)
        return line

    def note_entries(self, entries: Iterable[Entry]) -> None:
        """Keep what people told, by its id; a stoke shows at once, before any sensor can tell."""
        for entry in entries:
            self.entries[entry.id] = entry_line(entry)
            if entry.what is EntryKind.STOKED and entry.door != "side":
                self._stoked(entry.time)

    def recent_entries(self) -> list[EntryLine]:
        """Return the newest entries, oldest first."""
        return list(self.entries.values())[-RECENT_ENTRIES:]

    def _stoked(self, time: float) -> None:
        self.last_stoke = max(time, self.last_stoke or time)  # one may be told late

    def forget_fire(self) -> None:
        """Begin anew with a new firing: what sensors said last stays true."""
        self.findings.clear()
        self.entries.clear()
        self.last_stoke = None
        self._climbs = {}

    def values(self, positions: Iterable[int], now_s: float) -> list[Value]:
        """Return the newest word of the sensors at `positions`."""
        return [self._value(i, now_s) for i in positions]

    def all_values(self, now_s: float) -> list[Value]:
        """Return the newest word of every sensor in the site's order."""
        return self.values(range(len(self._newest)), now_s)

    def _value(self, position: int, now_s: float) -> Value:
        newest, sensor = self._newest[position], self._site.sensor[position].id
        is_ok = newest.status is Status.OK
        climb = self._climbs.get(sensor)
        return Value(
            sensor=sensor,
            celsius=round(newest.celsius, 3) if is_ok else None,
            status=newest.status.name.lower().replace("_", "-"),
            quality=FAILED if not is_ok else CHECK if self._is_test else GOOD,
            age_s=None if newest.host_s is None else round(now_s - newest.host_s, 3),
            climb_c_per_h=None if climb is None else _rounded(climb.climb_c_per_h),
            climb_uncertainty_c_per_h=None if climb is None else _rounded(climb.uncertainty_c_per_h),
        )

    def alarm_lines(self, alarms: Iterable[Alarm], now: float, first: str | None = None) -> list[AlarmLine]:
        """Return alarms with the words of the table, at record time `now`; `first` is the key of what came first."""
        return [self._alarm_line(alarm, now, first) for alarm in alarms]

    def _alarm_line(self, alarm: Alarm, now: float, first: str | None) -> AlarmLine:
        words = self._table.words_for(alarm)
        return AlarmLine(
            key=alarm.key,
            row=alarm.row,
            priority=alarm.priority,
            active=alarm.active,
            acked=alarm.acked,
            no_data=alarm.no_data,
            since=alarm.since,
            since_s=max(0.0, round(now - alarm.since, 3)),
            acked_by=alarm.acked_by,
            sensor=alarm.sensor,
            title=words.title,
            text=alarm.text,
            cause=words.cause,
            consequence=words.consequence,
            action=words.action,
            act_in_s=words.act_in_s,
            shelved_s=None if alarm.shelved_until is None else max(0.0, (alarm.shelved_until - now) / self._speed),
            shelved_by=alarm.shelved_by,
            shelved_why=alarm.shelved_why,
            shelve_most_s=self._table.shelve_most_s(alarm),
            first=alarm.key == first,
            escalation=alarm.escalation,
        )

    def prompt_lines(self, prompts: Iterable[Prompt], now: float) -> list[PromptLine]:
        """Return what is expected of people, at record time `now`."""
        return [
            PromptLine(
                key=prompt.key,
                title=prompt.title,
                text=prompt.text,
                since=prompt.since,
                since_s=max(0.0, round(now - prompt.since, 3)),
                chime=prompt.chime,
                points=[_point(point, now) for point in prompt.points],
                answers=[PromptAnswer(*answer) for answer in prompt.answers],
            )
            for prompt in prompts
        ]

    def report_line(self, report: Report) -> AlarmReport:
        """Return how much alarms asked of people, with the titles of the table."""
        whole = report.whole
        titles = {row_id: row.title for row_id, _ in report.most_frequent if (row := self._table.row_named(row_id))}
        return AlarmReport(
            hours=round((whole.ended - whole.begun) / 3600.0, 2),
            alarms=whole.alarms,
            per_hour_most=whole.per_hour_most,
            in_10_min_most=whole.in_10_min_most,
            share={str(priority): number for priority, number in report.share.items()},
            most_frequent=[(row_id, titles.get(row_id, row_id), number) for row_id, number in report.most_frequent],
            watches=[LoadLine(w.begun, w.ended, w.alarms, w.per_hour_most, w.in_10_min_most) for w in report.watches],
        )

    def help(self) -> Help | None:
        """Return what whoever calls for help must know, None where the site file says nothing."""
        part = self._site.emergency
        if part is None:
            return None
        return Help(part.number, part.address, part.directions, [(p.name, p.phone) for p in part.person])

    def sensors(self) -> list[Sensor]:
        """Return the site's sensors."""
        return [Sensor(s.id, str(s.place), s.type, s.input) for s in self._site.sensor]

    def plan_line(self, lit: float | None) -> PlanLine | None:
        """Return the plan in epoch seconds, lit at its own time or else at `lit`; None without either."""
        plan, guide = self._site.agreed_plan, self._site.guide
        start = plan.lit if plan is not None and plan.lit is not None else lit
        if plan is None or guide is None or start is None:
            return None
        return PlanLine([(start + hours * 3600.0, celsius) for hours, celsius in plan.points], guide)

    def newest_celsius(self) -> Mapping[str, float]:
        """Return the newest valid temperature of each sensor that has one."""
        pairs = zip(self._site.sensor, self._newest, strict=True)
        return {s.id: n.celsius for s, n in pairs if n.status is Status.OK}


def finding_line(finding: Finding) -> FindingLine:
    """Return a finding as it is told."""
    return FindingLine(
        time=finding.time,
        kind=str(finding.kind),
        state=str(finding.state),
        sensor=finding.sensor,
        onset=finding.onset,
        measure=finding.measure,
        unit=finding.unit,
        text=finding.text,
        fault=None if finding.fault is None else str(finding.fault),
        door=finding.door,
        ratio=finding.ratio,
        confidence=finding.confidence,
    )


def entry_line(entry: Entry) -> EntryLine:
    """Return an entry as it is told."""
    return EntryLine(entry.id, entry.time, str(entry.what), entry.door, entry.who, entry.note)


def _point(point: PromptPoint, now: float) -> PromptPointLine:
    ticked_s = None if point.ticked_at is None else max(0.0, round(now - point.ticked_at, 3))
    return PromptPointLine(point.id, point.text, point.ticked_by, ticked_s)


def _rounded(number: float | None) -> float | None:
    return None if number is None else round(number, 2)
