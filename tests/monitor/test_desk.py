"""What the HTTP interface asks of the service: health, metrics, history, findings, firings, and what people do."""

import json
import struct
from collections import Counter
from pathlib import Path

import msgspec
import numpy as np
import pytest
from prometheus_client.openmetrics.parser import text_string_to_metric_families

from monitor.desk import Desk, history_bytes
from monitor.live import Live
from monitor.model import Arrival, EntryKind
from monitor.publish.http_api import ToldEntry
from monitor.publish.messages import EntryLine
from monitor.store.errors import StoreUnavailableError
from monitor.store.records import Envelope
from monitor.supervise import Supervisor
from monitor.surroundings import Occasion
from monitor.wire.practice import Answer, Order, Practice
from tests.made_up import BEGIN, NoWays, SetClock, at_work, deliver, falling_events, shed_1

GOLDEN = Path(__file__).parents[1] / "golden" / "messages"
PRACTICE = msgspec.convert(json.loads((GOLDEN / "snapshot.json").read_text())["practice"], Practice)

pytestmark = pytest.mark.usefixtures("quick_commits")


def desk_of(live: Live, supervisor: Supervisor | None = None) -> Desk:
    """Return the desk of a service."""
    return Desk(live, supervisor or Supervisor(), "1.2.3")


def unpacked(answer: bytes) -> tuple[dict[str, object], np.ndarray]:
    """Return the header and the numbers of a history answer, read by its layout alone."""
    (length,) = struct.unpack_from("<I", answer)
    return json.loads(answer[4 : 4 + length]), np.frombuffer(answer, "<f4", offset=4 + length)


async def test_all_is_well(tmp_path: Path) -> None:
    """Every part says so."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock, occasion=Occasion("simulator", 2.0)) as (live, ways):
        ways.errors = {"/dev/ttyX": None}
        deliver(live, clock, Arrival(shed_1(0, BEGIN), BEGIN))
        well, parts = desk_of(live).health()

    assert well
    assert parts == {
        "status": "working",
        "sources": {"/dev/ttyX": "working"},
        "store": "working",
        "engine": "working",
        "tasks": {},
        "voices": {},
        "firing": "20251124T1600Z",
        "sensors": {"firebox": "ok", "middle": "ok", "back": "absent"},
        "test": "simulator",
        "version": "1.2.3",
    }


def break_part(part: str, live: Live, ways: NoWays, supervisor: Supervisor, patch: pytest.MonkeyPatch) -> None:
    """Break one part of the service."""
    match part:
        case "sources":
            ways.errors = {"/dev/ttyX": "serial port /dev/ttyX is not there"}
        case "store":
            patch.setattr(type(live.recorder), "error", "the disk is full")
        case "engine":
            live.engine_error = "ZeroDivisionError: by a slot"
        case "tasks":
            supervisor.errors["seconds"] = "ended by itself"


@pytest.mark.parametrize(
    ("part", "words"),
    [
        ("sources", {"/dev/ttyX": "serial port /dev/ttyX is not there"}),
        ("store", "the disk is full"),
        ("engine", "ZeroDivisionError: by a slot"),
        ("tasks", {"seconds": "ended by itself"}),
    ],
)
async def test_one_part_that_fails_makes_the_whole_failing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, part: str, words: object
) -> None:
    """The reason stands beside the part."""
    supervisor = Supervisor()
    async with at_work(tmp_path) as (live, ways):
        with monkeypatch.context() as patch:
            break_part(part, live, ways, supervisor, patch)
            well, parts = desk_of(live, supervisor).health()

    assert not well
    assert parts["status"] == "failing"
    assert parts[part] == words


async def test_sensor_faults_alarms_and_a_lost_broker_are_no_ill_health(tmp_path: Path) -> None:
    """They are told beside; so are a clock that lay behind and a database moved aside."""
    clock = SetClock()
    clock.behind_s = 12.34
    async with at_work(tmp_path, clock=clock) as (live, ways):
        ways.broker_error = "the broker does not answer"
        live.recorder.set_aside_at = tmp_path / "damaged-1"
        for event in falling_events():
            deliver(live, clock, event)
        deliver(live, clock, Arrival(shed_1(9999, BEGIN + 1141, is_open=True), BEGIN + 1141))
        well, parts = desk_of(live).health()

    assert well
    assert parts["sensors"]["firebox"] == "open"
    assert parts["broker"] == "the broker does not answer"
    assert parts["damaged_database_moved_to"] == str(tmp_path / "damaged-1")
    assert parts["clock_behind_record_s"] == 12.3


async def test_the_metrics_are_openmetrics_and_count(tmp_path: Path) -> None:
    """Read by the library that others read them with."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock) as (live, ways):
        ways.errors, ways.counted = {"/dev/ttyX": None}, Counter(line_bad_crc=3, broker_sent=5)
        deliver(live, clock, Arrival(shed_1(0, BEGIN), BEGIN))
        deliver(live, clock, Arrival(shed_1(0, BEGIN), BEGIN))
        live.deliver(b"nonsense")
        assert await live.recorder.kept()
        text = desk_of(live).metrics()
    families = {family.name: family for family in text_string_to_metric_families(text)}
    told = {(s.name, *sorted(s.labels.items())): s.value for family in families.values() for s in family.samples}

    assert text.endswith("# EOF\n")
    assert told[("nightstoke_scans_total", ("kind", "accepted"))] == 1
    assert told[("nightstoke_scans_total", ("kind", "repeats"))] == 1
    assert told[("nightstoke_scans_total", ("kind", "late"))] == 0
    assert told[("nightstoke_lines_dropped_total", ("kind", "bad_crc"))] == 3
    assert told[("nightstoke_lines_dropped_total", ("kind", "not-json"))] == 1
    assert told[("nightstoke_mqtt_messages_total", ("kind", "sent"))] == 5
    assert told[("nightstoke_temperature_celsius", ("place", "middle"), ("sensor", "middle"))] == 900.0
    assert told[("nightstoke_last_scan_timestamp_seconds",)] == BEGIN
    assert told[("nightstoke_store_commits_total",)] >= 1
    assert told[("nightstoke_source_working", ("source", "/dev/ttyX"))] == 1
    assert told[("nightstoke_store_failing",)] == 0


