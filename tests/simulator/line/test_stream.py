"""Recordings: the same run gives the same bytes; with faults of the line they hold what arrived. Live streams."""

import gzip
import json
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from monitor.model import Arrival, Entry, EntryKind, Tick
from monitor.wire.line import alive_line
from monitor.wire.pack import parse_pack
from monitor.wire.recording import RecordingReader
from simulator.line.faulty_line import Turn
from simulator.line.stream import Streamed, _block_s, record_run, stream_run
from simulator.run import Run, course_of
from simulator.script.line_faults import LineFault
from simulator.script.scenarios import find_scenario
from simulator.script.spells import Spell
from simulator.spec.kiln_file import load_kiln
from tests.scripted_run import LIT, ScriptedRun

SPEC = load_kiln("demo")


class FakeLine:
    """A line that notes what goes over it, and a host that reports what `hears` says."""

    def __init__(self, *, hears: bool = True, stop_after: int | None = None, pause_s: float = 0.0) -> None:
        self.sent: list[Any] = []
        self._hears = hears
        self._left = stop_after
        self._pause_s = pause_s

    def send_pack(self, payload: bytes) -> bool:
        """Note the numbers of a pack, or the bytes of one that is none."""
        time.sleep(self._pause_s)
        try:
            fields = {r.get("n"): r.get("v") for r in json.loads(payload)}
            self.sent.append((fields["seq"], fields.get("oldest")))
        except (ValueError, KeyError, RecursionError, AttributeError, TypeError):
            self.sent.append(payload)
        return self._goes_on()

    def send_noise(self, noise: bytes) -> bool:
        """Note bytes."""
        self.sent.append(noise)
        return self._goes_on()

    def turn(self, turn: Turn) -> None:
        """Note a turn."""
        self.sent.append(turn)

    def wait_until(self, due: float) -> bool:
        """Wait as long as it takes, or until told to stop."""
        time.sleep(max(0.0, due - time.monotonic()))
        return self._left != 0

    def words(self) -> list[bytes]:
        """Report the newest scan."""
        numbers = [s[0] for s in self.sent if isinstance(s, tuple)]
        return [b"rest", alive_line("a", max(numbers))] if self._hears and numbers else []

    def _goes_on(self) -> bool:
        self._left = None if self._left is None else self._left - 1
        return self._left != 0


def _recorded(path: Path, *spells: Spell, **settings: int) -> list[Arrival | Tick]:
    record_run(ScriptedRun(*spells, **settings), path)  # type: ignore[arg-type]
    return list(RecordingReader().events(path.read_bytes().splitlines()))


def _scans(events: Sequence[Arrival | Tick]) -> list[tuple[int, float]]:
    """Return number and lateness of each scan."""
    return [(e.scan.seq or 0, e.clock - e.scan.time) for e in events if isinstance(e, Arrival)]


def _run(seed: int = 1) -> Run:
    course = course_of(1_764_000_000, live_h=1.0, lead_in_h=0.2, duration_h=0.1)
    return Run(SPEC, find_scenario("steady"), course, seed=seed)


@pytest.mark.parametrize("name", ["a.senml.jsonl", "a.senml.jsonl.gz"])
def test_same_seed_gives_the_same_bytes(tmp_path: Path, name: str) -> None:
    """Byte for byte, packed or not; another seed gives others."""
    (tmp_path / "again").mkdir()
    paths = [tmp_path / name, tmp_path / "again" / name]
    counts = [record_run(_run(), path) for path in paths]
    record_run(_run(seed=2), tmp_path / "other")

    assert counts == [72 + 360] * 2
    assert paths[0].read_bytes() == paths[1].read_bytes()
    assert (tmp_path / "other").read_bytes() != paths[0].read_bytes()


def test_recording_is_one_readable_pack_a_line(tmp_path: Path) -> None:
    """The service's reader takes every line; packing changes nothing in it."""
    plain, packed = tmp_path / "a.senml.jsonl", tmp_path / "a.senml.jsonl.gz"
    record_run(_run(), plain)
    record_run(_run(), packed)
    lines = plain.read_bytes().splitlines()

    assert [parse_pack(line)[0].seq for line in lines] == list(range(432))
    assert gzip.decompress(packed.read_bytes()) == plain.read_bytes()


