"""Export as a person runs it, and that a replay of an export finds what the live run found."""

import gzip
import json
import re
import sqlite3
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import pytest

from monitor import export
from monitor.cli import main
from monitor.findings_file import finding_lines
from monitor.live import Live
from monitor.model import Arrival, EntryKind, Scan, Tick
from monitor.store.connection import FILE_NAME
from monitor.telling import Told
from monitor.wire.pack import parse_line, write_pack
from tests.made_up import BEGIN, SITE_TEXT, SetClock, at_work, falling_events, shed_1, uneven_events

pytestmark = pytest.mark.usefixtures("quick_commits")


@dataclass
class Folder:
    """A folder with a data directory, and what an export and a replay of it make."""

    path: Path

    def __post_init__(self) -> None:
        self.data, self.out = self.path / "data", self.path / "out.senml.jsonl"

    def export(self, *more: str, out: Path | None = None) -> int:
        """Export and return the exit code."""
        return main(["export", "--data", str(self.data), *more, str(out or self.out)])

    def replayed(self, out: Path | None = None) -> str:
        """Replay the export and return its findings."""
        (self.path / "kiln.toml").write_text(SITE_TEXT, "utf-8")
        found = self.path / "found.jsonl"
        site = str(self.path / "kiln.toml")
        assert main(["replay", str(out or self.out), "--site", site, "--findings", str(found)]) == 0
        return found.read_text()

    def scans(self) -> list[Scan]:
        """Return the scans of the export, one a line."""
        told = [parse_line(line) for line in self.out.read_bytes().splitlines()]
        scans = [found for found in told if isinstance(found, tuple)]
        assert all(len(found) == 1 for found in scans)
        return [found[0] for found in scans]


def live_through(live: Live, clock: SetClock, events: Iterable[Arrival | Tick]) -> None:
    """Let events come as they come to a service, each second with its tick."""
    for event in events:
        while clock.at + 1.0 < event.clock:
            clock.at += 1.0
            live.second()
        clock.at = event.clock
        if isinstance(event, Arrival):
            live.deliver(write_pack(event.scan))
        else:
            live.second()


async def told_live(folder: Folder, events: Iterable[Arrival | Tick], *, ends: bool) -> str:
    """Run the service on events and return its findings as a file would hold them."""
    clock = SetClock()
    async with at_work(folder.data, clock=clock) as (live, _):
        live_through(live, clock, events)
        findings = live.recorder.stored_findings() if await live.recorder.kept() else []
        if ends:
            await live.end_firing()
    return "".join(finding_lines(findings))


@pytest.mark.parametrize("ends", [True, False])
@pytest.mark.parametrize("make_events", [uneven_events, falling_events])
async def test_a_replay_of_an_export_finds_what_the_live_run_found(
    tmp_path: Path, make_events: Callable[[], Iterable[Arrival | Tick]], ends: bool
) -> None:
    """With late, lost and repeated scans, breaks and silence: the same findings, to the byte."""
    folder = Folder(tmp_path)
    live = await told_live(folder, make_events(), ends=ends)
    code = folder.export()

    assert code == 0
    assert live
    assert folder.replayed() == live


