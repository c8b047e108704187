"""`nightstoke check`: every look, well and ill; what is wrong is named with what to do about it."""

import asyncio
import errno
import os
import shutil
import socket
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest

from monitor import check
from monitor.check import (
    Verdict,
    look_at_address,
    look_at_broker,
    look_at_clock,
    look_at_disk,
    look_at_port,
    look_at_sound,
    look_at_store,
)
from monitor.cli import main
from monitor.model import Arrival, Scan
from monitor.site_file import parse_site
from monitor.store.connection import FILE_NAME
from monitor.wire.line import frame_line
from tests.made_up import (
    BEGIN,
    SITE_TEXT,
    BusyNode,
    SetClock,
    at_work,
    deliver,
    made_up_site,
    serial_line,
    shed_1,
    shed_2,
)  # fmt: skip
from tests.peers import Mosquitto, PtyNode, free_port

ONE_NODE = parse_site(SITE_TEXT.replace("shed-2/t1", "shed-1/t3"), "kiln.toml")
SITE = made_up_site()


def looked_at(pty_node: PtyNode, line: Callable[[int], bytes], site: object = SITE, listen_s: float = 0.2) -> Verdict:
    """Return the verdict on a port on which a node writes lines."""
    with BusyNode(pty_node, line):
        verdict, inputs = asyncio.run(look_at_port(site, str(pty_node.link), listen_s))  # type: ignore[arg-type]
    assert verdict.is_well <= bool(inputs)
    return verdict


def both(number: int) -> bytes:
    """Return a scan of each node."""
    return serial_line(shed_1(number, BEGIN + number)) + serial_line(shed_2(number, BEGIN + number))


def test_a_port_that_delivers_all_is_well_at_once(pty_node: PtyNode) -> None:
    """The look ends as soon as every input was heard, long before its time."""
    began = check.host_seconds()
    verdict = looked_at(pty_node, both, listen_s=20.0)

    assert verdict == Verdict(is_well=True, words=f"port {pty_node.link}: delivers shed-1/t1, shed-1/t2, shed-2/t1")
    assert check.host_seconds() - began < 5.0


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (lambda n: serial_line(shed_1(n, BEGIN + n)), "nothing for back (shed-1/t3); it delivers shed-1/t1, shed-1/t2"),
        (
            lambda n: serial_line(Scan("barn", BEGIN + n, shed_2(n, BEGIN).readings[:0], seq=n)),
            "scans without any input came within 0.2 s; is the probe box on, and this its port?",
        ),
        (
            lambda _: frame_line(b'[{"bn":"barn/","bt":1764000000,"n":"t9/temp","u":"Cel","v":20}]'),
            "delivers barn/t9, which no sensor of the site file uses; correct input",
        ),
        (lambda _: b"garbage\n", "broken lines came within 0.2 s; is the probe box on, and this its port?"),
        (lambda _: frame_line(b"{}"), "wrong-type) came within 0.2 s; is the probe box on, and this its port?"),
    ],
)
def test_a_port_that_delivers_something_else_is_told(
    pty_node: PtyNode, line: Callable[[int], bytes], words: str
) -> None:
    """What came is named beside what should have come."""
    verdict = looked_at(pty_node, line, ONE_NODE)

    assert not verdict.is_well
    assert verdict.words.startswith(f"port {pty_node.link}: ")
    assert words in verdict.words


def test_a_silent_port_is_told(pty_node: PtyNode) -> None:
    """Nothing at all came."""
    verdict, inputs = asyncio.run(look_at_port(SITE, str(pty_node.link), 0.2))

    assert (verdict.is_well, inputs) == (False, set())
    assert verdict.words == (
        f"port {pty_node.link}: nothing came within 0.2 s; is the probe box on, and this its port?"
    )