def test_history_bytes_hold_length_header_and_numbers_exactly() -> None:
    """Little-endian uint32, JSON padded so that numbers begin at a multiple of 8, lows then highs as float32."""
    low = np.array([[1.5, np.nan, 3.0], [4.0, 5.0, np.nan]], dtype=np.float32)
    answer = history_bytes(Envelope(BEGIN, 2.5, low, low + 1, (7,)), ["firebox", "middle"])
    (length,) = struct.unpack_from("<I", answer)
    header, numbers = unpacked(answer)
    expected = np.concatenate([low.ravel(), (low + 1).ravel()])

    assert (4 + length) % 8 == 0
    assert header == {
        "begin": BEGIN, "step_s": 2.5, "columns": 3, "sensors": ["firebox", "middle"], "damaged_blocks": [7]
    }  # fmt: skip
    assert answer[4 + length :] == expected.astype("<f4").tobytes()
    assert np.isnan(numbers).tolist() == [False, True, False, False, False, True] * 2
    assert len(answer) == 4 + length + 2 * 2 * 3 * 4


@pytest.mark.parametrize("names", [["a"], ["ab"], ["abc"], ["abcdefg", "h"]])
def test_the_padding_fits_any_header(names: list[str]) -> None:
    """Without an envelope there is a header and not one number."""
    answer = history_bytes(None, names)
    header, numbers = unpacked(answer)

    assert len(answer) % 8 == 0
    assert header == {"begin": 0.0, "step_s": 1.0, "columns": 0, "sensors": names}
    assert len(numbers) == 0


