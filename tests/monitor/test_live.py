"""The running service: what panels, nodes and the store get when a pack arrives, a second passes, a person presses."""

import asyncio
import json
import logging
from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor import live as module
from monitor.alarms.state import Reason
from monitor.model import Arrival, EntryKind, Scan
from monitor.publish.messages import EntryLine, Frame
from monitor.surroundings import Occasion
from monitor.telling import Told
from monitor.wire.pack import write_pack
from monitor.wire.practice import Practice
from tests.made_up import (
    BEGIN,
    Panel,
    SetClock,
    at,
    at_work,
    deliver,
    falling_events,
    made_up_site,
    shed_1,
    shed_2,
    uneven_events,
    until,
)

GOLDEN = Path(__file__).parents[1] / "golden" / "messages"
PRACTICE = msgspec.convert(json.loads((GOLDEN / "snapshot.json").read_text())["practice"], Practice)

pytestmark = pytest.mark.usefixtures("quick_commits")


class Seconds:
    """Host seconds that a test sets."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.at = 1000.0
        monkeypatch.setattr(module, "host_seconds", lambda: self.at)


async def test_a_pack_reaches_the_panels_at_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One frame, with the values of the sensors that were in the scan and no other, before anything is stored."""
    seconds, clock = Seconds(monkeypatch), SetClock()
    async with at_work(tmp_path, clock=clock) as (live, _):
        panel = Panel(live)
        seconds.at += 1.0
        deliver(live, clock, at(0, middle_c=901.25))
        (frame, firing) = panel.frames()

    assert {v.sensor: (v.celsius, v.status, v.quality) for v in frame.values} == {
        "firebox": (pytest.approx(500.0, abs=0.02), "ok", "good"),
        "middle": (901.25, "ok", "good"),
    }
    assert (frame.clock, frame.guide, frame.alarms) == (BEGIN + 0.1, "middle", None)
    assert firing.firing is not None
    assert firing.firing.id == "20251124T1600Z"


