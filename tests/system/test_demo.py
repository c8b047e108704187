"""`nightstoke demo`: the whole service on a simulated kiln, from the first page to a fall, and nothing left behind."""

import contextlib
import os
import signal
from collections.abc import Callable
from pathlib import Path
from typing import Any

import psutil  # type: ignore[import-untyped]
import pytest

from tests.system.running import END_LIMIT_S, Running, command, hear, until
from tests.system.stored import replay_findings, stored_findings

FALL_LIMIT_S = 60.0
"""Real seconds within which the doze of the night watch, 62 min after going live, must show at this speed."""


def descendants(running: Running) -> list[psutil.Process]:
    """Return the processes that a command started."""
    return list(psutil.Process(running.process.pid).children(recursive=True))


def demo(started: Callable[..., Running], tmp_path: Path, *arguments: str | Path) -> Running:
    """Start a demo whose temporary folders lie in the test's own folder."""
    (tmp_path / "tmp").mkdir()
    environment = {**os.environ, "TMPDIR": str(tmp_path / "tmp")}
    return started("demo", "--port", "0", *arguments, environment=environment).ready()


def findings_of(running: Running, kind: str) -> list[dict[str, Any]]:
    """Return the stored findings of one kind."""
    return [finding for finding in running.ask("/api/findings").told if finding["kind"] == kind]


def urgent_alarms(service: Running) -> list[str]:
    """Return the rows of the active alarms of priority 1."""
    alarms = service.ask("/api/snapshot").told["alarms"]
    return [alarm["row"] for alarm in alarms if alarm["active"] and alarm["priority"] == 1]


def test_the_night_watch_dozes_and_the_demo_alarms(started: Callable[..., Running], tmp_path: Path) -> None:
    """Marked TEST, alarms at the fall; exports while it runs and after replay to what was stored, byte for byte."""
    data, site = tmp_path / "kept", tmp_path / "kiln.toml"
    running, after = tmp_path / "running.senml.jsonl", tmp_path / "after.senml.jsonl.gz"
    service = demo(started, tmp_path, "--speed", "600", "--lead-in", "3", "--data", data)
    with service.panel() as panel:
        snapshot = hear(panel)
    until(lambda: findings_of(service, "fall"), FALL_LIMIT_S, what="a fall")
    urgent = until(lambda: urgent_alarms(service), what="an alarm for it")
    seen = service.ask("/api/snapshot").told
    early = stored_findings(data)
    exported = command("export", "--data", data, running)
    outlook = service.ask("/api/outlook?celsius=1200&cone=6")
    status, words = service.health()
    children = descendants(service)
    code = service.end()
    final = stored_findings(data)
    export_after = command("export", "--data", data, after)
    export_site(data, site)

    assert outlook.status == 200
    assert [s["sensor"] for s in outlook.told["sensors"] if s["wanted_at"]] == [s["id"] for s in snapshot["sensors"]]
    assert code == 0
    assert snapshot["test"] == words["test"] == "simulator"
    assert snapshot["speed"] == 600.0
    assert status == 200
    assert service.out == [f"Nightstoke watches Demo kiln at {service.address}\n"]
    assert "TEST on a simulated kiln" in service.err[0]
    assert {value["quality"] for value in seen["values"]} == {"C"}
    assert urgent == ["temperature-falling"]
    assert exported.returncode == export_after.returncode == 0
    assert b'"kind": "fall", "state": "begin"' in early
    replayed = replay_findings(running, site)
    assert replayed.startswith(early)
    assert final.startswith(replayed)
    assert replay_findings(after, site) == final
    assert_nothing_left(children, tmp_path / "tmp")


def export_site(data: Path, out: Path) -> None:
    """Write the site file that the demo kept with its firing."""
    import sqlite3

    with contextlib.closing(sqlite3.connect(f"file:{data}/nightstoke.sqlite3?mode=ro", uri=True)) as connection:
        out.write_text(connection.execute("SELECT site FROM firing").fetchone()[0], "utf-8")


def assert_nothing_left(children: list[psutil.Process], temporary: Path) -> None:
    """Check that a command left no process and no temporary folder."""
    assert children
    _, alive = psutil.wait_procs(children, timeout=END_LIMIT_S)
    assert not alive
    assert list(temporary.iterdir()) == []


@pytest.mark.parametrize("sent", [signal.SIGTERM, signal.SIGINT])
def test_the_demo_leaves_nothing_behind(started: Callable[..., Running], tmp_path: Path, sent: signal.Signals) -> None:
    """Ended within 5 s with code 0: no process, no temporary folder, and the record gone that nobody asked to keep."""
    service = demo(started, tmp_path, "--speed", "60", "--lead-in", "0.5", "--scenario", "steady", "--from", "climb")
    until(lambda: service.accepted > 200)
    children = descendants(service)
    (folder,) = (tmp_path / "tmp").iterdir()
    held = {path.name for path in folder.iterdir()}

    code = service.end(sent)

    assert code == 0
    assert held == {"data", "kiln-line", "training"}
    assert_nothing_left(children, tmp_path / "tmp")
    assert [line for line in service.err[1:] if not line.startswith("nightstoke-sim: ")] == []


def test_a_demo_that_cannot_be_is_told(tmp_path: Path) -> None:
    """An unknown scenario: exit code 2 and the scenarios that there are."""
    done = command("demo", "--port", "0", "--scenario", "barbecue")

    assert done.returncode == 2
    assert "no scenario 'barbecue'; choose one of steady, night-watch" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_demo_ends_with_its_simulator(started: Callable[..., Running], tmp_path: Path) -> None:
    """The simulator dies: the demo says so and ends by itself, in order."""
    service = demo(started, tmp_path, "--speed", "60", "--lead-in", "0", "--scenario", "steady")
    until(lambda: service.accepted > 0)
    children = descendants(service)
    for child in children:
        child.kill()

    service.process.wait(END_LIMIT_S)

    assert service.process.returncode == 0
    assert_nothing_left(children, tmp_path / "tmp")
    assert "The simulated firing has ended" in "".join(service.err)