@pytest.mark.parametrize(("speed", "block_s"), [(0.1, 5), (1.0, 5), (20.0, 10), (60.0, 30), (600.0, 60), (None, 60)])
def test_a_live_kiln_is_worked_out_half_a_second_ahead(speed: float | None, block_s: int) -> None:
    """So late does a hand on it show, at least one fine step and at most a minute of kiln time."""
    assert _block_s(speed) == block_s


def test_recording_without_faults_of_the_line_has_scans_only(tmp_path: Path) -> None:
    """No host lines and no `oldest`: the clock is the scans'."""
    events = _recorded(tmp_path / "a")

    assert [e.scan.oldest for e in events if isinstance(e, Arrival)] == [None] * 600
    assert len(events) == 600


def test_recording_of_a_faulty_line_carries_the_arrival_clock(tmp_path: Path) -> None:
    """At least a host line a second from begin to end, also while nothing arrives; what comes late is late by it."""
    events = _recorded(tmp_path / "a", Spell(LineFault.OUTAGE, 100 / 3600, 200 / 3600))
    ticks = [e.clock for e in events if isinstance(e, Tick)]
    late = dict(_scans(events))

    assert ticks == [LIT + 1.0 + n for n in range(600)]
    assert sorted(late) == list(range(600))
    assert {late[n] for n in (0, 98, 299, 599)} == {0.0}
    assert all(10.0 < late[n] < 240.0 for n in range(99, 299))


def test_recording_s_clock_runs_on_to_the_end_of_the_run(tmp_path: Path) -> None:
    """Nothing arrives any more: what falls due by time alone still does."""
    events = _recorded(tmp_path / "a", Spell(LineFault.HANG, 0.1, 1.0))

    assert len(_scans(events)) == 359
    assert isinstance(events[-1], Tick)
    assert events[-1].clock == LIT + 600.0


@pytest.mark.parametrize("spells", [(), (Spell(LineFault.LOSS, 0.0, 60.0, 0.01),)])
def test_recording_holds_what_the_crew_told_meanwhile(tmp_path: Path, spells: tuple[Spell, ...]) -> None:
    """At its place by the clock, among scans and host lines; what was told before or after the run is left out."""
    told = [Entry(f"e{at:.0f}", LIT + at, LIT + at, EntryKind.CLOSED_UP) for at in (-5.0, 300.5, 9000.0)]
    record_run(ScriptedRun(*spells), tmp_path / "a", told)  # type: ignore[arg-type]
    events = list(RecordingReader().events((tmp_path / "a").read_bytes().splitlines()))
    (at,) = [i for i, event in enumerate(events) if isinstance(event, Entry)]

    assert events[at] == told[1]
    assert events[at - 1].clock <= LIT + 300.5 <= events[at + 1].clock
    assert events[at + 1].clock - events[at - 1].clock < 5.0


def test_noise_in_a_recording_is_broken_lines(tmp_path: Path) -> None:
    """F38, F39: each is skipped and counted by the reader, the scans are all there."""
    spells = (Spell(LineFault.GARBAGE, 0.0, 1.0, size=3.0), Spell(LineFault.ABSURD, 0.0, 1.0, size=6.0))
    count = record_run(ScriptedRun(*spells), tmp_path / "a")  # type: ignore[arg-type]
    reader = RecordingReader()
    events = list(reader.events((tmp_path / "a").read_bytes().split(b"\n")))

    assert count == 600
    assert [n for n, _ in _scans(events)] == list(range(600))
    assert 85 <= sum(reader.counts.broken.values()) <= 95