async def test_a_fast_kiln_is_bundled_into_few_frames(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Sixty scans within 60 ms make three frames; the last comes by itself and tells the newest value."""
    seconds, clock = Seconds(monkeypatch), SetClock()
    async with at_work(tmp_path, clock=clock, occasion=Occasion("simulator", 60.0)) as (live, _):
        panel = Panel(live)
        seconds.at += 1.0
        for i in range(60):
            deliver(live, clock, at(i, middle_c=900.0 + i))
            seconds.at += 2.0**-10
        heard_at_once = len(panel.client.queue)
        await until(lambda: len(panel.client.queue) > heard_at_once)
        await asyncio.sleep(2 * module.FRAME_GAP_S)
        frames = [frame for frame in panel.frames() if frame.values]

    assert [{v.sensor: v.celsius for v in frame.values}["middle"] for frame in frames] == [900.0, 952.0, 959.0]
    assert {v.quality for v in frames[0].values} == {"C"}  # NAMUR NE 107: function check, as in any test


async def test_a_slow_kiln_is_never_bundled(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Scans further apart than the least gap go out one by one, each at once."""
    seconds, clock = Seconds(monkeypatch), SetClock()
    async with at_work(tmp_path, clock=clock) as (live, _):
        panel = Panel(live)
        for i in range(3):
            seconds.at += module.FRAME_GAP_S * 1.01
            deliver(live, clock, at(i, middle_c=900.0 + i))
        frames = [frame for frame in panel.frames() if frame.values]

    assert [frame.values[1].celsius for frame in frames] == [900.0, 901.0, 902.0]


async def test_an_alarm_does_not_wait_for_the_bundle(tmp_path: Path) -> None:
    """A finding and its alarm go out with the very scan that made them known, words and all."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock) as (live, ways):
        panel = Panel(live)
        frames: list[Frame] = []
        for arrival in falling_events():
            deliver(live, clock, arrival)
            frames += panel.frames()
        assert await live.recorder.kept()
        findings = live.recorder.stored_findings()
    (told,) = [frame for frame in frames if frame.alarms is not None]
    assert told.alarms is not None
    (alarm,) = told.alarms

    assert (alarm.key, alarm.title, alarm.active) == ("fall", "Temperature falling", True)
    assert [f.kind for f in told.findings] == ["fall"]
    assert told.silenced_s == 0.0
    assert [f.text for f in findings] == [told.findings[0].text]
    assert any(outcome.findings for outcome in ways.told)


async def test_scans_are_reported_to_the_node_only_once_they_are_committed(tmp_path: Path) -> None:
    """Before the commit the node hears the number before; after it, the number committed, for each node its own."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock) as (live, ways):
        deliver(live, clock, at(0))
        live.second()
        before = list(ways.alive)
        deliver(live, clock, Arrival(shed_2(5, BEGIN), BEGIN + 0.2))
        await until(lambda: bool(ways.alive) and ways.alive[-1] == {"shed-1": ("b1", 0), "shed-2": (None, 5)})
        deliver(live, clock, at(1))
        uncommitted = dict(live._kept.known)
        await until(lambda: ways.alive[-1]["shed-1"] == ("b1", 1))

    assert all(known == {} for known in before)
    assert uncommitted["shed-1"] == ("b1", 0)


async def test_a_gap_that_the_node_can_fill_is_not_reported_as_kept(tmp_path: Path) -> None:
    """Numbers stand still at the gap, so that the node sends again; once filled, all are reported."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock) as (live, ways):
        for i in (0, 1, 3, 4):
            deliver(live, clock, Arrival(shed_1(i, BEGIN + i, oldest=0), BEGIN + i))
        await until(lambda: bool(ways.alive) and ways.alive[-1].get("shed-1") == ("b1", 1))
        deliver(live, clock, Arrival(shed_1(2, BEGIN + 2, oldest=0), BEGIN + 5))
        await until(lambda: ways.alive[-1]["shed-1"] == ("b1", 4))

    assert live.all_counts()["lost"] == 0


async def test_an_engine_that_fails_takes_down_neither_acquisition_nor_storage(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """The fault is in words and logged once; scans are stored unjudged and reported to the node."""

    def broken(self: object, slots: object) -> None:
        raise ZeroDivisionError("by a slot")

    clock = SetClock()
    async with at_work(tmp_path, clock=clock) as (live, ways):
        for i in range(6):
            deliver(live, clock, at(i))
        with monkeypatch.context() as patched, caplog.at_level(logging.ERROR):
            patched.setattr("monitor.pipeline.Engine.judge", broken)
            for i in (*range(6, 17), 20):
                deliver(live, clock, at(i) if i < 20 else Arrival(shed_1(i, 0.0), BEGIN + i))
            live.second()
        assert await live.recorder.kept()
        await until(lambda: ways.alive[-1]["shed-1"][1] >= 15)
        stored = [(s.scan.seq, s.scan.time, s.late) for s in live.recorder.scans_after(0)]
        error, failures = live.engine_error, live.counts["engine_failures"]

    assert error == "ZeroDivisionError: by a slot"
    assert failures >= 2
    assert len([r for r in caplog.records if "the engine failed" in r.message]) == 1
    assert [seq for seq, _, _ in stored] == [*range(17), 20]
    assert any(late for _, _, late in stored)
    assert all(time >= BEGIN for _, time, _ in stored)


async def test_an_acknowledgement_is_kept_before_it_is_answered(tmp_path: Path) -> None:
    """A power cut right after the answer loses nothing: journal and state are on disk."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock) as (live, _):
        for arrival in falling_events():
            deliver(live, clock, arrival)
        panel = Panel(live)
        answer, is_kept = await live.acknowledge("fall", None)
        firing = live.shown
        assert firing is not None
        journal = await live.recorder.read(lambda reader: reader.alarm_changes(firing.id))
        snapshot = live.recorder.saved_state()
        frames = panel.frames()
        again, _ = await live.acknowledge("fall", "Rui")
        nobody, _ = await live.acknowledge("stall", "Rui")

    assert answer is not None
    assert (answer.reason, is_kept) == (Reason.ACKNOWLEDGED, True)
    assert [(line.key, line.change, line.who) for line in journal[-1:]] == [("fall", "acknowledged", "somebody")]
    assert snapshot is not None
    assert frames[-1].alarms is not None
    assert (frames[-1].alarms[0].acked, frames[-1].alarms[0].acked_by) == (True, "somebody")
    assert again is not None
    assert again.reason is Reason.ALREADY_ACKNOWLEDGED
    assert nobody is not None
    assert nobody.reason is Reason.NO_SUCH_ALARM


async def test_what_was_told_is_shown_kept_and_judged(tmp_path: Path) -> None:
    """A stoke shows at once; closed up ends the alarm of a fall; a page that tells twice is answered the same."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock, occasion=Occasion("simulator", 2.0)) as (live, _):
        for arrival in falling_events():
            deliver(live, clock, arrival)
        panel, now = Panel(live), clock.at
        stoked = await live.enter(Told("a1", EntryKind.STOKED, "front", ago_s=15.0))
        closed = await live.enter(Told("a2", EntryKind.CLOSED_UP, who="Ada"))
        frames = [frame for frame in panel.frames() if frame.entries]
        again = await live.enter(Told("a2", EntryKind.CLOSED_UP))
        alarms_before = [a.key for a in live.pipeline.alarms() if a.active]
        for i in range(60):
            clock.at = now + 1.0 + i
            live.second()
            deliver(live, clock, Arrival(shed_1(1000 + i, clock.at, 860.0), clock.at))
        snapshot = live.hub.present()
        alarms = [a.key for a in live.pipeline.alarms() if a.active]

    assert stoked == (EntryLine("a1", now - 30.0, "stoked", "front", None), True)
    assert closed == again == (EntryLine("a2", now, "closed-up", None, "Ada"), True)
    assert [[e.id for e in frame.entries] for frame in frames] == [["a1"], ["a2"]]
    assert [frame.closed_up for frame in frames] == [False, True]
    assert frames[0].last_stoke == now - 30.0
    assert ("fall" in alarms_before, "fall" in alarms) == (True, False)
    assert ([e.id for e in snapshot.entries], snapshot.closed_up) == (["a1", "a2"], True)


async def test_a_new_firing_begins_without_entries(tmp_path: Path) -> None:
    """What was told of the one before is kept with it; without an open firing nothing is taken."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock) as (live, _):
        deliver(live, clock, at(0))
        await live.enter(Told("a1", EntryKind.CLOSED_UP))
        ended = await live.end_firing()
        refused = await live.enter(Told("a2", EntryKind.CLOSED_UP))
        clock.at += 60.0
        await live.start_firing()
        snapshot = live.hub.present()
        assert ended is not None
        kept = await live.recorder.read(lambda reader: reader.entries(ended.id))

    assert refused is None
    assert (snapshot.entries, snapshot.closed_up) == ([], False)
    assert [e.id for e in kept] == ["a1"]


async def test_an_entry_is_kept_although_the_engine_failed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The log does not depend on what is made of it."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock) as (live, _):
        deliver(live, clock, at(0))
        monkeypatch.setattr(live.pipeline, "feed", lambda *_: 1 / 0)
        answer = await live.enter(Told("a1", EntryKind.STOKED, "front"))
        entries = live.recorder.stored_entries()

    assert answer is not None
    assert (answer[1], [e.id for e in entries]) == (True, ["a1"])


async def test_starting_a_firing_leaves_no_moment_between_two(tmp_path: Path) -> None:
    """A scan that comes while the start is being stored belongs to the new firing: there is no third one."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock) as (live, _):
        deliver(live, clock, at(0))
        clock.at = BEGIN + 120
        starting = asyncio.create_task(live.start_firing())
        await asyncio.sleep(0)
        deliver(live, clock, at(121))
        begun = await starting
        assert await live.recorder.kept()
        firings = await live.recorder.read(lambda reader: reader.firings())
        seqs = [stored.scan.seq for stored in live.recorder.scans_after(0)]

    assert begun is not None
    assert [(f.id, f.ended) for f in firings] == [("20251124T1600Z", BEGIN + 120), (begun.id, None)]
    assert begun.begun == BEGIN + 120
    assert seqs == [121]


async def test_ending_a_firing_forgets_the_fire(tmp_path: Path) -> None:
    """Alarms and findings go, what sensors said last stays; panels are told; ending twice is None."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock) as (live, _):
        for arrival in falling_events():
            deliver(live, clock, arrival)
        live._send_values()
        panel = Panel(live)
        ended = await live.end_firing()
        (frame,) = panel.frames()
        again = await live.end_firing()
        snapshot = live.hub.present()

    assert ended is not None
    assert ended.ended == clock.now()
    assert (frame.alarms, frame.firing) == ([], ended)
    assert again is None
    assert (snapshot.alarms, snapshot.findings, snapshot.firing) == ([], [], ended)
    assert snapshot.values[1].celsius is not None


async def test_where_nothing_can_be_kept_no_firing_starts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The answer is None, and the store's fault is an alarm."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock) as (live, _):
        monkeypatch.setattr(live.recorder, "begin_firing", lambda _: None)
        started = await live.start_firing()

    assert started is None


async def test_a_store_that_fails_is_an_alarm_within_a_second(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The reason is in the alarm's words and in the links."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock) as (live, _):
        monkeypatch.setattr(type(live.recorder), "error", "the disk is full")
        live.second()
        (alarm,) = live.present.alarm_lines(live.pipeline.alarms(), clock.now())
        links = live.links(module.host_seconds())
        monkeypatch.undo()

    assert (alarm.key, alarm.text) == ("store", "Scans cannot be stored: the disk is full")
    assert links.store_error == "the disk is full"


async def test_silence_is_broken_by_a_new_alarm(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Silence is told with its seconds left, counted, and ends where something new begins."""
    seconds, clock = Seconds(monkeypatch), SetClock()
    async with at_work(tmp_path, clock=clock) as (live, _):
        panel = Panel(live)
        left = live.silence("Ana")
        seconds.at += 20.0
        later = live.hub.present().silenced_s
        first = panel.frames()
        seconds.at += 100.0 + 120.0
        live.silence("Ana")
        live.second()
        broken = live.hub.present().silenced_s
        alarms = live.pipeline.alarms()

    assert (left, later) == (60.0, 40.0)
    assert [frame.silenced_s for frame in first] == [60.0]
    assert {alarm.key for alarm in alarms} == {"node:shed-1", "node:shed-2"}
    assert broken == 0.0
    assert live.counts["silences"] == 2


async def test_what_falls_due_by_time_falls_due_without_a_scan(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Twenty seconds of record time without a word are a finding; two minutes of host time are an alarm."""
    seconds, clock = Seconds(monkeypatch), SetClock()
    async with at_work(tmp_path, clock=clock) as (live, _):
        for i in range(30):
            deliver(live, clock, at(i))
        panel = Panel(live)
        for _i in range(130):
            clock.at += 1.0
            seconds.at += 1.0
            live.second()
        findings = [(f.sensor, f.fault, f.time) for f in live.present.findings]
        alarms = {a.key for a in live.pipeline.alarms()}
        told = [f for frame in panel.frames() for f in frame.findings]

    assert findings == [("firebox", "missing", BEGIN + 50.0), ("middle", "missing", BEGIN + 50.0)]
    assert [f.sensor for f in told] == ["firebox", "middle"]
    assert alarms == {"node:shed-1", "node:shed-2"}


async def test_links_states_and_nodes_have_their_times(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Links every 5 s, a word to the nodes every 2 s, the state every 10 min."""
    seconds, clock = Seconds(monkeypatch), SetClock()
    async with at_work(tmp_path, clock=clock) as (live, ways):
        deliver(live, clock, at(0))
        assert await live.recorder.kept()
        panel, kept, words = Panel(live), [], len(ways.alive)
        monkeypatch.setattr(live, "keep_state", lambda: kept.append(seconds.at))
        for _ in range(60):
            seconds.at += 1.0
            live.second()
        links = [frame.links for frame in panel.frames() if frame.links is not None]
        early = list(kept)
        seconds.at += 541.0
        live.second()

    assert len(links) == 12
    assert 29 <= len(ways.alive) - words <= 33  # a commit is told, too
    assert (early, len(kept)) == ([], 1)


@pytest.mark.parametrize(
    ("payload", "kind"),
    [
        (b"", "pack_not-json"),
        (b"[", "pack_not-json"),
        (b"{}", "pack_wrong-type"),
        (b'[{"bn":"host/","bt":1764000000,"n":"tick","u":"count","v":1}]', "pack_name"),
        (b'[{"bn":"shed-1/","bt":1764000000,"n":"t1/emf","u":"mV","v":1}]', "pack_unit"),
        (b"[" + b" " * 2**20 + b"]", "pack_too-long"),
    ],
)
async def test_what_is_no_pack_is_counted_by_kind(tmp_path: Path, payload: bytes, kind: str) -> None:
    """It comes from no node, nothing is stored, and the count tells why."""
    async with at_work(tmp_path) as (live, _):
        nodes = live.deliver(payload)
        counts = live.all_counts()

    assert nodes == frozenset()
    assert counts[kind] == 1
    assert live.shown is None


async def test_no_payload_ever_raises(tmp_path: Path) -> None:
    """Whatever the bytes: a pack or a count."""
    good = write_pack(shed_1(0, BEGIN))

    async with at_work(tmp_path) as (live, _):

        @settings(max_examples=120, deadline=None, suppress_health_check=list(HealthCheck))
        @given(st.binary(max_size=60) | st.tuples(st.integers(0, len(good)), st.binary(max_size=4)).map(_spoiled(good)))
        def deliver_any(payload: bytes) -> None:
            live.deliver(payload)

        deliver_any()
        counts = live.all_counts()

    assert sum(n for kind, n in counts.items() if kind.startswith("pack")) >= 120
    assert live.engine_error is None


def _spoiled(good: bytes) -> Callable[[tuple[int, bytes]], bytes]:
    def spoil(place: tuple[int, bytes]) -> bytes:
        at_byte, put = place
        return good[:at_byte] + put + good[at_byte + len(put) :]

    return spoil


async def test_repeats_late_and_lost_scans_are_counted(tmp_path: Path) -> None:
    """What became of each scan is told, and nodes are named for the way back."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock) as (live, _):
        for event in uneven_events():
            clock.at = event.clock
            if isinstance(event, Arrival):
                assert live.deliver(write_pack(event.scan)) == {event.scan.node}
            else:
                live.second()
        counts = live.all_counts()
        assert await live.recorder.kept()
        stored = list(live.recorder.scans_after(0))

    assert (counts["accepted"], counts["repeats"], counts["late"]) == (334, 1, 1)
    assert counts["lost"] == 1 + 25  # scan 60 of shed-1, and what shed-2 left out
    assert len(stored) == 334
    assert [s.scan.seq for s in stored if s.late] == [40]


async def test_the_snapshot_holds_all_that_a_panel_needs(tmp_path: Path) -> None:
    """Kiln, firing, plan, guide, sensors, values, links: and it encodes."""
    site = made_up_site("[plan]\npoints = [[0, 20], [10, 1000]]\n")
    clock = SetClock()
    async with at_work(tmp_path, site=site, clock=clock, occasion=Occasion("replay", 4.0)) as (live, ways):
        ways.errors = {"/dev/ttyX": "is not there", "broker": None}
        deliver(live, clock, at(0))
        snapshot = live.hub.present()
        msgspec.json.encode(snapshot)

    assert (snapshot.kiln.id, snapshot.test, snapshot.speed) == ("made-up-kiln", "replay", 4.0)
    assert snapshot.plan is not None
    assert snapshot.plan.points == [(BEGIN, 20.0), (BEGIN + 36000.0, 1000.0)]
    assert [s.id for s in snapshot.sensors] == ["firebox", "middle", "back"]
    assert [v.celsius is None for v in snapshot.values] == [False, False, True]
    assert snapshot.links.source_error == {"/dev/ttyX": "is not there"}
    assert set(snapshot.links.node_age_s) == {"shed-1", "shed-2"}


async def test_a_node_without_a_clock_gets_the_host_s_time(tmp_path: Path) -> None:
    """A time relative to now (RFC 8428 section 4.5.3) is stored as absolute."""
    clock = SetClock(BEGIN + 50.0)
    async with at_work(tmp_path, clock=clock) as (live, _):
        scan = Scan("shed-1", -2.0, shed_1(0, 0.0).readings, boot="b1", seq=0, up_s=12.0)
        live.deliver(write_pack(scan))
        assert await live.recorder.kept()
        (stored,) = live.recorder.scans_after(0)

    assert stored.scan.time == BEGIN + 48.0
    assert live.last_scan == BEGIN + 48.0


async def test_a_clock_replaced_is_counted(tmp_path: Path) -> None:
    """A node whose clock was never set is heard at the host's time, and that is told."""
    clock = SetClock(BEGIN + 1e7)
    async with at_work(tmp_path, clock=clock) as (live, _):
        live.deliver(write_pack(shed_1(0, BEGIN)))

    assert live.all_counts()["times_replaced"] == 1


async def test_a_practice_reaches_every_panel_and_every_later_one(tmp_path: Path) -> None:
    """A frame for those who are there, the snapshot for who comes; without one there is nothing to practise on."""
    async with at_work(tmp_path, clock=SetClock()) as (live, _):
        panel = Panel(live)
        before = live.hub.present().practice
        live.show_practice(PRACTICE)
        (frame,) = panel.frames()
        after = live.hub.present().practice

    assert before is None
    assert frame.practice == after == PRACTICE


@pytest.mark.usefixtures("quick_commits")
async def test_what_is_asked_is_told_ticked_and_answered(tmp_path: Path) -> None:
    """A prompt goes out once; a tick is an entry and shows at once; to answer that the kiln is closed up closes it."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock) as (live, _):
        deliver(live, clock, Arrival(shed_1(0, BEGIN), BEGIN))
        deliver(live, clock, Arrival(shed_1(1, BEGIN + 20.0), BEGIN + 20.0))
        panel = Panel(live)
        live.second()
        live.second()
        told = [frame.prompts for frame in panel.frames() if frame.prompts is not None]
        await live.enter(Told("a1", EntryKind.TICKED, who="Ana", note="stoke-gear/eyes"))
        ticked = [frame.prompts for frame in panel.frames() if frame.prompts is not None]
        closing = await live.enter(Told("a2", EntryKind.ANSWERED, who="Ana", note="phase/closed-up"))

    assert [[prompt.key for prompt in prompts] for prompts in told] == [["stoke-gear"]]
    assert [(p.id, p.ticked_by) for p in ticked[0][0].points if p.ticked_by is not None] == [("eyes", "Ana")]
    assert closing is not None
    assert (closing[0].what, closing[0].note) == ("closed-up", None)


async def test_a_failing_engine_is_an_alarm(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is judged any more, and that is told: silence is no good news."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock) as (live, _):
        deliver(live, clock, Arrival(shed_1(0, BEGIN), BEGIN))
        monkeypatch.setattr(live.pipeline, "feed", lambda *_: 1 / 0)
        live.second()
        live.second()
        alarms = [(alarm.key, alarm.priority) for alarm in live.pipeline.alarms()]
        monkeypatch.undo()

    assert ("stuck", 1) in alarms
