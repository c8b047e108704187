"""The host's voice, listened to: what the sounder plays while the service works, is killed, stopped, stuck or full.

A script in the place of the player keeps each WAV with its time: these are the ears. What was heard is told by the
strongest tone in the file, never by its name.
"""

import os
import signal
import subprocess
import sys
import time
import wave
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from tests.peers import PtyNode
from tests.system.running import Running, until
from tests.system.scans import line, pack, scan_line, site_text
from tests.system.test_full_disk import SmallDisk, small_disk

__all__ = ["small_disk"]
pytestmark = pytest.mark.alone

WITHIN_S = 30.0
"""So soon a dead service must be heard."""
EARS = """#!/bin/sh
cp "$1" "{folder}/new" && mv "{folder}/new" "{folder}/$(date +%s.%N).wav"
"""
QUIET_SITE = "[crew]\nsign_of_life = false\n"


class Ears:
    """What the sounder has played so far."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder / "ears"
        self._folder.mkdir()
        self.player = folder / "player"
        self.player.write_text(EARS.format(folder=self._folder))
        self.player.chmod(0o755)

    def hertz_since(self, moment: float) -> list[float]:
        """Return the strongest tone in the first half second of each sound that began since `moment`, in order."""
        found = sorted(self._folder.glob("*.wav"), key=lambda path: float(path.stem))
        return [strongest_hertz(path) for path in found if float(path.stem) >= moment]

    def hear_alarm(self, since: float, within_s: float = WITHIN_S) -> None:
        """Wait until the first priority is heard: 660 Hz, then 880."""
        until(lambda: 660.0 in self.hertz_since(since), within_s, what="the alarm of the first priority")


def strongest_hertz(path: Path) -> float:
    """Return the strongest frequency of the first 0.4 s of a WAV, to the nearest 10 Hz."""
    with wave.open(str(path)) as sound:
        rate = sound.getframerate()
        samples = np.frombuffer(sound.readframes(round(0.4 * rate)), dtype="<i2").astype(float)
    return round(float(np.abs(np.fft.rfft(samples)).argmax() * rate / len(samples)), -1)


@pytest.fixture
def ears(tmp_path: Path) -> Ears:
    """Ears that heard nothing yet."""
    return Ears(tmp_path)


@pytest.fixture
def sounder(started: Callable[..., Running], ears: Ears, tmp_path: Path) -> Callable[[Running], Running]:
    """Return a function that starts a sounder beside a service and returns once the service knows it."""

    def start(service: Running) -> Running:
        voice = started("sound", "--service", service.address, "--player", ears.player, "--memory", tmp_path / "memory")
        until(lambda: service.health()[1]["voices"] == {"host": "working"}, what="the sounder's first question")
        return voice

    return start


@pytest.fixture
def firing(serve: Callable[..., Running], pty_node: PtyNode) -> Iterator[Running]:
    """Serve a kiln that sends scans of 800 degC: a firing is open."""
    service = serve(site_text(pty_node.link) + QUIET_SITE)
    send(pty_node, range(20))
    until(lambda: service.accepted >= 20)
    yield service
    if service.process.poll() is None:
        os.kill(service.process.pid, signal.SIGCONT)


def send(node: PtyNode, numbers: range) -> None:
    """Send scans of a calm kiln, a second apart and up to now."""
    base = time.time() - numbers.stop
    node.do("write", hex=b"".join(scan_line(seq, base + seq) for seq in numbers).hex())


def armed(memory: Path) -> bool:
    """Tell whether the sounder has noted that a firing is open."""
    return memory.exists() and memory.read_text() == "armed\n"


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGSTOP])
def test_a_service_that_is_killed_or_stopped_is_heard(
    firing: Running, sounder: Callable[[Running], Running], ears: Ears, tmp_path: Path, number: signal.Signals
) -> None:
    """Within half a minute, by a process that did not die with it; SIGUSR1 makes it quiet for a while."""
    voice = sounder(firing)
    until(lambda: armed(tmp_path / "memory"), what="the memory of an open firing")
    moment = time.time()
    assert ears.hertz_since(0.0) == []
    os.kill(firing.process.pid, number)

    ears.hear_alarm(moment)
    assert time.time() - moment <= WITHIN_S
    voice.process.send_signal(signal.SIGUSR1)
    time.sleep(1.0)
    hushed = time.time()
    time.sleep(11.0)
    assert ears.hertz_since(hushed) == []


def test_a_sounder_that_starts_beside_a_dead_service_is_heard(
    started: Callable[..., Running], ears: Ears, tmp_path: Path
) -> None:
    """It remembers that a firing was open; one that remembers none wakes nobody."""
    (tmp_path / "memory").write_text("armed\n")
    moment = time.time()
    for memory in ("memory", "other"):
        started("sound", "--service", "http://127.0.0.1:9", "--player", ears.player, "--memory", tmp_path / memory)
    ears.hear_alarm(moment)
    assert len(ears.hertz_since(moment)) == 1


@pytest.mark.parametrize("how", ["stall", "fail"])
def test_a_service_that_is_stuck_is_heard(
    ears: Ears, pty_node: PtyNode, tmp_path: Path, started: Callable[..., Running], how: str
) -> None:
    """Its loop stands still for a minute, or what each second asks fails again and again: its port answers or hangs."""
    site, spoil = tmp_path / "kiln.toml", tmp_path / "spoil"
    site.write_text(site_text(pty_node.link) + QUIET_SITE)
    arguments = ["serve", "--site", site, "--data", tmp_path / "data", "--port", "0"]
    command = [sys.executable, "-m", "tests.system.stalling", *map(str, arguments)]
    environment = {**os.environ, "NIGHTSTOKE_SPOIL": str(spoil)}
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=environment
    ) as service:
        try:
            assert service.stdout is not None
            address = service.stdout.readline().split(" at ")[1].strip()
            send(pty_node, range(20))
            started("sound", "--service", address, "--player", ears.player, "--memory", tmp_path / "memory")
            until(lambda: armed(tmp_path / "memory"), what="the memory of an open firing")
            moment = time.time()
            spoil.write_text(how)
            ears.hear_alarm(moment)
            time.sleep(12.0)
            assert ears.hertz_since(moment)[1:], "it sounded once and fell silent"
        finally:
            service.kill()


def test_a_full_disk_does_not_keep_an_alarm_silent(
    serve: Callable[..., Running],
    pty_node: PtyNode,
    started: Callable[..., Running],
    ears: Ears,
    small_disk: SmallDisk,
) -> None:
    """Nothing can be stored, no file can be made, a wire breaks, and the alarm is heard all the same."""
    service = serve(site_text(pty_node.link) + QUIET_SITE, data=small_disk.folder / "data")
    send(pty_node, range(20))
    until(lambda: service.accepted >= 20)
    environment = {**os.environ, "TMPDIR": str(small_disk.folder)}
    memory = small_disk.folder / "memory"
    words = ["sound", "--service", service.address, "--player", ears.player, "--memory", memory]
    small_disk.fill()
    started(*words, environment=environment)
    until(lambda: service.health()[1]["voices"] == {"host": "working"}, what="the sounder's first question")
    moment, at = time.time(), time.time()
    for seq in range(20, 60):
        pty_node.do("write", hex=broken_wire(seq, at + seq - 20).hex())

    ears.hear_alarm(moment, 60.0)


def test_a_silence_asked_for_at_a_panel_is_one(
    firing: Running, sounder: Callable[[Running], Running], ears: Ears, pty_node: PtyNode
) -> None:
    """An alarm of the first priority is heard from the host, and nothing of it once somebody silenced it."""
    sounder(firing)
    moment, at = time.time(), time.time()
    for seq in range(20, 60):
        pty_node.do("write", hex=broken_wire(seq, at + seq - 20).hex())
    ears.hear_alarm(moment, 60.0)
    assert firing.ask("/api/silence", "POST", {"who": "Ana"}).status == 200
    time.sleep(4.0)
    silenced = time.time()
    time.sleep(11.0)

    assert ears.hertz_since(silenced) == []


def broken_wire(seq: int, at: float) -> bytes:
    """Return the line of a scan whose second input is open: the guide and the only probe of the chamber."""
    payload = pack(seq, at, [0.033, 0.033])
    records = payload.replace(b'"n":"t1/emf","u":"V","v":0.033', b'"n":"t1/fault","vs":"open"')
    assert records != payload
    return line(records)


def test_an_orderly_end_of_the_firing_lets_everybody_sleep(
    firing: Running, sounder: Callable[[Running], Running], ears: Ears, tmp_path: Path
) -> None:
    """Without a firing nobody is woken when the service is stopped."""
    sounder(firing)
    until(lambda: armed(tmp_path / "memory"))
    assert firing.ask("/api/firing/end", "POST").status == 200
    until(lambda: not armed(tmp_path / "memory"), what="the memory of an ended firing")
    moment = time.time()
    firing.process.send_signal(signal.SIGTERM)
    firing.process.wait(timeout=10.0)
    time.sleep(15.0)

    assert ears.hertz_since(moment) == []