async def test_a_replay_finds_the_same_although_the_service_was_restarted(tmp_path: Path) -> None:
    """Half of the firing before a restart, half after: one firing, one export, the same findings."""
    folder, events, clock = Folder(tmp_path), list(falling_events()), SetClock()
    for half in (events[: len(events) // 2], events[len(events) // 2 :]):
        async with at_work(folder.data, clock=clock) as (live, _):
            live_through(live, clock, half)
            assert await live.recorder.kept()
            findings = live.recorder.stored_findings()
    code = folder.export()

    assert code == 0
    assert [f.kind for f in findings] == ["fall"]
    assert folder.replayed() == "".join(finding_lines(findings))


async def test_a_replay_is_told_what_the_live_run_was_told(tmp_path: Path) -> None:
    """Stokes at the side and the closing up of the kiln are in the export, and give the same findings, to the byte."""
    folder, clock = Folder(tmp_path), SetClock()
    events = list(falling_events(minutes=30.0))
    async with at_work(folder.data, clock=clock) as (live, _):
        live_through(live, clock, events[: len(events) // 2])
        await live.enter(Told("a1", EntryKind.STOKED, "side", ago_s=30.0, who="Ada"))
        live_through(live, clock, events[len(events) // 2 : -200])
        await live.enter(Told("a2", EntryKind.CLOSED_UP))
        live_through(live, clock, events[-200:])
        assert await live.recorder.kept()
        findings = live.recorder.stored_findings()
    code = folder.export()

    assert code == 0
    assert [f.kind for f in findings] == ["stoke", "fall", "fall"]
    assert folder.replayed() == "".join(finding_lines(findings))


async def test_an_export_has_one_scan_a_line_without_repeats_and_in_full(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """All that was accepted, in order of arrival, emf as received; the summary counts."""
    folder = Folder(tmp_path)
    await told_live(folder, uneven_events(), ends=True)
    folder.export()
    scans = folder.scans()
    told = capsys.readouterr().err
    sent = [e.scan for e in uneven_events() if isinstance(e, Arrival)]

    assert len(scans) == 334
    assert [s.seq for s in scans if s.node == "shed-1"][20:25] == [21, 22, 23, 24, 20]
    assert all(scan in sent for scan in scans)
    assert told == f"20251124T1600Z: 334 scans written to {folder.out}\n"


async def test_host_lines_come_once_a_second_and_before_each_scan(tmp_path: Path) -> None:
    """The arrival clock never stands for more than a second, and never goes back."""
    folder = Folder(tmp_path)
    await told_live(folder, uneven_events(), ends=True)
    folder.export()
    told = [parse_line(line) for line in folder.out.read_bytes().splitlines()]
    clocks = [tick.clock for tick in told if isinstance(tick, Tick)]

    assert isinstance(told[0], Tick)
    assert all(0.0 < later - earlier <= 1.0 for earlier, later in pairwise(clocks))
    assert clocks[-1] == BEGIN + 300.0


async def test_an_export_works_while_the_service_runs(tmp_path: Path) -> None:
    """What is committed is exported; the writer goes on."""
    folder, clock = Folder(tmp_path), SetClock()
    async with at_work(folder.data, clock=clock) as (live, _):
        live_through(live, clock, (Arrival(shed_1(i, BEGIN + i), BEGIN + i) for i in range(10)))
        assert await live.recorder.kept()
        code = folder.export()
        during = len(folder.scans())
        live_through(live, clock, (Arrival(shed_1(i, BEGIN + i), BEGIN + i) for i in range(10, 20)))
        assert await live.recorder.kept()
        folder.export()

    assert (code, during, len(folder.scans())) == (0, 10, 20)


async def test_a_packed_export_is_the_same_and_repeatable(tmp_path: Path) -> None:
    """The bytes hold neither name nor time of the packing."""
    folder = Folder(tmp_path)
    await told_live(folder, uneven_events(), ends=True)
    one, two = tmp_path / "one.senml.jsonl.gz", tmp_path / "two.senml.jsonl.gz"
    codes = [folder.export(), folder.export(out=one), folder.export(out=two)]

    assert codes == [0, 0, 0]
    assert gzip.decompress(one.read_bytes()) == folder.out.read_bytes()
    assert one.read_bytes() == two.read_bytes()
    assert folder.replayed(one) == folder.replayed()


async def test_the_newest_firing_is_exported_unless_another_is_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A name that is not there is answered with those that are, exit code 2."""
    folder, clock = Folder(tmp_path), SetClock()
    async with at_work(folder.data, clock=clock) as (live, _):
        live_through(live, clock, [Arrival(shed_1(0, BEGIN), BEGIN)])
        await live.end_firing()
        live_through(live, clock, [Arrival(shed_1(600, BEGIN + 600), BEGIN + 600)])
        assert await live.recorder.kept()
    codes = [folder.export()]
    newest = [scan.seq for scan in folder.scans()]
    codes.append(folder.export("--firing", "20251124T1600Z"))
    oldest = [scan.seq for scan in folder.scans()]
    capsys.readouterr()
    codes.append(folder.export("--firing", "19990101T0000Z"))

    assert (newest, oldest, codes) == ([600], [0], [0, 0, 2])
    assert capsys.readouterr().err == (
        f"nightstoke: no firing '19990101T0000Z' in {folder.data}; there are 20251124T1600Z, 20251124T1610Z\n"
    )


async def test_a_damaged_block_is_told_and_the_rest_is_exported(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 4: what was left out is named, what can be read is written."""
    folder, clock = Folder(tmp_path), SetClock()
    async with at_work(folder.data, clock=clock) as (live, _):
        live_through(live, clock, (Arrival(shed_1(i, BEGIN + i), BEGIN + i) for i in range(300)))
        await live.end_firing()
        while live.recorder.counts()["sealed_blocks"] == 0:
            await live.recorder.read(lambda reader: reader.firings())
        live_through(live, clock, [Arrival(shed_1(900, BEGIN + 900), BEGIN + 900)])
        assert await live.recorder.kept()
    database = sqlite3.connect(folder.data / FILE_NAME)
    database.execute("UPDATE block SET payload = zeroblob(length(payload)) WHERE id = 1")
    database.commit()
    database.close()
    code = folder.export("--firing", "20251124T1600Z")
    told = capsys.readouterr().err
    scans = folder.scans()
    newest = folder.export()
    damaged = re.search(r"left out: block 1 \(shed-1, rows 1 to (\d+)\) is damaged: .*restore it from a backup", told)

    assert (code, newest) == (4, 0)
    assert damaged is not None
    assert [scan.seq for scan in scans] == list(range(int(damaged[1]), 300))


@pytest.mark.parametrize("name", ["out.jsonl", "out.csv", "out.senml.jsonl.zip", "out"])
def test_a_name_that_replay_would_not_know_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    """Exit code 2, with the endings that are."""
    code = Folder(tmp_path).export(out=tmp_path / name)

    assert code == 2
    assert "a recording's name ends in .senml.jsonl or .senml.jsonl.gz" in capsys.readouterr().err


def test_a_directory_without_a_store_ends_with_4(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The message says which directory is meant."""
    code = Folder(tmp_path).export()

    assert code == 4
    assert "does not exist; name the data directory that the service writes to" in capsys.readouterr().err


async def test_a_store_without_a_firing_ends_with_4(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing has burned yet."""
    folder = Folder(tmp_path)
    async with at_work(folder.data):
        pass

    assert folder.export() == 4
    assert capsys.readouterr().err == f"nightstoke: {folder.data} holds no firing yet\n"


async def test_what_cannot_be_written_ends_with_2_and_leaves_nothing_half(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A missing folder, or a disk that is full in the middle: the file of before stays, no part is left."""
    folder = Folder(tmp_path)
    await told_live(folder, uneven_events(), ends=True)
    missing = folder.export(out=tmp_path / "no" / "out.senml.jsonl")
    told = capsys.readouterr().err
    folder.out.write_text("of before")

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(export, "export_lines", full)
    code = folder.export()

    assert (missing, code) == (2, 2)
    assert told.endswith("out.senml.jsonl: cannot be written: No such file or directory\n")
    assert capsys.readouterr().err == f"nightstoke: {folder.out}: cannot be written: No space left on device\n"
    assert folder.out.read_text() == "of before"
    assert not folder.out.with_name("out.senml.jsonl.part").exists()


async def test_findings_of_silence_are_found_again_in_a_firing_still_open(tmp_path: Path) -> None:
    """The export goes on to the last finding known: what fell due by time alone falls due in the replay."""
    folder, clock = Folder(tmp_path), SetClock()
    async with at_work(folder.data, clock=clock) as (live, _):
        live_through(live, clock, [Arrival(shed_1(i, BEGIN + i), BEGIN + i) for i in range(30)])
        live_through(live, clock, [Tick(BEGIN + 90.0)])
        assert await live.recorder.kept()
    folder.export()
    found = [json.loads(line) for line in folder.replayed().splitlines()]

    assert [(f["sensor"], f["fault"], f["time"]) for f in found] == [
        ("firebox", "missing", BEGIN + 50.0),
        ("middle", "missing", BEGIN + 50.0),
    ]
