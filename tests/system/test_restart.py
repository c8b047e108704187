"""A service that is killed goes on in the same firing, and what it said was kept is kept."""

import random
import re
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.peers import PtyNode
from tests.system.running import Running, command, until
from tests.system.scans import BOOT, scan_line, site_text
from tests.system.stored import export_scans, replay_findings, stored_findings

KILLS = 3
SCANS_A_TURN = 1000
SCANS_AT_ONCE = 12


class LineNode:
    """A node that sends scans, hears `alive`, and after a silence sends again from the first unreported scan."""

    def __init__(self, terminal: PtyNode) -> None:
        self._terminal = terminal
        self._heard = ""
        self._base = int(time.time())
        self.sent = 0
        self.known_kept = -1
        """The highest scan number the service ever said is on disk."""

    def send(self, count: int = 1) -> None:
        """Send the next scans, a kiln second apart."""
        self._write(range(self.sent, self.sent + count))
        self.sent += count

    def send_again(self) -> None:
        """Send everything that was not reported, as a node does once its host stands still."""
        self._write(range(self.known_kept + 1, self.sent))

    def time_of(self, seq: int) -> float:
        """Return when scan `seq` was taken."""
        return float(self._base + seq)

    def listen(self) -> int:
        """Take in what the host wrote; return the highest scan it reported."""
        while word := self._terminal.do("read", timeout_s=0.0):
            self._heard += word
        whole, _, self._heard = self._heard.rpartition("\n")
        for boot, seq in re.findall(r"^alive (\S+) (\d+)$", whole, re.MULTILINE):
            if boot == BOOT:
                self.known_kept = max(self.known_kept, int(seq))
        return self.known_kept

    def hears_progress(self) -> bool:
        """Tell whether the host reports more than before."""
        return self.known_kept < self.listen()

    def _write(self, numbers: range) -> None:
        lines = b"".join(scan_line(seq, self.time_of(seq)) for seq in numbers)
        self._terminal.do("write", hex=lines.hex())


def test_what_was_acknowledged_survives_every_kill(
    serve: Callable[..., Running], pty_node: PtyNode, tmp_path: Path
) -> None:
    """Killed at random moments: no scan reported kept is missing, none is there twice, the firing goes on."""
    rng = random.Random(20261124)
    node = LineNode(pty_node)
    site, recording = site_text(pty_node.link), tmp_path / "night.senml.jsonl"
    firings = set()
    service = serve(site)
    for _ in range(KILLS):
        until(service.is_well)
        node.send_again()
        for _ in range(0, SCANS_A_TURN, SCANS_AT_ONCE):
            node.send(SCANS_AT_ONCE)
            node.listen()
        until(node.hears_progress, what="progress of alive")
        firings.add(service.health()[1]["firing"])
        for _ in range(rng.randrange(1, 40)):
            node.send()
            time.sleep(rng.random() * 0.02)  # the moment of the kill is what is drawn here
        service.kill()
        node.listen()
        stored = export_scans(tmp_path / "data", recording)
        kept = {scan.seq for scan in stored}

        assert kept >= set(range(node.known_kept + 1))
        assert len(stored) == len(kept)
        assert all(scan.time == node.time_of(scan.seq) for scan in stored)
        service = serve(site)
    node.send_again()
    until(lambda: node.listen() == node.sent - 1, what="everything reported kept")

    assert service.end() == 0
    assert [s.seq for s in export_scans(tmp_path / "data", recording)] == list(range(node.sent))
    assert len(firings) == 1
    assert firings == {
        line.split()[0] for line in command("firing", "list", "--data", tmp_path / "data").stdout.splitlines()
    }
    assert b'"kind": "fall", "state": "begin"' in (findings := stored_findings(tmp_path / "data"))
    assert replay_findings(recording, tmp_path / "kiln.toml") == findings


def test_repeats_sent_again_are_dropped(serve: Callable[..., Running], pty_node: PtyNode, tmp_path: Path) -> None:
    """Each scan twice, then all of them once more after an orderly restart: stored once, counted as repeats."""
    node = LineNode(pty_node)
    service = serve(site_text(pty_node.link))
    until(service.is_well)
    node.send(100)
    node.send_again()
    until(lambda: service.measure('nightstoke_scans_total{kind="repeats"}') == 100)
    firing = service.health()[1]["firing"]
    assert service.end() == 0
    service = serve(site_text(pty_node.link))
    until(service.is_well)
    resumed = service.health()[1]["firing"]
    node.send_again()
    until(lambda: service.measure('nightstoke_scans_total{kind="repeats"}') >= 100)

    assert service.accepted == 0
    assert firing == resumed
    assert service.end() == 0
    assert len(export_scans(tmp_path / "data", tmp_path / "night.senml.jsonl")) == 100


def test_an_acknowledged_alarm_outlives_a_kill(serve: Callable[..., Running], pty_node: PtyNode) -> None:
    """204 means that it is on disk: after SIGKILL the alarm is there and seen, and nothing was found a second time."""
    node = LineNode(pty_node)
    service = serve(site_text(pty_node.link))
    until(service.is_well)
    for _ in range(54):
        node.send(50)
    until(lambda: service.accepted == node.sent)
    until(lambda: alarms_of(service))
    (key,) = {alarm["key"] for alarm in alarms_of(service)}
    answer = service.ask(f"/api/alarms/{key}/seen", "POST", {"who": "night watch"})
    service.kill()
    service = serve(site_text(pty_node.link))
    alarms = alarms_of(service)
    findings = service.ask("/api/findings").told

    assert answer.status == 204
    assert [(a["key"], a["active"], a["acked"], a["acked_by"]) for a in alarms] == [(key, True, True, "night watch")]
    assert len({(f["kind"], f["state"], f["sensor"], f["time"]) for f in findings}) == len(findings) > 0
    until(service.is_well)
    node.listen()
    node.send_again()
    until(lambda: node.listen() == node.sent - 1)
    assert service.ask("/api/findings").told[: len(findings)] == findings


def alarms_of(service: Running) -> list[dict[str, Any]]:
    """Return the falls among the alarms on show."""
    return [a for a in service.ask("/api/snapshot").told["alarms"] if a["row"] == "temperature-falling"]
