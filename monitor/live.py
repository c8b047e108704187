"""The running service: what happens when a pack arrives and when a second passes.

Everything here runs in the event loop. A pack goes through the pipeline and out to panels at once; the store is told
and never waited for, except where somebody was promised that something is kept.
"""

import asyncio
import logging
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

import msgspec
import numpy as np

from monitor.alarms.records import AlarmChange, Answer, Host
from monitor.alarms.silence import Silence
from monitor.clock import RecordClock, host_seconds
from monitor.kept_scans import KeptScans
from monitor.model import Arrival, Event, Scan, Temperatures, Tick
from monitor.pipeline import Accepted, Outcome, Pipeline
from monitor.present import Present, entry_line, finding_line
from monitor.publish.messages import (
    AlarmLine,
    EntryLine,
    Firing,
    Frame,
    Kiln,
    Links,
    Snapshot,
    VoiceAnswer,
)
from monitor.publish.voices import Voices
from monitor.publish.websocket import Hub
from monitor.recorder import Recorder
from monitor.site_file import Site
from monitor.store.records import Firing as StoredFiring
from monitor.surroundings import Occasion, Ways
from monitor.telling import Told, entry_of
from monitor.watch import LinkState, Tables
from monitor.wire.fields import RELATIVE_BELOW_S, PackError
from monitor.wire.pack import parse_pack
from monitor.wire.practice import Practice

STATE_EVERY_S = 600.0
LINKS_EVERY_S = 5.0
TELL_NODES_EVERY_S = 2.0
"""A node sounds its buzzer after 30 s without a word and expects one every 5 s; commits come more often."""
FRAME_GAP_S = 0.05
"""Least time between two frames: one scan a second goes out at once, a kiln that runs faster than life is bundled."""
SOMEBODY = "somebody"

log = logging.getLogger("nightstoke")