def test_a_port_that_is_not_there_is_told(tmp_path: Path) -> None:
    """In the words of the source, which say what to do."""
    verdict, _ = asyncio.run(look_at_port(SITE, str(tmp_path / "nothing"), 0.2))

    assert not verdict.is_well
    assert "is not there: plug the node in, or correct `device` in kiln.toml" in verdict.words


def ran(
    tmp_path: Path, site: str, capsys: pytest.CaptureFixture[str], *more: str, tone: bool = False
) -> tuple[int, list[str]]:
    """Run the command on a site text; return its code and lines."""
    (tmp_path / "kiln.toml").write_text(site, "utf-8")
    words = ["--site", str(tmp_path / "kiln.toml"), "--data", str(tmp_path / "data"), "--port", str(free_port())]
    code = main(["check", *words, *([] if tone else ["--no-tone"]), "--listen", "0.2", *more])
    return code, capsys.readouterr().out.splitlines()


@pytest.fixture
def enough(monkeypatch: pytest.MonkeyPatch) -> None:
    """Take the disk of the test machine as large enough, and its clock as kept."""
    monkeypatch.setattr(check, "LEAST_FREE_BYTES", 0)
    monkeypatch.setattr(check, "SLOW_SYNC_S", 60.0)
    monkeypatch.setattr(check, "TIME_SERVICE_FOLDER", Path("/nowhere"))


def serial_site(*devices: Path) -> str:
    """Return the made-up site with serial sources."""
    return SITE_TEXT + "".join(f'[[source]]\nkind = "serial"\ndevice = "{device}"\n' for device in devices)


@pytest.mark.usefixtures("enough")
def test_all_well_ends_with_0_and_leaves_nothing_behind(
    tmp_path: Path, pty_node: PtyNode, capsys: pytest.CaptureFixture[str]
) -> None:
    """A line for each look, all `ok`; neither data directory nor file is made."""
    with BusyNode(pty_node, both):
        code, lines = ran(tmp_path, serial_site(pty_node.link), capsys)

    assert code == 0
    assert [line.split()[:2] for line in lines] == [
        ["ok", "site"], ["ok", "port"], ["ok", "disk"], ["ok", "data"], ["ok", "clock:"], ["ok", "address"]
    ]  # fmt: skip
    assert sorted(path.name for path in tmp_path.iterdir()) == ["kiln.toml", "node"]


@pytest.mark.usefixtures("enough")
def test_a_node_on_no_port_is_told(tmp_path: Path, pty_node: PtyNode, capsys: pytest.CaptureFixture[str]) -> None:
    """The port is well for its own node; the sensors of the other are named. Exit code 4."""
    with BusyNode(pty_node, lambda n: serial_line(shed_1(n, BEGIN + n))):
        code, lines = ran(tmp_path, serial_site(pty_node.link), capsys)

    assert code == 4
    assert lines[1] == f"ok    port {pty_node.link}: delivers shed-1/t1, shed-1/t2"
    assert lines[2] == (
        "WRONG no port delivers back (shed-2/t1): is that probe box on? Correct input or add its [[source]]"
    )


@pytest.mark.usefixtures("enough")
def test_sources_that_cannot_be_listened_to_are_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], mosquitto: Callable[..., Mosquitto]
) -> None:
    """A broker is tried; a kind that this version does not serve is wrong; no source at all is wrong."""
    broker = mosquitto()
    text = f'{SITE_TEXT}[[source]]\nkind = "mqtt"\n[[source]]\nkind = "spi"\n[broker]\nhost = "127.0.0.1"\n'
    code, lines = ran(tmp_path, text + f"port = {broker.port}\n", capsys)
    without, bare = ran(tmp_path, SITE_TEXT, capsys)

    assert (code, without) == (4, 4)
    assert lines[1] == f"ok    broker 127.0.0.1:{broker.port}: answers (user and password were not tried)"
    assert lines[2] == "WRONG source[2]: 'spi' is not served by this version yet; use 'serial' or 'mqtt'"
    assert bare[1] == "WRONG the site file names no [[source]]: nothing would be measured; add one"


