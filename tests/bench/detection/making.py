"""One firing: simulated to a recording with its truth, replayed by the product's own command, read back."""

import contextlib
import io
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import msgspec

from monitor.cli import main as nightstoke
from simulator.script.scenarios import find_scenario
from simulator.script.spells import settle_spells
from simulator.site_text import site_text
from simulator.spec.kiln_file import load_kiln
from simulator.truth.file import truth_path
from simulator.truth.reader import TruthFile, read_truth
from simulator.whole_firing import whole_course

LIT = 1_770_000_000
"""Epoch second at which every firing is lit (any whole minute would do)."""


@dataclass(frozen=True)
class Firing:
    """A firing by name: scenario and seed, at the scenario's own kiln."""

    scenario: str
    seed: int

    @property
    def name(self) -> str:
        """Name of its files."""
        return f"{self.scenario}-{self.seed}"


class Told(msgspec.Struct):
    """A line of the findings file."""

    time: float
    kind: str
    state: str
    onset: float
    sensor: str | None = None
    fault: str | None = None
    door: str | None = None
    ratio: float | None = None
    confidence: float | None = None
    text: str = ""


def findings_of(firing: Firing, folder: Path, *, keep: bool) -> tuple[TruthFile, list[Told]]:
    """Return truth and findings of `firing`; what lies in `folder` from before is used, the recording kept if asked."""
    recording = recording_of(firing, folder)
    told = _replay(firing, recording)
    if not keep:
        recording.unlink()
    return read_truth(truth_path(recording)), told


def recording_of(firing: Firing, folder: Path) -> Path:
    """Return the recording of `firing`, its truth beside it, made unless both lie in `folder`."""
    recording = folder / f"{firing.name}.senml.jsonl.gz"
    if not (recording.exists() and truth_path(recording).exists()):
        _simulate(firing, recording)
    return recording


def site_of(firing: Firing) -> str:
    """Return the site file of the firing's kiln, as its crew has it."""
    scenario = find_scenario(firing.scenario)
    spec = load_kiln(scenario.kiln)
    spells = settle_spells(scenario.spells, spec, whole_course(spec).live_h)
    return site_text(spec, "/dev/null", LIT, spells)


def _simulate(firing: Firing, recording: Path) -> None:
    command = [
        sys.executable, "-m", "simulator", "--recording", str(recording),
        "--scenario", firing.scenario, "--seed", str(firing.seed), "--start", str(LIT),
    ]  # fmt: skip
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        raise RuntimeError(f"{firing.name}: {done.stderr}")


def _replay(firing: Firing, recording: Path) -> list[Told]:
    site, out = recording.with_name(f"{firing.name}.toml"), recording.with_name(f"{firing.name}.findings.jsonl")
    site.write_text(site_of(firing))
    told = io.StringIO()
    with contextlib.redirect_stderr(told):
        code = nightstoke(["replay", str(recording), "--site", str(site), "--findings", str(out)])
    if code != 0:
        raise RuntimeError(f"{firing.name}: replay ended with {code}: {told.getvalue()}")
    decode = msgspec.json.Decoder(Told).decode
    return [decode(line) for line in out.read_bytes().splitlines()]
