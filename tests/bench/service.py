"""Measure the whole running service: `python tests/bench/service.py --minutes 10`.

`nightstoke serve` as a process of its own reads 12 inputs once a second from a node in another process, on a real
pseudo-terminal, with one panel connected. CPU is user and system time of the service over wall time, from the first
scan after the warm-up to the end; memory is what the system counts as resident then, and at most. "To the panel" is
from just before the last byte of a scan's line is written to the moment the panel has the message with that
scan's temperatures; "to the disk" from the same moment to the node's reading that it is committed (`alive`). All clocks
are the system's monotonic one. The second column is the same with a broker that everything is published to, the third
with https, each for a shorter time. The bare import of what the service stands on is measured in the same run.
"""

import argparse
import contextlib
import json
import os
import signal
import ssl
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

import numpy as np
import psutil  # type: ignore[import-untyped]
from line_node import FIRST_C, INPUTS, RISE_C
from websockets.exceptions import ConnectionClosed
from websockets.sync.client import connect

from tests.certificates import write_pair
from tests.peers import Mosquitto

WARM_UP_S = 5
GOAL_CPU, GOAL_MB, GOAL_MS = 3.0, 80.0, 10.0
MB = 1e6
BARE = "import fastapi, uvicorn, numpy; print(open('/proc/self/status').read())"
PLACES = ("firebox", "front", "middle", "back", "flue")


@dataclass(frozen=True, slots=True)
class Measured:
    """What one run gave; times in seconds, memory in bytes, CPU in percent of one core."""

    scans: int
    cpu: float
    resident: int
    resident_most: int
    to_panel_s: list[float]
    to_disk_s: list[float]
    unseen: int
    health: int


def site_text(device: Path, broker_port: int | None) -> str:
    """Return the site file of twelve type-K sensors on one port."""
    text = f'[kiln]\nname = "Bench kiln"\n[[source]]\nkind = "serial"\ndevice = "{device}"\n'
    for number in range(1, INPUTS + 1):
        place = PLACES[number % len(PLACES)]
        text += f'[[sensor]]\nid = "s{number}"\ninput = "bench/t{number}"\ntype = "K"\nplace = "{place}"\n'
    text += "[plan]\npoints = [[0, 1100], [24, 1300]]\n"
    return text + ("" if broker_port is None else f'[broker]\nhost = "127.0.0.1"\nport = {broker_port}\n')


@contextlib.contextmanager
def processes(
    folder: Path, scans: int, broker_port: int | None, pair: tuple[Path, Path] | None
) -> Iterator[tuple[subprocess.Popen[str], ...]]:
    """Start node and service; end both whatever happens."""
    link, site = folder / "node", folder / "kiln.toml"
    site.write_text(site_text(link, broker_port), "utf-8")
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True}
    beside = str(Path(__file__).with_name("line_node.py"))
    node = subprocess.Popen([sys.executable, beside, str(link), str(scans)], **pipes)  # type: ignore[call-overload]
    service = None
    try:
        assert node.stdout.readline() == "ready\n"
        command = [sys.executable, "-m", "monitor", "serve", "--site", str(site), "--data", str(folder / "data")]
        command += [] if pair is None else ["--certificate", str(pair[0]), "--key", str(pair[1])]
        service = subprocess.Popen([*command, "--port", "0"], stdout=subprocess.PIPE, text=True)
        yield node, service
    finally:
        if service is not None:
            service.send_signal(signal.SIGTERM)
            service.communicate(timeout=10)
        node.kill()
        node.communicate()


class Panel(threading.Thread):
    """A panel that notes when it has which scan."""

    def __init__(self, address: str, trust: ssl.SSLContext | None) -> None:
        super().__init__(daemon=True)
        self.seen: dict[int, float] = {}
        scheme = "ws" if trust is None else "wss"
        self._link = connect(f"{scheme}://{urlsplit(address).netloc}/live", ssl=trust, legacy=True)  # type: ignore[call-arg]
        self._link.send('{"kind":"hello"}')

    def run(self) -> None:
        """Listen until the service ends or the link is closed."""
        with contextlib.suppress(ConnectionClosed):
            for text in self._link:
                at = time.monotonic()
                for value in json.loads(text).get("values", ()):
                    if value["sensor"] == "s1" and value["celsius"] is not None:
                        self.seen.setdefault(round((value["celsius"] - FIRST_C) / RISE_C), at)

    def close(self) -> None:
        """Leave."""
        self._link.close()
        self.join(5)


def measure(
    minutes: float,
    directory: Path | None,
    *,
    broker_port: int | None = None,
    pair: tuple[Path, Path] | None = None,
) -> Measured:
    """Run the service for so long, with a broker or with https if told so, and return what it took."""
    trust = None if pair is None else ssl.create_default_context(cafile=str(pair[0]))
    scans = round(60 * minutes) + WARM_UP_S
    with (
        tempfile.TemporaryDirectory(dir=directory) as made,
        processes(Path(made), scans, broker_port, pair) as (node, service),
    ):
        assert service.stdout is not None
        assert node.stdin is not None
        assert node.stdout is not None
        address = service.stdout.readline().split(" at ")[1].strip()
        panel = Panel(address, trust)
        panel.start()
        process = psutil.Process(service.pid)
        print("go", file=node.stdin, flush=True)
        time.sleep(WARM_UP_S)
        begun, used = time.monotonic(), sum(process.cpu_times()[:2])
        time.sleep(60 * minutes)
        cpu = (sum(process.cpu_times()[:2]) - used) / (time.monotonic() - begun)
        resident, most = process.memory_info().rss, peak_of(service.pid)
        told = json.loads(node.stdout.readline())
        with urllib.request.urlopen(f"{address}healthz", context=trust) as answer:
            health = answer.status
        panel.close()
    return judged(told, panel.seen, Measured(scans, 100 * cpu, resident, most, [], [], 0, health))