@pytest.mark.usefixtures("enough")
def test_the_tone_is_played_unless_it_is_left_out(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What keeps it from sounding is told, with the way to go without."""
    answers = iter([None, "no sound player found"])
    monkeypatch.setattr(check, "play_tone", lambda: next(answers))
    _, lines = ran(tmp_path, SITE_TEXT, capsys, tone=True)
    silent = look_at_sound()

    assert lines[-1] == "ok    sound of this machine: the urgent sound was played for 10 s; did you hear it?"
    assert silent == Verdict(
        is_well=False, words="sound of this machine: no sound player found (or leave it out with --no-tone)"
    )


def test_a_broker_that_does_not_answer_is_told() -> None:
    """Refused, or a name that nobody knows."""
    port = free_port()
    verdict = look_at_broker("127.0.0.1", port)

    assert verdict == Verdict(
        is_well=False,
        words=f"broker 127.0.0.1:{port}: Connection refused; is it running, and its address right?",
    )


def test_a_site_file_with_faults_ends_with_2(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing else is looked at before it is right."""
    code, lines = ran(tmp_path, "[kiln]\n", capsys)

    assert (code, lines) == (2, [])


def test_a_full_disk_is_told(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Free space in MB, and how much is a good reserve."""
    usage = shutil.disk_usage(tmp_path)._replace(free=123_000_000)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage)

    assert look_at_disk(tmp_path / "not" / "yet") == Verdict(
        is_well=False,
        words=f"disk of {tmp_path / 'not' / 'yet'}: 123 MB free; free some, 500 MB are a good reserve",
    )


@pytest.mark.usefixtures("enough")
def test_a_directory_without_permission_is_told(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The system's own reason, and what to do."""

    def denied(_: Path) -> float:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    monkeypatch.setattr(check, "_time_synced_write", denied)

    assert look_at_disk(tmp_path) == Verdict(
        is_well=False, words=f"data directory {tmp_path}: Permission denied; choose another or its permissions"
    )


def test_a_slow_disk_is_told(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A commit a second needs a disk that syncs within one."""
    monkeypatch.setattr(check, "LEAST_FREE_BYTES", 0)
    monkeypatch.setattr(check, "SLOW_SYNC_S", -1.0)
    verdict = look_at_disk(tmp_path)

    assert not verdict.is_well
    assert verdict.words.endswith("s; use a faster one")


@pytest.mark.usefixtures("enough")
def test_a_good_disk_is_measured(tmp_path: Path) -> None:
    """Free space and the time of one synced write; nothing stays there."""
    verdict = look_at_disk(tmp_path)

    assert verdict.is_well
    assert " GB free, a synced write takes " in verdict.words
    assert list(tmp_path.iterdir()) == []


async def test_the_store_is_told_with_the_firing_that_would_go_on(tmp_path: Path, quick_commits: None) -> None:
    """Not there yet, empty, one open, one ended."""
    data, clock = tmp_path / "data", SetClock()
    nothing = look_at_store(data)
    data.mkdir()
    empty = look_at_store(data)
    async with at_work(data, clock=clock) as (live, _):
        deliver(live, clock, Arrival(shed_1(0, BEGIN), BEGIN))
        assert await live.recorder.kept()
        open_one = look_at_store(data)
        await live.end_firing()
        ended = look_at_store(data)

    assert [v.is_well for v in (nothing, empty, open_one, ended)] == [True] * 4
    assert nothing.words == f"data directory {data}: not there yet; the service will make it"
    assert empty.words == f"data directory {data}: no firing yet"
    assert open_one.words == f"data directory {data}: 1 firings, 20251124T1600Z is open and would go on"
    assert ended.words == f"data directory {data}: 1 firings"


def test_a_damaged_store_is_told(tmp_path: Path) -> None:
    """The service would move it aside; better to know before."""
    (tmp_path / FILE_NAME).write_bytes(b"no database" * 1000)
    verdict = look_at_store(tmp_path)

    assert not verdict.is_well
    assert "must be moved aside or restored" in verdict.words


async def test_a_store_of_a_newer_version_is_told(tmp_path: Path) -> None:
    """The service would refuse it; it is not an empty one."""
    async with at_work(tmp_path):
        pass
    database = sqlite3.connect(tmp_path / FILE_NAME)
    (number,) = database.execute("PRAGMA user_version").fetchone()
    database.execute(f"PRAGMA user_version = {number + 1}")
    database.commit()
    database.close()
    verdict = look_at_store(tmp_path)

    assert not verdict.is_well
    assert "newer" in verdict.words


@pytest.fixture
def time_service(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return the folder of a time service that has not set the clock yet."""
    folder = tmp_path / "timesync"
    folder.mkdir()
    monkeypatch.setattr(check, "TIME_SERVICE_FOLDER", folder)
    monkeypatch.setattr(check, "SYNCED_FILE", folder / "synchronized")
    monkeypatch.setattr(check, "wall_seconds", lambda: 1_790_000_000.0)
    return folder


def test_a_clock_kept_by_the_time_service_is_well(tmp_path: Path, time_service: Path) -> None:
    """And one without a service is to be compared with a watch."""
    waiting = look_at_clock(tmp_path / "data")
    (time_service / "synchronized").touch()
    kept = look_at_clock(tmp_path / "data")
    (time_service / "synchronized").unlink()
    time_service.rmdir()
    alone = look_at_clock(tmp_path / "data")

    assert [v.is_well for v in (waiting, kept, alone)] == [False, True, True]
    assert waiting.words == "clock: says 2026-09-21 14:13:20 UTC, not yet set by the time service; wait or set it"
    assert kept.words == "clock: 2026-09-21 14:13:20 UTC, kept by the time service"
    assert alone.words.endswith("no time service seen: compare it with a watch")


@pytest.mark.parametrize(
    ("now", "words"),
    [
        (0.0, "clock: says 1970-01-01 00:00:00 UTC, so it was never set; set it, or give it a battery"),
        (1_790_000_000.0, "clock: says 2026-09-21 14:13:20 UTC, before the newest record; set it"),
    ],
)
def test_a_clock_that_cannot_be_right_is_told(
    tmp_path: Path, time_service: Path, monkeypatch: pytest.MonkeyPatch, now: float, words: str
) -> None:
    """Before this program was, or before what is stored."""
    data = tmp_path / "data"
    data.mkdir()
    (data / FILE_NAME).touch()
    os.utime(data / FILE_NAME, (now + 3600.0, now + 3600.0))
    monkeypatch.setattr(check, "wall_seconds", lambda: now)

    assert look_at_clock(data) == Verdict(is_well=False, words=words)


def test_an_address_taken_is_told() -> None:
    """By the service itself, most likely; a free one is well."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
        taken = look_at_address("127.0.0.1", port)
    free = look_at_address("127.0.0.1", port)

    assert taken == Verdict(
        is_well=False,
        words=f"address 127.0.0.1:{port}: Address already in use; "
        "is the service running already? If not, choose another --port",
    )
    assert free == Verdict(is_well=True, words=f"address 127.0.0.1:{port}: free")


@pytest.mark.parametrize("host", ["192.0.2.1", "2001:db8::1"])  # documentation addresses of RFC 5737 and RFC 3849
def test_an_address_of_another_machine_is_told(host: str) -> None:
    """Not as one in use."""
    verdict = look_at_address(host, 0)

    assert not verdict.is_well
    assert verdict.words.endswith("use 127.0.0.1 or an address of this machine")


def test_a_port_for_the_system_only_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ports below 1024 need rights that the service should not have."""

    def denied(*_: object) -> None:
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(socket.socket, "bind", denied)

    assert look_at_address("127.0.0.1", 80).words.endswith("Permission denied; choose a --port from 1024 on")