async def test_history_covers_the_whole_firing_or_what_is_asked(tmp_path: Path) -> None:
    """Lows and highs of what was stored, NaN where nothing was measured; at least a minute."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock) as (live, _):
        desk = desk_of(live)
        before = unpacked(await desk.history(None, None, 100))
        for i in range(120):
            deliver(live, clock, Arrival(shed_1(i, BEGIN + i, middle_c=800.0 + i), BEGIN + i))
        assert await live.recorder.kept()
        header, numbers = unpacked(await desk.history(None, None, 10))
        part, _ = unpacked(await desk.history(BEGIN + 30, BEGIN + 31, 10))
    low, high = numbers.reshape(2, 3, -1)
    begin, step = header["begin"], header["step_s"]
    assert isinstance(begin, float)
    assert isinstance(step, float)

    assert before[0]["columns"] == 0
    assert header["sensors"] == ["firebox", "middle", "back"]
    assert header["columns"] == low.shape[1] <= 10
    assert begin <= BEGIN
    assert begin + step * low.shape[1] >= BEGIN + 120
    assert (np.nanmin(low[1]), np.nanmax(high[1])) == (800.0, 919.0)
    assert np.isnan(low[2]).all()
    assert isinstance(part["step_s"], float)
    assert part["step_s"] * int(str(part["columns"])) >= 60.0


async def test_history_of_a_firing_without_a_scan_is_empty(tmp_path: Path) -> None:
    """A firing that was started by hand has nothing to draw yet."""
    async with at_work(tmp_path) as (live, _):
        await live.start_firing()
        header, _ = unpacked(await desk_of(live).history(None, None, 10))

    assert header["columns"] == 0


async def test_what_cannot_be_read_is_empty_and_never_a_fault(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """While the store is not open the panel draws nothing; why is in the health."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock) as (live, _):
        deliver(live, clock, Arrival(shed_1(0, BEGIN), BEGIN))

        def closed(question: object) -> None:
            raise StoreUnavailableError("the store is not open")

        monkeypatch.setattr(live.recorder, "read", closed)
        desk = desk_of(live)
        header, _ = unpacked(await desk.history(None, None, 10))
        findings, firings = await desk.findings(), await desk.firings()

    assert (header["columns"], findings, firings) == (0, [], [])


async def test_findings_and_firings_are_those_stored(tmp_path: Path) -> None:
    """Findings of the firing on show, all firings oldest first; none before the first."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock) as (live, _):
        desk = desk_of(live)
        nothing = await desk.findings()
        for event in falling_events():
            deliver(live, clock, event)
        assert await live.recorder.kept()
        findings = await desk.findings()
        ended = await desk.end_firing()
        again = await desk.end_firing()
        clock.at += 3600.0
        begun = await desk.start_firing()
        firings = await desk.firings()

    assert (nothing, again) == ([], None)
    assert [f.kind for f in findings] == ["fall"]
    assert firings == [ended, begun]
    assert ended is not None
    assert ended.ended is not None


async def test_what_people_tell_is_kept_with_the_firing(tmp_path: Path) -> None:
    """Entries of the firing on show, in the order in which they were told; none before the first scan."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock) as (live, _):
        desk = desk_of(live)
        before = await desk.enter(ToldEntry(id="a0", what=EntryKind.CLOSED_UP)), await desk.entries()
        deliver(live, clock, Arrival(shed_1(0, BEGIN), BEGIN))
        clock.at = BEGIN + 60.0
        kept = await desk.enter(ToldEntry(id="a1", what=EntryKind.STOKED, door="front", ago_s=20.0, who="Ada"))
        again = await desk.enter(ToldEntry(id="a1", what=EntryKind.STOKED, door="side"))
        entries = await desk.entries()

    assert before == (None, [])
    assert kept == again == (EntryLine("a1", BEGIN + 40.0, "stoked", "front", "Ada"), True)
    assert entries == [EntryLine("a1", BEGIN + 40.0, "stoked", "front", "Ada")]


