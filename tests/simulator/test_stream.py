"""Recordings: the same run gives the same bytes."""

import gzip
from pathlib import Path

import pytest

from monitor.wire.pack import parse_pack
from simulator.kiln_file import load_kiln
from simulator.run import Run, course_of
from simulator.scenarios import find_scenario
from simulator.stream import record_run

SPEC = load_kiln("demo")


def _run(seed: int = 1) -> Run:
    course = course_of(1_764_000_000, live_h=1.0, lead_in_h=0.2, duration_h=0.1)
    return Run(SPEC, find_scenario("steady"), course, seed=seed)


@pytest.mark.parametrize("name", ["a.senml.jsonl", "a.senml.jsonl.gz"])
def test_same_seed_gives_the_same_bytes(tmp_path: Path, name: str) -> None:
    """Byte for byte, packed or not; another seed gives others."""
    (tmp_path / "again").mkdir()
    paths = [tmp_path / name, tmp_path / "again" / name]
    counts = [record_run(_run(), path) for path in paths]
    record_run(_run(seed=2), tmp_path / "other")

    assert counts == [72 + 360] * 2
    assert paths[0].read_bytes() == paths[1].read_bytes()
    assert (tmp_path / "other").read_bytes() != paths[0].read_bytes()


def test_recording_is_one_readable_pack_a_line(tmp_path: Path) -> None:
    """The service's reader takes every line; packing changes nothing in it."""
    plain, packed = tmp_path / "a.senml.jsonl", tmp_path / "a.senml.jsonl.gz"
    record_run(_run(), plain)
    record_run(_run(), packed)
    lines = plain.read_bytes().splitlines()

    assert [parse_pack(line)[0].seq for line in lines] == list(range(432))
    assert gzip.decompress(packed.read_bytes()) == plain.read_bytes()
