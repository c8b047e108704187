"""The truth file is written beside the recording: the same firing gives the same bytes."""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from monitor.model import FindingKind, SensorFault
from simulator.firing import FINE_S, Firing
from simulator.script.mishaps import Mishap
from simulator.script.probe_faults import ProbeFault
from simulator.script.scenarios import find_scenario
from simulator.script.spells import Spell
from simulator.spec.kiln_file import load_kiln
from simulator.truth.file import TruthWriter, truth_path
from simulator.truth.reader import read_truth
from simulator.truth.whole import Truth

SPEC = load_kiln("demo")
LIT = 1_764_000_000
BEGIN_S = 1800


def _write(
    path: Path, blocks: list[int], *, seed: int = 1, has_plan: bool = True, spells: tuple[Spell, ...] = ()
) -> tuple[Firing, Truth]:
    """Write the truth of a firing that is hurried through half an hour and then runs in blocks of so many steps."""
    firing = Firing(SPEC, replace(find_scenario("steady"), spells=spells), seed=seed, lit=LIT)
    firing.hurry_to(BEGIN_S)
    writer = TruthWriter(path, scenario="steady", seed=seed, has_plan=has_plan)
    for steps in blocks:
        writer.add(firing.run(steps))
    return firing, writer.finish(firing)


@pytest.mark.parametrize(
    ("recording", "truth"),
    [
        ("night.senml.jsonl", "night.truth.jsonl"),
        ("night.senml.jsonl.gz", "night.truth.jsonl"),
        ("night.gz", "night.truth.jsonl"),
        ("night.v2.senml.jsonl", "night.v2.truth.jsonl"),
    ],
)
def test_truth_stands_beside_its_recording(recording: str, truth: str) -> None:
    """NAME.senml.jsonl and NAME.truth.jsonl."""
    assert truth_path(Path("out") / recording) == Path("out") / truth


def test_same_seed_same_bytes_however_it_is_cut(tmp_path: Path) -> None:
    """Another seed gives others."""
    for name, blocks, seed in [("a", [720], 1), ("b", [1, 11, 13, 240, 455], 1), ("c", [720], 2)]:
        _write(tmp_path / name, blocks, seed=seed)
    first, cut, other = ((tmp_path / name).read_bytes() for name in "abc")

    assert first == cut
    assert first != other


def test_file_holds_header_events_cones_and_minutes_in_this_order(tmp_path: Path) -> None:
    """Two hours of the preheat."""
    path = tmp_path / "x.truth.jsonl"
    firing, truth = _write(path, [1440])
    lines = [json.loads(line) for line in path.read_text().splitlines()]
    kinds = [line["kind"] for line in lines]
    stokes = [line for line in lines if line["kind"] == "stoke"]
    minutes = [line for line in lines if line["kind"] == "minute"]

    assert kinds == sorted(kinds, key=["truth", "stoke", "cone", "minute"].index)
    assert (lines[0]["scenario"], lines[0]["seed"], lines[0]["lit"]) == ("steady", 1, LIT)
    assert (lines[0]["begin"], lines[0]["end"]) == (LIT + BEGIN_S, LIT + BEGIN_S + 1440 * FINE_S)
    assert [s["time"] for s in stokes] == [round(LIT + 3600 * s.hour, 1) for s in truth.stokes]
    assert kinds.count("cone") == sum(len(pack.numbers) for pack in SPEC.cones)
    assert [m["time"] for m in minutes] == [LIT + BEGIN_S + 30.0 + 60.0 * k for k in range(120)]
    assert [len(minutes[0][n]) for n in ("gas_c", "junction_c")] == [len(SPEC.zones), len(SPEC.sensors)]
    assert len(firing.deeds) > len(stokes) > 4


def test_spans_carry_what_belongs_to_them(tmp_path: Path) -> None:
    """A probe that is open for a quarter of an hour, and a rhythm twice as slow as it should be."""
    path = tmp_path / "x.truth.jsonl"
    spells = (Spell(ProbeFault.OPEN, 1.0, 0.25, sensor="back"), Spell(Mishap.LATE, 0.5, 9.0, size=2.0))
    _write(path, [720 * 4], spells=spells)
    truth = read_truth(path)
    (fault,) = truth.of(FindingKind.SENSOR)
    (rhythm,) = truth.of(FindingKind.RHYTHM)

    assert (fault.sensor, fault.fault, fault.cause) == ("back", SensorFault.OPEN, "open")
    assert (fault.begin - LIT, fault.end - LIT) == pytest.approx((3600, 4500), abs=60)
    assert rhythm.ratio == pytest.approx(2.0, rel=0.2)


def test_site_without_a_plan_is_told(tmp_path: Path) -> None:
    """The header holds no plan then."""
    path = tmp_path / "x.truth.jsonl"
    _write(path, [720], has_plan=False)

    assert json.loads(path.read_text().splitlines()[0])["plan"] is None


@pytest.mark.parametrize("blocks", [[], [11], [5, 6]])
def test_run_of_less_than_a_minute_has_a_truth_without_minutes(tmp_path: Path, blocks: list[int]) -> None:
    """Nothing can be judged, and the file can be read."""
    path = tmp_path / "x.truth.jsonl"
    _write(path, blocks)
    truth = read_truth(path)

    assert truth.header.begin == truth.header.end == LIT + BEGIN_S + FINE_S * sum(blocks)
    assert (truth.stokes, truth.spans, len(truth.minutes.time)) == ((), (), 0)
