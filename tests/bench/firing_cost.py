"""Measure what a simulated firing costs: `python tests/bench/firing_cost.py [--kiln demo]`.

Fires the kiln from lighting into the cooling, a scan a second, to a recording with its truth, in a process of its own,
and tells its processor time for 96 h. The reference in the same run is the product's own writer, which turns as many
scans of as many made-up inputs into the same lines of text: what it costs to write them down alone.
"""

import argparse
import resource
import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from monitor.model import Reading, Scan
from monitor.wire.pack import write_pack
from simulator.spec.kiln_file import load_kiln

WRITTEN = 20_000
GOAL_S = 30.0
"""96 h of six sensors at 1 Hz, seconds of one core (goal)."""


def main() -> None:
    """Fire, write, print."""
    parser = argparse.ArgumentParser(description="Measure what a simulated firing costs.")
    parser.add_argument("--kiln", default="demo", metavar="NAME")
    kiln = parser.parse_args().kiln
    sensors = len(load_kiln(kiln).sensors)
    with TemporaryDirectory() as folder:
        out = Path(folder) / "firing.senml.jsonl"
        command = [sys.executable, "-m", "simulator", "--kiln", kiln, "--recording", str(out)]
        subprocess.run(command, check=True, capture_output=True)
        used = resource.getrusage(resource.RUSAGE_CHILDREN)
        with out.open("rb") as lines:
            scans = sum(b"seq" in line for line in lines)
    fired_s = (used.ru_utime + used.ru_stime) * 96.0 * 3600.0 / scans
    written_s = _write(sensors) * 96.0 * 3600.0 / WRITTEN
    print(
        f"{kiln}: {scans / 3600.0:.1f} h of {sensors} sensors; for 96 h {fired_s:.1f} s of a core, goal {GOAL_S:.0f} s"
    )
    print(f"its packs alone {written_s:.1f} s, ratio {fired_s / written_s:.1f}")


def _write(sensors: int) -> float:
    """Return the processor seconds of writing `WRITTEN` scans of `sensors` inputs."""
    scans = [
        Scan(
            "shed-1",
            1.77e9 + i,
            tuple(Reading(f"shed-1/t{k}", 0.03 + 1e-7 * (i + k), cold_junction_c=24.8125) for k in range(sensors)),
            boot="0badcafe",
            seq=i,
        )
        for i in range(WRITTEN)
    ]
    begun = time.process_time()
    for scan in scans:
        write_pack(scan)
    return time.process_time() - begun


if __name__ == "__main__":
    main()
