"""The simulated node's probes, faults, oxygen probe and doors, read by the service from recording and site file."""

import json
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest

from monitor.cli import main
from monitor.wire.pack import write_pack
from simulator.firing import FINE_S, Trace
from simulator.node import Node
from simulator.probe.sensor_truth import true_sensor_faults
from simulator.script.probe_faults import ProbeFault
from simulator.script.spells import Spell
from simulator.site_text import site_text
from simulator.spec.kiln_file import load_kiln
from simulator.spec.sensor_spec import ZIRCONIA, ContactSpec, SensorSpec

DEMO = load_kiln("demo")
OXYGEN = SensorSpec("oxygen", "o1", ZIRCONIA, "flue", 20.0, 0.5)
SPEC = replace(DEMO, sensors=(*DEMO.sensors, OXYGEN), contacts=(ContactSpec("d1", "front"),))
LIT = 1_764_000_000
STEPS = 600
"""Fifty minutes."""


def _trace() -> Trace:
    """Return a chamber at 900 degC and a little more, everywhere alike, in lean gas."""
    columns = {f.name: np.zeros(STEPS) for f in fields(Trace)}
    zones, sensors = (STEPS, len(SPEC.zones)), (STEPS, len(SPEC.sensors))
    columns |= {name: np.zeros(zones) for name in ("gas_c", "face_c", "ware_c", "air_kg_s", "demand_kg_s", "ports")}
    columns["clock_s"] = FINE_S * np.arange(1, STEPS + 1, dtype=np.float64)
    columns["junction_c"] = np.linspace(900.0, 930.0, STEPS)[:, None] + np.zeros(sensors)
    columns["air_kg_s"] += 0.05
    columns["demand_kg_s"] += 0.04
    return Trace(**columns)


def _replayed(folder: Path, *spells: Spell) -> tuple[list[dict[str, object]], list[list[str]]]:
    """Replay the trace with `spells`; return the findings about sensors and the rows of temperatures."""
    node = Node(SPEC, spells, seed=1, lit=LIT, boot="00c0ffee")
    recording, site = folder / "r.senml.jsonl", folder / "kiln.toml"
    recording.write_bytes(b"".join(write_pack(scan) + b"\n" for scan in node.scans(node.read(_trace(), 1))))
    site.write_text(site_text(SPEC, "/dev/x", LIT, spells), "utf-8")
    out, table = folder / "f.jsonl", folder / "t.csv"
    told = ["--findings", str(out), "--temperatures", str(table)]

    assert main(["replay", str(recording), "--site", str(site), *told]) == 0
    findings = [json.loads(line) for line in out.read_text("utf-8").splitlines()]
    rows = [line.split(",") for line in table.read_text("utf-8").splitlines()]
    return [f for f in findings if f["kind"] == "sensor"], rows


def test_good_node_is_read_without_a_finding(tmp_path: Path) -> None:
    """Every scan has a number for every sensor, the oxygen probe's temperature among them, within its class."""
    findings, rows = _replayed(tmp_path)

    assert findings == []
    assert rows[0][1:] == [s.id for s in SPEC.sensors]
    assert len(rows) == 1 + STEPS * FINE_S
    assert all(abs(float(cell) - 930.0) < 9.0 for cell in rows[-1][1:])


@pytest.mark.parametrize(
    ("what", "sensor"),
    [
        (ProbeFault.OPEN, "middle"),
        (ProbeFault.OPEN, "oxygen"),
        (ProbeFault.HOT_WIRE, "back"),
        (ProbeFault.COLD_LOST, "middle"),
        (ProbeFault.OVER_VOLTAGE, "back"),
        (ProbeFault.NO_RESULT, "front"),
    ],
)
def test_what_the_node_tells_is_found_when_it_was_true(tmp_path: Path, what: ProbeFault, sensor: str) -> None:
    """F01, F02, F17, F19, F24: word, sensor, begin and end are those of the truth, within the 10 s of two slots."""
    spell = Spell(what, 1 / 6, 1 / 4, sensor=sensor)
    trace = _trace()
    (true,) = true_sensor_faults(SPEC, (spell,), trace, clock_s=trace.clock_s, lit=LIT)
    begin, end = _replayed(tmp_path, spell)[0]

    assert (begin["state"], end["state"]) == ("begin", "end")
    assert {(f["sensor"], f["fault"]) for f in (begin, end)} == {(true.sensor, true.fault)}
    assert begin["onset"] == pytest.approx(LIT + true.begin_h * 3600.0, abs=10.0)
    assert end["onset"] == pytest.approx(LIT + true.end_h * 3600.0, abs=10.0)


def test_dead_bus_is_missing_at_every_sensor(tmp_path: Path) -> None:
    """F23: no number of that time is made up, every sensor comes back."""
    findings, rows = _replayed(tmp_path, Spell(ProbeFault.DEAD_BUS, 1 / 6, 1 / 4))
    begun = {f["sensor"] for f in findings if (f["state"], f["fault"]) == ("begin", "missing")}
    silent = [row for row in rows[1:] if LIT + 600 <= float(row[0]) < LIT + 1500]

    assert begun == {s.id for s in SPEC.sensors} == {f["sensor"] for f in findings if f["state"] == "end"}
    assert all(cell == "" for row in silent for cell in row[1:])


def test_reset_converter_leaves_a_gap_and_no_finding(tmp_path: Path) -> None:
    """F22: five seconds without a number each time, nothing to wake anybody for."""
    findings, rows = _replayed(tmp_path, Spell(ProbeFault.CONVERTER_RESET, 1 / 6, 1 / 2, size=10.0, sensor="middle"))
    column = 1 + [s.id for s in SPEC.sensors].index("middle")

    assert findings == []
    assert sum(row[column] == "" for row in rows) == 15