class Live:
    """One kiln's service between sources, store and panels."""

    def __init__(
        self,
        site: Site,
        tables: Tables,
        clock: RecordClock,
        *,
        make_pipeline: Callable[[], Pipeline],
        occasion: Occasion,
        look_at_host: Callable[[], Host] = Host,
    ) -> None:
        self.site = site
        self.clock = clock
        self.occasion = occasion
        self.pipeline = make_pipeline()
        self.present = Present(site, tables.alarms, is_test=occasion.test is not None, speed=occasion.speed)
        self.hub = Hub(self.snapshot, lambda: self.pipeline.slots_judged, clock.now)
        self.voices = Voices()
        self.beats = 0
        """Seconds of work done: whoever listens knows by it that the service goes on."""
        self.counts: Counter[str] = Counter()
        self.last_scan: float | None = None
        self.engine_error: str | None = None
        self.practice: Practice | None = None
        """The present of a kiln to practise on; None at any other."""
        self.recorder: Recorder
        self.ways: Ways
        self._make_pipeline = make_pipeline
        self._silence = Silence(tables.alarms.settings.silence_s)
        self._look_at_host = look_at_host
        self._prompts_told = 0
        self._shown: Firing | None = None
        self._heard_s: dict[str, float] = {node: host_seconds() for node in site.nodes}
        self._kept = KeptScans()
        self._state_kept_s = self._links_told_s = self._framed_s = self._nodes_told_s = host_seconds()
        self._state_begun: tuple[Firing | None, int] = (None, 0)
        self._due: set[int] = set()
        self._flush: asyncio.TimerHandle | None = None

    def renew_pipeline(self) -> None:
        """Forget all that was judged, as at a first start."""
        self.pipeline = self._make_pipeline()

    def know_as_kept(self) -> None:
        """Take everything that the pipeline has seen for stored, as it is after a restart."""
        for node in self.pipeline.node_counts():
            self._kept.known[node] = self.pipeline.contiguous(node)

    # What comes in

    def deliver(self, payload: bytes) -> frozenset[str]:
        """Take in one pack and return the nodes it came from; what is no pack is counted by kind."""
        try:
            scans = parse_pack(payload)
        except PackError as error:
            self.counts[f"pack_{error.reason.value}"] += 1
            return frozenset()
        self.counts["packs"] += 1
        for scan in scans:
            self._take_scan(scan)
        return frozenset(scan.node for scan in scans)

    def _take_scan(self, scan: Scan) -> None:
        self.clock.follow(scan.time)
        now_s = host_seconds()
        self._heard_s[scan.node] = now_s
        arrival = Arrival(scan, self.clock.now())
        outcome = self.judged([arrival], self._link_state(now_s))
        if outcome is None:
            self._keep_unjudged(arrival)
            return
        for accepted in outcome.accepted:
            self.last_scan = max(self.last_scan or 0.0, accepted.arrival.scan.time)
            self.counts["accepted"] += 1
            self.counts["late"] += accepted.is_late
        self.counts["repeats"] += not outcome.accepted
        self._follow(outcome, now_s)

    def judged(self, events: Sequence[Event], links: LinkState) -> Outcome | None:
        """Feed the pipeline; a fault of ours there must take down neither acquisition nor storage, nor be hidden."""
        try:
            return self.pipeline.feed(events, links)
        except Exception as error:
            if self.engine_error is None:
                log.exception("the engine failed; scans are stored without being judged until the service restarts")
            self.engine_error = f"{type(error).__name__}: {error}"
            self.counts["engine_failures"] += 1
            return None

    def _keep_unjudged(self, arrival: Arrival) -> None:
        if arrival.scan.time < RELATIVE_BELOW_S:
            arrival = Arrival(msgspec.structs.replace(arrival.scan, time=arrival.clock), arrival.clock)
        self._keep(replace(_nothing_new(), accepted=[Accepted(arrival, is_late=True)]))

    def second(self) -> None:
        """Do what falls due as time passes; call it about once a second."""
        now_s = host_seconds()
        links = self._link_state(now_s)
        outcome = self.judged([Tick(self.clock.now())], links) or _nothing_new()
        changes = outcome.alarm_changes + self.pipeline.watch(links)
        self._follow(replace(outcome, alarm_changes=changes), now_s)
        self._tell_prompts()
        if now_s - self._nodes_told_s >= TELL_NODES_EVERY_S:
            self._tell_nodes()
        if now_s - self._state_kept_s >= STATE_EVERY_S:
            self.keep_state()
        if now_s - self._links_told_s >= LINKS_EVERY_S:
            self._links_told_s = now_s
            self.hub.publish(Frame("", 0, self.clock.now(), links=self.links(now_s)))
        self.beats += 1  # last: a second whose work failed is none

    def _link_state(self, now_s: float) -> LinkState:
        silence_s = {node: now_s - heard_s for node, heard_s in self._heard_s.items()}
        host = replace(
            self._look_at_host(),
            panels_with_sound=self.hub.panels_with_sound,
            lowest_battery=self.hub.lowest_battery,
            engine_error=self.engine_error,
            voice_error=self.voices.trouble(now_s),
        )
        return LinkState(silence_s, self.recorder.error, self.occasion.speed, host)

    def _follow(self, outcome: Outcome, now_s: float) -> None:
        """Show, keep and pass on what followed from an event."""
        climbs = self.pipeline.climbs() if outcome.slots else None
        self._due |= self.present.take(outcome, climbs, now_s)
        if outcome.findings or outcome.alarm_changes or outcome.entries:
            self._tell_changes(outcome, now_s)
        elif self._due:
            self._tell_values(now_s)
        self._keep(outcome)
        if outcome.accepted or outcome.findings or outcome.alarm_changes:
            self.ways.tell(outcome, self)

    def _keep(self, outcome: Outcome) -> None:
        row = self.recorder.record(outcome)
        if self.recorder.firing is not None and (self._shown is None or self._shown.id != self.recorder.firing.id):
            self.show(self.recorder.firing)
            self.hub.publish(Frame("", 0, self.clock.now(), firing=self._shown))
        if row:
            begun = (self._shown, sum(counts.boots for counts in self.pipeline.node_counts().values()))
            if begun != self._state_begun:
                # Only a kept state tells whether a node can send again what a new boot's first scans leave out.
                self._state_begun = begun
                self.keep_state()
            self.settle(row, {a.arrival.scan.node for a in outcome.accepted})

    def settle(self, row: int, nodes: Iterable[str]) -> None:
        """Remember what each of `nodes` may be told once `row` is on disk."""
        self._kept.wait_for(row, [(node, self.pipeline.contiguous(node)) for node in nodes])

    def committed(self, row: int) -> None:
        """Report to the nodes what is on disk up to `row`."""
        self.counts["commits"] += 1
        self._kept.commit(row)
        self._tell_nodes()

    def _tell_nodes(self) -> None:
        self._nodes_told_s = host_seconds()
        self.ways.send_alive(self._kept.known)

    # What goes out

    def _tell_values(self, now_s: float) -> None:
        wait_s = self._framed_s + FRAME_GAP_S - now_s
        if wait_s <= 0.0:
            self._send_values()
        elif self._flush is None:
            self._flush = asyncio.get_running_loop().call_later(wait_s, self._send_values)

    def _send_values(self) -> None:
        if self._flush is not None:
            self._flush.cancel()
            self._flush = None
        if self._due:
            self.hub.publish(self._frame(host_seconds()))

    def _frame(self, now_s: float) -> Frame:
        self._framed_s = now_s
        values = self.present.values(sorted(self._due), now_s)
        self._due.clear()
        guide, stoke = self.pipeline.guide(), self.present.last_stoke
        return Frame("", 0, self.clock.now(), values=values, guide=guide, last_stoke=stoke)

    def _tell_changes(self, outcome: Outcome, now_s: float) -> None:
        frame = self._frame(now_s)
        self._silence.hear(outcome.alarm_changes)
        self.hub.publish(
            msgspec.structs.replace(
                frame,
                findings=[finding_line(f) for f in outcome.findings],
                entries=[entry_line(entry) for entry in outcome.entries],
                closed_up=self.pipeline.closed_up() is not None if outcome.entries else None,
                alarms=self.alarm_lines(),
                silenced_s=self._silence.remaining_s(now_s),
            )
        )

    def alarm_lines(self) -> list[AlarmLine]:
        """Return every alarm as it is told now."""
        return self.present.alarm_lines(self.pipeline.alarms(), self.clock.now(), self.pipeline.first_in_group())

    def _tell_prompts(self) -> None:
        """Tell what is expected of people where that has changed."""
        if self._prompts_told != self.pipeline.prompts_version:
            self._prompts_told = self.pipeline.prompts_version
            now = self.clock.now()
            self.hub.publish(Frame("", 0, now, prompts=self.present.prompt_lines(self.pipeline.prompts(), now)))

    def snapshot(self, epoch: str, seq: int) -> Snapshot:
        """Return the present for a panel that has seen everything up to `seq`."""
        now_s, now, kiln = host_seconds(), self.clock.now(), self.site.kiln
        return Snapshot(
            epoch=epoch,
            seq=seq,
            clock=now,
            speed=self.occasion.speed,
            test=self.occasion.test,
            kiln=Kiln(kiln.name, kiln.id, kiln.time_zone),
            firing=self._shown,
            plan=self.present.plan_line(None if self._shown is None else self._shown.begun),
            guide=self.pipeline.guide() or self.site.guide,
            sensors=self.present.sensors(),
            values=self.present.all_values(now_s),
            alarms=self.alarm_lines(),
            silenced_s=self._silence.remaining_s(now_s),
            findings=list(self.present.findings),
            last_stoke=self.present.last_stoke,
            links=self.links(now_s),
            entries=self.present.recent_entries(),
            closed_up=self.pipeline.closed_up() is not None,
            prompts=self.present.prompt_lines(self.pipeline.prompts(), now),
            help=self.present.help(),
            practice=self.practice,
        )

    def links(self, now_s: float) -> Links:
        """Return the chain as the host sees it."""
        return Links(
            node_age_s={node: round(now_s - heard_s, 1) for node, heard_s in self._heard_s.items()},
            counters=dict(self.all_counts()),
            store_error=self.recorder.error,
            source_error={name: error for name, error in self.ways.source_errors().items() if error is not None},
            panels_with_sound=self.hub.panels_with_sound,
        )

    def all_counts(self) -> Counter[str]:
        """Return everything that is counted rather than hidden."""
        counts = self.counts + self.ways.counts() + Counter(self.recorder.counts())
        for node in self.pipeline.node_counts().values():
            counts["lost"] += node.missed - node.recovered
        for times in self.pipeline.clock_counts().values():
            counts["times_replaced"] += times.replaced
        counts["frames"] = self.hub.frames_sent
        counts["backlogs_dropped"] = self.hub.backlogs_dropped
        counts["panel_words_malformed"] = self.hub.malformed
        counts["voices_refused"] = self.voices.refused
        return counts

    def show_practice(self, practice: Practice) -> None:
        """Show the present of a kiln to practise on."""
        self.practice = practice
        self.hub.publish(Frame("", 0, self.clock.now(), practice=practice))

    # What people do

    async def acknowledge(self, key: str, who: str | None) -> tuple[Answer | None, bool]:
        """Note that someone has seen alarm `key`; return the answer and whether it is on disk."""
        return await self._answered(self.pipeline.acknowledge(key, who or SOMEBODY))

    async def shelve(self, key: str, for_s: float, why: str, who: str | None) -> tuple[Answer | None, bool]:
        """Put off alarm `key` for `for_s` host seconds; return the answer and whether it is on disk."""
        speed = self.occasion.speed
        return await self._answered(self.pipeline.shelve(key, why, who or SOMEBODY, for_s=for_s, speed=speed))

    async def unshelve(self, key: str, who: str | None) -> tuple[Answer | None, bool]:
        """Take back that alarm `key` was put off; return the answer and whether it is on disk."""
        return await self._answered(self.pipeline.unshelve(key, who or SOMEBODY))

    async def _answered(self, answer: Answer | None) -> tuple[Answer | None, bool]:
        """Show and keep the change that an answer made, if any; return it and whether that is on disk."""
        if answer is None or answer.change is None:
            return answer, True
        self._journal([answer.change])
        self.keep_state()
        return answer, await self.recorder.kept()

    def _journal(self, changes: list[AlarmChange]) -> None:
        self._follow(replace(_nothing_new(), alarm_changes=changes), host_seconds())

    async def enter(self, told: Told) -> tuple[EntryLine, bool] | None:
        """Take in what somebody told; return it as it is kept, and whether that is on disk; None without a firing.

        What was told before, by its id, is told again and changes nothing.
        """
        if self._shown is None or self._shown.ended is not None:
            return None
        known = self.present.entries.get(told.id)
        if known is None:
            entry = entry_of(told, self.clock.now(), self._shown.begun, self.occasion.speed)
            known = entry_line(entry)
            outcome = self.judged([entry], self._link_state(host_seconds()))
            self._follow(outcome or replace(_nothing_new(), entries=(entry,)), host_seconds())
            self._tell_prompts()
            self.keep_state()
        return known, await self.recorder.kept()

    def silence(self, who: str | None) -> float:
        """Silence all sound for a minute and return the seconds left."""
        now_s = host_seconds()
        self._journal(self.pipeline.silenced(who or SOMEBODY))
        self._silence.start(now_s)
        self.counts["silences"] += 1
        left = self._silence.remaining_s(now_s)
        self.hub.publish(Frame("", 0, self.clock.now(), silenced_s=left))
        return left

    def voice(self, name: str, error: str | None, stuck: str | None) -> VoiceAnswer:
        """Take note of a sounder and return what it should let be heard; `stuck` says why no second passes."""
        now_s, shown = host_seconds(), self._shown
        self.voices.hear(name, error, now_s)
        return VoiceAnswer(
            epoch=self.hub.epoch,
            beats=self.beats,
            sounding=self.pipeline.sounding(),
            louder=any(alarm.escalation for alarm in self.pipeline.alarms()),
            silenced=self._silence.remaining_s(now_s) > 0.0,
            stuck=self.engine_error or stuck,
            armed=shown is not None and shown.ended is None,
            test=self.occasion.test,
        )

    async def start_firing(self) -> Firing | None:
        """End what is open and begin a firing now; None where nothing can be kept."""
        # Nothing is awaited between the end and the begin, or a scan that comes then would begin a third one.
        self._close_firing()
        begun = self.recorder.begin_firing(self.clock.now())
        if begun is None:
            return None
        self.show(begun)
        shown = self._shown
        self.hub.publish(Frame("", 0, self.clock.now(), firing=shown))
        self.keep_state()
        await self.recorder.kept()
        return shown

    async def end_firing(self) -> Firing | None:
        """End the open firing now; None where none is open."""
        ended = self._close_firing()
        if ended is not None:
            await self.recorder.kept()
        return ended

    def _close_firing(self) -> Firing | None:
        ended = self.recorder.end_firing(self.clock.now())
        if ended is None:
            return None
        self.show(ended)
        self.pipeline.begin_firing()
        self.voices.forget()
        self.present.forget_fire()
        self.hub.publish(Frame("", 0, self.clock.now(), firing=self._shown, alarms=[], closed_up=False))
        return self._shown

    def show(self, firing: StoredFiring) -> None:
        """Put a firing on show."""
        self._shown = Firing(firing.id, firing.begun, firing.ended)

    @property
    def shown(self) -> Firing | None:
        """The firing on show: the open one, or the one that ended last."""
        return self._shown

    def keep_state(self) -> None:
        """Keep the pipeline's state, so that a restart need not judge the whole firing again."""
        self._state_kept_s = host_seconds()
        self.recorder.keep_state(self.clock.now(), self.pipeline.save())


def _nothing_new() -> Outcome:
    return Outcome([], Temperatures(np.zeros(0), np.zeros((0, 0)), np.zeros((0, 0), np.uint8)), [], [], 0)
