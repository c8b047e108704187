"""Measure what a replay costs: `python tests/bench/replay.py [--keep FOLDER] [--plain]`.

The demo kiln with two probes at each of its places is fired from lighting into the cooling: 96 h, twelve inputs, a scan
a second, packed as recordings are kept. `nightstoke replay` judges it in a process of its own. The reference in the
same run is Python's own JSON reader over the same lines: what it costs to read the recording and do nothing with it.
Figures of two runs compare by that ratio only, for the speed of a shared machine wanders.
`--keep` leaves the recording in a folder, and uses the one that lies there; `--plain` takes it unpacked.
"""

import argparse
import gzip
import json
import resource
import subprocess
import sys
import time
from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

from simulator.line.stream import record_run
from simulator.log import log_of
from simulator.run import Run
from simulator.script.scenarios import find_scenario
from simulator.site_text import site_text
from simulator.spec.kiln_file import KilnSpec, load_kiln
from simulator.whole_firing import whole_course

LIT = 1_770_000_000
GOAL_S = 15.0
"""Four days of twelve inputs at 1 Hz, seconds of one core (goal)."""


def main() -> None:
    """Fire, replay, read, print."""
    parser = argparse.ArgumentParser(description="Measure what a replay costs.")
    parser.add_argument("--keep", type=Path, metavar="FOLDER")
    parser.add_argument("--plain", action="store_true")
    options = parser.parse_args()
    with nullcontext(options.keep) if options.keep else TemporaryDirectory() as name:
        folder = Path(name)
        recording = _recording(folder, ".senml.jsonl" if options.plain else ".senml.jsonl.gz")
        replayed_s = _replay(recording, folder)
        scans, read_s = _read(recording)
    hours, inputs = scans / 3600.0, len(_kiln().sensors)
    print(f"{hours:.1f} h of {inputs} inputs, {scans * inputs / 1e6:.2f} million samples")
    print(f"replay {replayed_s:.1f} s of a core, {1e6 * replayed_s / scans:.1f} us a scan, goal {GOAL_S:.0f} s")
    print(f"lines read by json alone {read_s:.1f} s, ratio {replayed_s / read_s:.2f}")


def _kiln() -> KilnSpec:
    """Return the demo kiln with a second probe beside each."""
    spec = load_kiln("demo")
    more = [replace(s, id=f"{s.id}-too", input=f"t{len(spec.sensors) + i}") for i, s in enumerate(spec.sensors, 1)]
    return replace(spec, sensors=(*spec.sensors, *more))


def _recording(folder: Path, suffix: str) -> Path:
    """Return the recording in `folder`, its site file beside it, made unless it lies there."""
    folder.mkdir(parents=True, exist_ok=True)
    recording = folder / f"firing{suffix}"
    spec = _kiln()
    (folder / "kiln.toml").write_text(site_text(spec, "/dev/null", LIT), encoding="utf-8")
    if not recording.exists():
        run = Run(spec, find_scenario("steady"), whole_course(spec, LIT), seed=1)
        record_run(run, recording, log_of(spec, LIT))
    return recording


def _replay(recording: Path, folder: Path) -> float:
    """Return the processor seconds, user and system, of the command."""
    command = [sys.executable, "-m", "monitor", "replay", str(recording)]
    command += ["--site", str(folder / "kiln.toml"), "--findings", str(folder / "findings.jsonl")]
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, check=True, stderr=subprocess.DEVNULL)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def _read(recording: Path) -> tuple[int, float]:
    """Return how many scans the lines hold and the processor seconds of reading them."""
    begun = time.process_time()
    with gzip.open(recording) if recording.suffix == ".gz" else recording.open("rb") as lines:
        scans = sum(json.loads(line)[-1]["n"] == "seq" for line in lines)
    return scans, time.process_time() - begun


if __name__ == "__main__":
    main()
