"""A node for benchmarks, in a process of its own: packs of twelve inputs on a pseudo-terminal, one a second.

Run as `python line_node.py LINK SCANS`: prints "ready", waits for a line on stdin, sends, and prints when each scan was
written and when each `alive` came, in seconds of the system's monotonic clock. Packs are as a converter makes them:
emf in whole steps with noise. Only input t1 has none: it rises by `RISE_C` a scan, which names the scan at the far end.
"""

import fcntl
import json
import os
import random
import select
import sys
import termios
import time
import tty
from pathlib import Path

from monitor.model import Reading, Scan
from monitor.thermocouple.reference import emf_from_temperature
from monitor.wire.line import frame_line
from monitor.wire.pack import write_pack

INPUTS = 12
FIRST_C, RISE_C = 1150.0, 0.05
STEP_VOLTS = 1.0 / (8 * 1.6 * 2**17)
"""One code of the converter at gain 8."""
NOISE_STEPS = 8.0
BOOT = "0badcafe"
AFTER_S = 3.0
"""How long the node listens for `alive` after its last scan, seconds."""


def celsius_of(scan: int, number: int) -> float:
    """Return the junction of input `number` (from 1) at a scan, degC; t1 rises steadily, the others wave."""
    return FIRST_C + RISE_C * scan if number == 1 else 1200.0 - 30.0 * number + 8.0 * ((scan + 20 * number) % 300) / 300


def line_of(scan: int, rng: random.Random) -> bytes:
    """Return the line of one scan, taken now."""
    cold_c = 24.0 + round(rng.gauss(0.0, 1.0)) / 64.0
    readings = []
    for number in range(1, INPUTS + 1):
        emf = float(emf_from_temperature("K", celsius_of(scan, number)) - emf_from_temperature("K", cold_c))
        if number > 1:
            emf = round(emf / STEP_VOLTS + rng.gauss(0.0, NOISE_STEPS)) * STEP_VOLTS
        readings.append(Reading(f"bench/t{number}", emf_volts=round(emf, 9), cold_junction_c=cold_c))
    now = round(time.time(), 3)
    return frame_line(write_pack(Scan("bench", now, tuple(readings), boot=BOOT, seq=scan, oldest=0)))


def write_line(master: int, line: bytes) -> None:
    """Write a whole line, in as many turns as the terminal wants."""
    while line:
        select.select([], [master], [])
        line = line[os.write(master, line) :]


def hear(master: int, until: float, heard: list[tuple[float, bytes]]) -> None:
    """Note what comes in and when, until the monotonic clock says so."""
    while (left := until - time.monotonic()) > 0:
        if select.select([master], [], [], left)[0]:
            heard.append((time.monotonic(), os.read(master, 4096)))


def alive_times(heard: list[tuple[float, bytes]]) -> list[tuple[float, int]]:
    """Return when each scan number was reported kept."""
    times, rest = [], b""
    for at, block in heard:
        *lines, rest = (rest + block).split(b"\n")
        words = [line.split() for line in lines]
        times += [(at, int(w[2])) for w in words if len(w) == 3 and w[1] == BOOT.encode()]
    return times


def main() -> None:
    """Send the scans and tell of them."""
    link, scans, rng = Path(sys.argv[1]), int(sys.argv[2]), random.Random(1)
    master, slave = os.openpty()
    tty.setraw(slave)
    os.set_blocking(master, False)
    fcntl.ioctl(slave, termios.TCFLSH, termios.TCIOFLUSH)
    link.symlink_to(os.ttyname(slave))
    print("ready", flush=True)
    sys.stdin.readline()
    written: list[float] = []
    heard: list[tuple[float, bytes]] = []
    begun = time.monotonic()
    for scan in range(scans):
        line = line_of(scan, rng)
        hear(master, begun + scan, heard)
        write_line(master, line[:-1])  # as bytes trickle in on a real line, the pack is there before its last byte
        written.append(time.monotonic())
        write_line(master, line[-1:])
    hear(master, time.monotonic() + AFTER_S, heard)
    print(json.dumps({"written": written, "alive": alive_times(heard)}), flush=True)
    sys.stdin.readline()


if __name__ == "__main__":
    main()
