"""What the HTTP interface asks of the running service: answers made of what the parts know."""

import json
import math
from collections.abc import Iterable
from struct import pack
from typing import Any

import msgspec

from monitor.alarms.records import Answer as AlarmAnswer
from monitor.alarms.report import report_of
from monitor.alarms.state import Reason
from monitor.clock import host_seconds
from monitor.engine.outlook import Wanted
from monitor.live import Live
from monitor.local_time import changes_between
from monitor.model import Entry, Finding, Outlook
from monitor.practice import PracticeLine
from monitor.present import entry_line, finding_line
from monitor.publish.http_api import ToldEntry
from monitor.publish.messages import AlarmReport, EntryLine, FindingLine, Firing, VoiceAnswer
from monitor.publish.metrics import Measures, render_metrics
from monitor.store.errors import StoreError
from monitor.store.reader import Reader
from monitor.store.records import Envelope, JournalLine
from monitor.supervise import Supervisor
from monitor.telling import Told
from monitor.wire.practice import Answer, Order, Practice

SECONDS = "seconds"
"""The task that does what falls due as time passes."""
SCAN_KINDS = ("accepted", "repeats", "late", "lost")
TOLD_APART = frozenset({*SCAN_KINDS, "frames", "backlogs_dropped", "commits"})
TOLD_BY_PREFIX = ("line_", "pack_", "broker_")
NUMBERS_AT = 8
LEAST_SPAN_S = 60.0


class Desk:
    """Answers for one running service."""

    def __init__(self, live: Live, supervisor: Supervisor, version: str, line: PracticeLine | None = None) -> None:
        self._live = live
        self._line = line
        self._supervisor = supervisor
        self._version = version

    def health(self) -> tuple[bool, dict[str, Any]]:
        """Return whether every source, the store and the engine work, and the word of each."""
        sources = {name: error or "working" for name, error in self._live.ways.source_errors().items()}
        tasks = dict(self._supervisor.errors)
        store = self._live.recorder.error
        engine = self._live.engine_error
        well = store is None and engine is None and not tasks and all(word == "working" for word in sources.values())
        parts: dict[str, Any] = {
            "status": "working" if well else "failing",
            "sources": sources,
            "store": store or "working",
            "engine": engine or "working",
            "tasks": tasks,
            "voices": self._live.voices.states(host_seconds()),
            "firing": None if self._live.shown is None else self._live.shown.id,
            "sensors": {value.sensor: value.status for value in self._live.present.all_values(host_seconds())},
            "test": self._live.occasion.test,
            "version": self._version,
        }
        if self._live.ways.broker_error is not None:
            parts["broker"] = self._live.ways.broker_error
        if self._live.recorder.set_aside_at is not None:
            parts["damaged_database_moved_to"] = str(self._live.recorder.set_aside_at)
        if self._live.clock.behind_s > 0.0:
            parts["clock_behind_record_s"] = round(self._live.clock.behind_s, 1)
        return well, parts

    def metrics(self) -> str:
        """Return the OpenMetrics text."""
        live, now_s = self._live, host_seconds()
        counts = live.all_counts()
        return render_metrics(
            Measures(
                version=self._version,
                kiln=live.site.kiln.id,
                values=tuple(live.present.all_values(now_s)),
                places={s.id: str(s.place) for s in live.site.sensor},
                node_age_s=live.links(now_s).node_age_s,
                last_scan=live.last_scan,
                alarms=tuple(live.alarm_lines()),
                lines_dropped=_picked(counts, ("line_", "pack_")),
                scans={kind: counts[kind] for kind in SCAN_KINDS},
                frames={"sent": counts["frames"], "backlogs_dropped": counts["backlogs_dropped"]},
                messages=_picked(counts, ("broker_",)),
                events=_others(counts),
                commits=counts["commits"],
                slots=live.pipeline.slots_judged,
                store_failing=live.recorder.error is not None,
                sources={name: error is None for name, error in live.ways.source_errors().items()},
                broker_connected=live.ways.broker_connected,
                panels=len(live.hub.clients),
                panels_with_sound=live.hub.panels_with_sound,
            )
        )

    def count_refused(self) -> None:
        """Count a request that was refused for its host, origin or size."""
        self._live.counts["requests_refused"] += 1

    async def history(self, begin: float | None, end: float | None, columns: int) -> bytes:
        """Return the envelope of the firing on show in the layout of the history answer."""
        firing = self._live.shown
        sensors = [s.id for s in self._live.site.sensor]
        if firing is None:
            return history_bytes(None, sensors)
        conversion = self._live.recorder.conversion

        def ask(reader: Reader) -> Envelope | None:
            span = reader.span(firing.id)
            if span is None:
                return None
            first = span[0] if begin is None else begin
            last = max(span[1] + 1.0 if end is None else end, first + LEAST_SPAN_S)
            return reader.history(firing.id, first, last, columns, conversion)

        try:
            return history_bytes(await self._live.recorder.read(ask), sensors)
        except StoreError:
            return history_bytes(None, sensors)

    async def findings(self) -> list[FindingLine]:
        """Return the findings of the firing on show, oldest first."""
        firing = self._live.shown
        if firing is None:
            return []

        def ask(reader: Reader) -> list[Finding]:
            return reader.findings(firing.id)

        try:
            return [finding_line(finding) for finding in await self._live.recorder.read(ask)]
        except StoreError:
            return []

    async def entries(self) -> list[EntryLine]:
        """Return what people told in the firing on show, oldest first."""
        firing = self._live.shown
        if firing is None:
            return []

        def ask(reader: Reader) -> list[Entry]:
            return reader.entries(firing.id)

        try:
            return [entry_line(entry) for entry in await self._live.recorder.read(ask)]
        except StoreError:
            return []

    async def enter(self, told: ToldEntry) -> tuple[EntryLine, bool] | None:
        """Take in what somebody told; return it and whether it is on disk, None where no firing is open."""
        return await self._live.enter(Told(told.id, told.what, told.door, told.ago_s, told.who, told.note))

    def outlook(self, celsius: float | None, cone: str | None) -> Outlook | None:
        """Return heat work, evenness and forecast with what was asked for, None before anything was judged.

        Raises:
            ValueError: where there is no such cone.
        """
        return self._live.pipeline.outlook(Wanted(celsius, cone))

    async def firings(self) -> list[Firing]:
        """Return all stored firings, oldest first; none while the store cannot be read, which `health` tells."""
        try:
            stored = await self._live.recorder.read(lambda reader: reader.firings())
        except StoreError:
            return []
        return [Firing(firing.id, firing.begun, firing.ended) for firing in stored]

    async def mark_seen(self, key: str, who: str | None) -> bool | None:
        """Acknowledge one alarm; return whether that is on disk, None where there is no alarm of that key."""
        answer, is_kept = await self._live.acknowledge(key, who)
        if answer is None or answer.reason is Reason.NO_SUCH_ALARM:
            return None
        return is_kept

    async def shelve(self, key: str, for_s: float, why: str, who: str | None) -> tuple[str, bool]:
        """Put off one alarm; return the word of what came of it, and whether that is on disk."""
        return _word(*await self._live.shelve(key, for_s, why, who))

    async def unshelve(self, key: str, who: str | None) -> tuple[str, bool]:
        """Take back that one alarm was put off; return the word of what came of it, and whether that is on disk."""
        return _word(*await self._live.unshelve(key, who))

    def voice(self, name: str, error: str | None) -> VoiceAnswer:
        """Take note of a sounder and return what it should let be heard."""
        return self._live.voice(name, error, self._supervisor.errors.get(SECONDS))

    async def journal(self) -> bytes:
        """Return the alarm journal of the firing on show, one JSON object a line."""
        return b"".join(msgspec.json.encode(change) + b"\n" for change in await self._alarm_changes())

    async def report(self) -> AlarmReport:
        """Return how much the alarms of the firing on show asked of people."""
        live, changes = self._live, await self._alarm_changes()
        begun = live.clock.now() if live.shown is None else live.shown.begun
        ended = live.clock.now() if live.shown is None or live.shown.ended is None else live.shown.ended
        site = live.site
        watches = changes_between(begun, ended, site.crew.change_hours, site.kiln.time_zone)
        return live.present.report_line(report_of(changes, begun, ended, watches))

    async def _alarm_changes(self) -> list[JournalLine]:
        firing = self._live.shown
        if firing is None:
            return []

        def ask(reader: Reader) -> list[JournalLine]:
            return reader.alarm_changes(firing.id)

        try:
            return await self._live.recorder.read(ask)
        except StoreError:
            return []

    async def silence(self, who: str | None) -> float:
        """Silence all sound; return the seconds left."""
        return self._live.silence(who)

    async def start_firing(self) -> Firing | None:
        """End what is open and begin a firing now; None where nothing can be kept."""
        return await self._live.start_firing()

    async def end_firing(self) -> Firing | None:
        """End the open firing now; None where none is open."""
        return await self._live.end_firing()

    def practice(self) -> Practice | None:
        """Return the present of the kiln to practise on, None where this is none."""
        return self._live.practice

    async def practise(self, order: Order) -> Answer | None:
        """Pass an order on to the kiln to practise on; return its answer, None where it gives none."""
        return None if self._line is None else await self._line.order(order)