async def test_seeing_an_alarm_says_whether_that_is_on_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """True once stored, False while it cannot be, None where there is no such alarm."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock) as (live, _):
        desk = desk_of(live)
        for event in falling_events():
            deliver(live, clock, event)
        nobody = await desk.mark_seen("stall", "Ines")
        seen = await desk.mark_seen("fall", "Ines")

        async def never() -> bool:
            return False

        monkeypatch.setattr(type(live.recorder), "error", "full")
        live.second()
        monkeypatch.setattr(live.recorder, "kept", never)
        unsure = await desk.mark_seen("store", None)
        monkeypatch.undo()

    assert (nobody, seen, unsure) == (None, True, False)


async def test_silence_says_how_long(tmp_path: Path) -> None:
    """The seconds of the alarm table."""
    async with at_work(tmp_path) as (live, _):
        assert await desk_of(live).silence("Rui") == 60.0


async def test_refused_requests_are_counted(tmp_path: Path) -> None:
    """What the door turned away is seen in the counters."""
    async with at_work(tmp_path) as (live, _):
        desk_of(live).count_refused()

        assert live.all_counts()["requests_refused"] == 1


async def test_a_kiln_that_is_not_practised_on_takes_no_order(tmp_path: Path) -> None:
    """Any real one: nothing to show, nobody to pass an order to."""
    async with at_work(tmp_path, clock=SetClock()) as (live, _):
        desk = desk_of(live)
        assert desk.practice() is None
        assert await desk.practise(Order(0, "rake")) is None


async def test_an_order_goes_to_the_kiln_that_is_practised_on(tmp_path: Path) -> None:
    """And the kiln's answer comes back, its present is told."""

    class Line:
        async def order(self, order: Order) -> Answer:
            return Answer(order.number, done=False, why="in-hand")

    async with at_work(tmp_path, clock=SetClock()) as (live, _):
        live.show_practice(PRACTICE)
        desk = Desk(live, Supervisor(), "1.2.3", Line())  # type: ignore[arg-type]
        assert desk.practice() == PRACTICE
        assert await desk.practise(Order(4, "take-over")) == Answer(4, done=False, why="in-hand")


async def test_the_outlook_tells_what_was_asked_for(tmp_path: Path) -> None:
    """Nothing before the first half minute; then each sensor and the answer; a cone that there is none of is said."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock) as (live, _):
        desk = desk_of(live)
        assert desk.outlook(None, None) is None
        for event in falling_events():
            deliver(live, clock, event)
        outlook = desk.outlook(950.0, None)
        assert outlook is not None
        with pytest.raises(ValueError, match="no cone 'x'"):
            desk.outlook(None, "x")

    assert [s.sensor for s in outlook.sensors] == ["firebox", "middle", "back"]
    assert outlook.guide == "middle"
    assert outlook.sensors[1].wanted_at is not None
    assert outlook.sensors[1].equivalent_c is not None


@pytest.mark.usefixtures("quick_commits")
async def test_an_alarm_is_put_off_journalled_and_reported(tmp_path: Path) -> None:
    """Through the desk: the word of what came of it, a line of the journal for each change, and the load."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock) as (live, _):
        desk = desk_of(live)
        for event in falling_events():
            deliver(live, clock, event)
        put_off = await desk.shelve("fall", 300.0, "the ports are open on purpose", "Ana")
        too_long = await desk.shelve("fall", 90_000.0, "x", "Ana")
        back = await desk.unshelve("fall", "Rui")
        unknown = await desk.unshelve("nothing", None)
        lines = [json.loads(line) for line in (await desk.journal()).splitlines()]
        report = await desk.report()

    assert (put_off, too_long, back, unknown) == (
        ("shelved", True), ("too-long", True), ("unshelved", True), ("no-such-alarm", True),
    )  # fmt: skip
    changes = [(line["key"], line["change"], line["who"]) for line in lines if line["key"] == "fall"]
    assert changes == [("fall", "began", None), ("fall", "shelved", "Ana"), ("fall", "unshelved", "Rui")]
    assert lines[-2]["alarm"]["shelved_why"] == "the ports are open on purpose"
    assert ("temperature-falling", "Temperature falling", 2) in report.most_frequent


@pytest.mark.usefixtures("quick_commits")
async def test_a_sounder_is_told_what_to_let_be_heard(tmp_path: Path) -> None:
    """The most urgent priority, nothing in a silence, and that the service goes on."""
    clock, supervisor = SetClock(), Supervisor()
    async with at_work(tmp_path, clock=clock) as (live, _):
        desk = desk_of(live, supervisor)
        before = desk.voice("shed", None)
        for event in falling_events():
            deliver(live, clock, event)
        live.second()
        heard = desk.voice("shed", None)
        await desk.silence("Ana")
        silent = desk.voice("shed", "no card")
        _, parts = desk.health()
        supervisor.errors["seconds"] = "ValueError: x"
        stuck = desk.voice("shed", None)

    assert (before.sounding, before.armed, before.beats) == (None, False, 0)
    assert (heard.sounding, heard.armed, heard.beats) == (2, True, 1)
    assert (silent.silenced, parts["voices"]) == (True, {"shed": "no card"})
    assert (heard.silenced, heard.stuck, stuck.stuck) == (False, None, "ValueError: x")