def test_faulty_recording_repeats_byte_for_byte(tmp_path: Path) -> None:
    """Noise, losses and jumble from the seed alone; packed or not."""
    spells = [Spell(f, 0.0, 0.1, size=s) for f, s in ((LineFault.GARBAGE, 6.0), (LineFault.LOSS, 0.1))]
    spells += [Spell(LineFault.SHUFFLE, 0.05, 0.1, size=30.0), Spell(LineFault.RESET, 0.1, 0.1)]
    for name in ("a", "b", "c.gz"):
        record_run(ScriptedRun(*spells), tmp_path / name)  # type: ignore[arg-type]

    assert (tmp_path / "a").read_bytes() == (tmp_path / "b").read_bytes()
    assert gzip.decompress((tmp_path / "c.gz").read_bytes()) == (tmp_path / "a").read_bytes()


def test_stream_sends_lead_in_and_live_and_hears_the_host() -> None:
    """Each scan once, with the lowest number that is still kept."""
    line = FakeLine()
    streamed = stream_run(ScriptedRun(lead_in=60), line, None)  # type: ignore[arg-type]

    assert [s[0] for s in line.sent] == list(range(600))
    assert [s[1] for s in line.sent] == list(range(600))
    assert streamed == Streamed(600, 0.0)


def test_stream_keeps_what_nobody_reports() -> None:
    """A host that is not there frees nothing, and is sent nothing again."""
    line = FakeLine(hears=False)
    stream_run(ScriptedRun(), line, None)  # type: ignore[arg-type]

    assert line.sent == [(n, 0) for n in range(600)]


def test_stream_hands_faults_to_the_line() -> None:
    """Turns, noise and packs, each in its way and time."""
    spells = [Spell(LineFault.TWIN, 10 / 3600, 5 / 3600), Spell(LineFault.ABSURD, 20 / 3600, 1 / 3600)]
    spells.append(Spell(LineFault.GARBAGE, 30 / 3600, 60 / 3600))
    line = FakeLine()
    stream_run(ScriptedRun(*spells, seconds=100), line, None)  # type: ignore[arg-type]
    extra = [(place, s) for place, s in enumerate(line.sent) if not isinstance(s, tuple)]

    assert extra[:2] == [(9, Turn(LineFault.TWIN, is_on=True)), (15, Turn(LineFault.TWIN, is_on=False))]
    assert [type(s) for _, s in extra[2:]] == [bytes, bytes]
    assert extra[2][0] == 22
    assert len(extra[3][1]) > 1_000_000


@pytest.mark.parametrize("stop_after", [1, 30, 90])
def test_stream_ends_when_the_line_is_told_to(stop_after: int) -> None:
    """In the lead-in and live."""
    line = FakeLine(stop_after=stop_after)
    streamed = stream_run(ScriptedRun(lead_in=60), line, None)  # type: ignore[arg-type]

    assert len(line.sent) == streamed.scans == stop_after


def test_stream_ends_while_it_waits() -> None:
    """Told to stop before a live scan is due."""
    line = FakeLine(stop_after=0)

    assert stream_run(ScriptedRun(), line, 60.0) == Streamed(0, 0.0)  # type: ignore[arg-type]
    assert line.sent == []


def test_stream_holds_its_speed_without_a_word() -> None:
    """A hundred scans at 200 times life take half a second."""
    told: list[str] = []
    begun = time.monotonic()
    streamed = stream_run(ScriptedRun(seconds=100), FakeLine(), 200.0, told.append)  # type: ignore[arg-type]

    assert time.monotonic() - begun > 0.49
    assert streamed.worst_late_s < 1.0
    assert told == []


def test_stream_that_cannot_keep_up_says_by_how_much() -> None:
    """A line that takes 10 ms a pack at a speed that asks for 1,000 a second."""
    told: list[str] = []
    streamed = stream_run(ScriptedRun(seconds=150), FakeLine(pause_s=0.01), 1000.0, told.append)  # type: ignore[arg-type]

    assert len(told) == 1
    assert told[0].startswith("the stream is 1.")
    assert streamed.worst_late_s > 1.0


def test_what_it_says_goes_to_stderr(capsys: pytest.CaptureFixture[str]) -> None:
    """With the command's name before it."""
    stream_run(ScriptedRun(seconds=150), FakeLine(pause_s=0.01), 1000.0)  # type: ignore[arg-type]

    assert capsys.readouterr().err.startswith("nightstoke-sim: the stream is 1.")
