"""A simulated node before the running service: whatever its line does, every scan is stored once in the end."""

import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

from simulator.line.pseudo_terminal import PseudoTerminal
from simulator.line.stream import stream_run
from simulator.script.line_faults import LineFault
from simulator.script.spells import Spell
from tests.peers import Mosquitto
from tests.scripted_run import ScriptedRun
from tests.system.running import Running, until
from tests.system.scans import site_text
from tests.system.stored import export_scans

SPEED = 22.0
SECONDS = 450


def test_a_bad_serial_line_loses_nothing(serve: Callable[..., Running], tmp_path: Path) -> None:
    """F32, F34, F35, F38, F39: losses, doubles, noise, and the port gone for two seconds under another name."""
    hour = 1 / 3600
    spells = [
        Spell(LineFault.LOSS, 10 * hour, 100 * hour, size=0.05),
        Spell(LineFault.TWICE, 30 * hour, 100 * hour),
        Spell(LineFault.GARBAGE, 50 * hour, 300 * hour, size=4.0),
        Spell(LineFault.ABSURD, 50 * hour, 300 * hour, size=4.0),
        Spell(LineFault.REPLUG, 150 * hour, 30 * hour),
    ]
    run = ScriptedRun(*spells, seconds=SECONDS, lit=int(time.time()) - SECONDS)
    terminal = PseudoTerminal(tmp_path / "tty", lambda: False)
    service = serve(site_text(tmp_path / "tty", 1))
    assert terminal.wait_for_host()
    node = threading.Thread(target=stream_run, args=(run, terminal, SPEED))
    node.start()
    until(lambda: not terminal.is_plugged, 20, what="the port gone")
    before = service.accepted
    until(lambda: service.accepted == SECONDS, 40, what="every scan")
    node.join()
    terminal.close(1.0)
    dropped = [line for line in service.ask("/metrics").body.decode().splitlines() if "lines_dropped_total{" in line]

    assert before < 150
    assert sum(float(line.rpartition(" ")[2]) for line in dropped) > 20
    assert service.end() == 0
    assert sorted(s.seq for s in export_scans(tmp_path / "data", tmp_path / "a.senml.jsonl")) == list(range(SECONDS))


def test_a_broker_that_is_killed_loses_nothing(
    serve: Callable[..., Running], mosquitto: Callable[..., Mosquitto], tmp_path: Path
) -> None:
    """F41, A8: the simulator publishes, the broker dies with what it had acknowledged, the node sends it again."""
    broker = mosquitto()
    command = [
        sys.executable, "-m", "simulator", "--mqtt", f"mqtt://127.0.0.1:{broker.port}", "--after-alive",
        "--speed", str(SPEED), "--duration", str(SECONDS / 3600), "--start", str(int(time.time()) - SECONDS),
    ]  # fmt: skip
    site = subprocess.run([*command, "--print-site"], capture_output=True, text=True, check=True).stdout
    service = serve(site)
    until(service.is_well)
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as node:
        assert node.stdout is not None
        assert node.stdout.readline() == f"ready mqtt://127.0.0.1:{broker.port}\n"
        until(lambda: service.accepted > 40, 20, what="the first scans")
        broker.stop(signal.SIGKILL)
        time.sleep(1.0)
        broker.start()
        until(lambda: service.accepted == SECONDS, 45, what="every scan")
        _, told = node.communicate(timeout=20)

    assert node.returncode == 0
    assert f"broker mqtt://127.0.0.1:{broker.port} is gone" in told
    assert told.count("is connected") == 2