def judged(told: dict[str, list[float]], seen: dict[int, float], run: Measured) -> Measured:
    """Return `run` with its times, of the scans after the warm-up."""
    written = told["written"]
    numbers = range(WARM_UP_S, len(written))
    alive = {}
    for at, scan in told["alive"]:  # type: ignore[misc]
        for number in range(max(alive, default=-1) + 1, scan + 1):
            alive[number] = at
    return Measured(
        run.scans,
        run.cpu,
        run.resident,
        run.resident_most,
        [seen[n] - written[n] for n in numbers if n in seen],
        [alive[n] - written[n] for n in numbers if n in alive],
        sum(n not in seen for n in numbers) + sum(n not in alive for n in numbers),
        run.health,
    )


def peak_of(pid: int) -> int:
    """Return the most memory a process ever had resident, bytes."""
    return told_bytes(Path(f"/proc/{pid}/status").read_text("ascii"), "VmHWM")


def told_bytes(status: str, row: str) -> int:
    """Return one amount of memory of a process's status as /proc tells it, bytes."""
    return int(status.partition(f"{row}:")[2].split()[0]) * 1024


def bare_import() -> int:
    """Return the resident memory of Python with fastapi, uvicorn and numpy imported, bytes."""
    done = subprocess.run([sys.executable, "-c", BARE], capture_output=True, text=True, check=True)
    return told_bytes(done.stdout, "VmRSS")


def percentiles(times_s: list[float]) -> str:
    """Return median and 99th percentile in ms."""
    p50, p99 = np.percentile(1e3 * np.array(times_s), [50, 99]) if times_s else (np.nan, np.nan)
    return f"{p50:.2f} / {p99:.2f}"


def rows_of(run: Measured) -> list[str]:
    """Return the figures of one run, in the table's order."""
    return [
        f"{run.scans}",
        f"{run.cpu:.2f}",
        f"{run.resident / MB:.1f} / {run.resident_most / MB:.1f}",
        percentiles(run.to_panel_s),
        " ".join(f"{1e3 * s:.0f}" for s in sorted(run.to_panel_s)[-5:]),
        percentiles(run.to_disk_s),
        f"{run.unseen}",
        f"{run.health}",
    ]


LABELS = (
    "scans of 12 inputs, 1 Hz",
    "CPU, % of one core",
    "resident, MB, at the end / most",
    "last byte to the panel, ms, p50 / p99",
    "  worst five",
    "last byte to the disk, ms, p50 / p99",
    "scans not seen by panel or node",
    "/healthz at the end",
)


def report(serial: Measured, mqtt: Measured, https: Measured, bare: int) -> bool:
    """Print the table and the goals; return whether all are met."""
    print(f"{'':40}{'serial':>16}{'with MQTT':>16}{'https':>16}")
    for label, *figures in zip(LABELS, rows_of(serial), rows_of(mqtt), rows_of(https), strict=True):
        print(f"{label:40}" + "".join(f"{figure:>16}" for figure in figures))
    print(f"{'bare fastapi, uvicorn, numpy: MB':40}{bare / MB:>16.1f}")
    p99_ms = 1e3 * float(np.percentile(serial.to_panel_s, 99))
    goals = {
        f"serial only: CPU under {GOAL_CPU:g} % of one core": serial.cpu < GOAL_CPU,
        f"serial only: resident under {GOAL_MB:g} MB": serial.resident < GOAL_MB * MB,
        f"serial only: last byte to the panel under {GOAL_MS:g} ms at p99": p99_ms < GOAL_MS,
        "all three: every scan seen and stored": serial.unseen == mqtt.unseen == https.unseen == 0,
    }
    for goal, is_met in goals.items():
        print(f"{'met   ' if is_met else 'MISSED'} {goal}")
    return all(goals.values())


def main() -> None:
    """Measure all three, print, and fail where a goal is missed."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--minutes", type=float, default=10.0, help="length of the serial run (default: %(default)s)")
    parser.add_argument("--others-minutes", type=float, default=None, help="with MQTT, with https (default: a fifth)")
    parser.add_argument("--directory", type=Path, default=None, help="where to work (default: a temporary one)")
    options = parser.parse_args()
    load = os.getloadavg()[0]
    print(f"{os.cpu_count()} cores, load {load:.2f} at the start; the load of others is in every figure")
    bare = bare_import()
    serial = measure(options.minutes, options.directory)
    minutes = options.minutes / 5 if options.others_minutes is None else options.others_minutes
    with tempfile.TemporaryDirectory() as folder:
        broker = Mosquitto(Path(folder))
        broker.start()
        try:
            mqtt = measure(minutes, options.directory, broker_port=broker.port)
        finally:
            broker.stop()
        https = measure(minutes, options.directory, pair=write_pair(Path(folder)))
    sys.exit(0 if report(serial, mqtt, https, bare) else 1)


if __name__ == "__main__":
    main()