def history_bytes(envelope: Envelope | None, sensors: Iterable[str]) -> bytes:
    """Return an envelope as the history answer: length, JSON header, then lows and highs as float32."""
    header: dict[str, Any] = {"begin": 0.0, "step_s": 1.0, "columns": 0, "sensors": list(sensors)}
    numbers = b""
    if envelope is not None:
        header |= {"begin": envelope.begin, "step_s": envelope.step_s, "columns": envelope.low.shape[1]}
        header["damaged_blocks"] = list(envelope.damaged_blocks)
        numbers = envelope.low.astype("<f4").tobytes() + envelope.high.astype("<f4").tobytes()
    text = json.dumps(header).encode()
    padded = text.ljust(math.ceil((len(text) + 4) / NUMBERS_AT) * NUMBERS_AT - 4)
    return pack("<I", len(padded)) + padded + numbers


def _word(answer: AlarmAnswer | None, is_kept: bool) -> tuple[str, bool]:  # noqa: FBT001 - a pair as the service gives it
    return (Reason.NO_SUCH_ALARM if answer is None else answer.reason).value, is_kept


def _picked(counts: dict[str, int], prefixes: tuple[str, ...]) -> dict[str, int]:
    return {
        kind.removeprefix(prefix): number
        for kind, number in counts.items()
        for prefix in prefixes
        if kind.startswith(prefix)
    }


def _others(counts: dict[str, int]) -> dict[str, int]:
    """Return what no family of its own tells, so that nothing counted stays unseen."""
    return {
        kind: number
        for kind, number in counts.items()
        if kind not in TOLD_APART and not kind.startswith(TOLD_BY_PREFIX)
    }
