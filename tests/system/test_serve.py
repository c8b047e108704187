"""`nightstoke serve` on a real pseudo-terminal: what a simulated kiln in another process measured comes out right."""

import json
import signal
import struct
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from thermocouples_reference import thermocouples  # type: ignore[import-untyped]

from tests.peers import PtyNode
from tests.system.conftest import Simulator
from tests.system.running import Running, command, hear, hear_frames, until
from tests.system.scans import scan_line, site_text

FRAMES = 25
GRID_C = np.arange(0.0, 1500.0, 0.02)


def reference_c(letter: str, emf_volts: Any, cold_junction_c: Any) -> Any:
    """Return degC by the public library thermocouples_reference: its emf of a grid so fine that lines join it well."""
    emf_of = thermocouples[letter].func
    grid_c = GRID_C[emf_of.maxT > GRID_C]
    total_mv = np.asarray(emf_volts) * 1e3 + emf_of(np.asarray(cold_junction_c, dtype=float))
    return np.interp(total_mv, emf_of(grid_c), grid_c)


def measured(recording: Path) -> list[dict[str, tuple[float, float]]]:
    """Return emf and cold junction by input of each scan in an export, read by no code of the project."""
    scans = []
    for line in recording.read_text("utf-8").splitlines():
        records = json.loads(line)
        if records[0]["bn"] == "host/":
            continue
        values = {record["n"]: record.get("v") for record in records}
        inputs = {name.split("/")[0] for name in values if name.endswith("/emf")}
        scans.append({i: (values[f"{i}/emf"], values[f"{i}/cj"]) for i in inputs})
    return scans


def is_in_order(part: list[float], whole: np.ndarray[Any, Any], within: float) -> bool:
    """Tell whether `part` is found in `whole` in the same order, each number within `within`."""
    at = 0
    for number in part:
        found = np.flatnonzero(np.abs(whole[at:] - number) <= within)
        if not len(found):
            return False
        at += int(found[0]) + 1
    return True


def test_what_the_kiln_measured_comes_out_everywhere(
    serve: Callable[..., Running], simulator: Callable[..., Simulator], tmp_path: Path
) -> None:
    """One address line; live temperatures are the emf by the reference functions; every answer tells of the same."""
    kiln = simulator("--from", "high-fire", "--speed", "10")
    service = serve(kiln.site)
    kiln.start()
    with service.panel() as panel:
        snapshot = hear(panel)
        frames = hear_frames(panel, lambda got: sum(len(f.get("values", ())) == 6 for f in got) >= FRAMES, 30)
    until(service.is_well)
    _, health = service.health()
    metrics, openapi, history = (service.ask(path) for path in ("/metrics", "/openapi.json", "/api/history"))
    findings, firings = service.ask("/api/findings"), service.ask("/api/firings")
    page = service.ask("/")
    assert service.end() == 0
    recording = tmp_path / "night.senml.jsonl"
    exported = command("export", "--data", tmp_path / "data", recording)

    assert service.out == [f"Nightstoke watches Demo kiln at {service.address}\n"]
    assert exported.returncode == 0, exported.stderr
    assert snapshot["kind"] == "snapshot"
    assert snapshot["test"] is None
    scans = measured(recording)
    for sensor in snapshot["sensors"]:
        name = sensor["input"].split("/")[1]
        told = [v["celsius"] for f in frames for v in f.get("values", ()) if v["sensor"] == sensor["id"]]
        converted = reference_c(sensor["type"], *np.array([scan[name] for scan in scans]).T)
        assert len(told) >= FRAMES
        assert 800 < told[0] < 1300 or sensor["id"] == "flue"
        assert is_in_order(told, converted, within=1e-3), sensor
    assert health["sources"] == {str(tmp_path / "kiln-line"): "working"}
    assert set(health["sensors"].values()) == {"ok"}
    assert metrics.body.endswith(b"# EOF\n")
    assert metrics.headers["content-type"].startswith("application/openmetrics-text")
    assert b'nightstoke_temperature_celsius{place="firebox",sensor="firebox"} ' in metrics.body
    assert {"/healthz", "/metrics", "/api/history"} <= set(openapi.told["paths"])
    assert findings.status == firings.status == 200
    assert [f["id"] for f in firings.told] == [health["firing"]]
    assert (page.status, page.headers["content-type"].split(";")[0]) in {(200, "text/html"), (404, "application/json")}
    _check_history(history.body, scans, snapshot)


def _check_history(body: bytes, scans: list[dict[str, tuple[float, float]]], snapshot: dict[str, Any]) -> None:
    """Check the binary envelope: length, JSON header, lows and highs as float32, within what was measured."""
    (length,) = struct.unpack_from("<I", body)
    header = json.loads(body[4 : 4 + length])
    numbers = np.frombuffer(body, "<f4", offset=4 + length)
    low, high = numbers.reshape(2, len(header["sensors"]), header["columns"])
    letters = {s["id"]: (s["type"], s["input"].split("/")[1]) for s in snapshot["sensors"]}

    assert (4 + length) % 8 == 0
    for i, sensor in enumerate(header["sensors"]):
        letter, name = letters[sensor]
        first, last = (reference_c(letter, *scans[at][name]) for at in (0, -1))
        assert np.nanmin(low[i]) <= first + 1e-3
        assert np.all(low[i][~np.isnan(low[i])] <= high[i][~np.isnan(high[i])])
        assert np.nanmax(high[i]) >= min(first, last) - 1.0


@pytest.mark.parametrize("sent", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_ends_it_with_everything_stored(
    serve: Callable[..., Running], pty_node: PtyNode, tmp_path: Path, sent: signal.Signals
) -> None:
    """Scans taken in the very moment before a signal are in the store; the exit code is 0."""
    service = serve(site_text(pty_node.link))
    until(service.is_well)
    now = int(time.time())
    pty_node.do("write", hex=b"".join(scan_line(seq, now + seq) for seq in range(400)).hex())
    until(lambda: service.accepted == 400)

    code = service.end(sent)

    assert code == 0
    assert service.err == []
    assert "400 scans" in command("firing", "list", "--data", tmp_path / "data").stdout
    assert not (tmp_path / "data" / "address").exists()


def test_one_probe_without_plan_or_broker_is_enough(
    serve: Callable[..., Running], pty_node: PtyNode, tmp_path: Path
) -> None:
    """The smallest kiln: one sensor at the flue, nothing else in the site file; watched, charted, stored."""
    site = (
        f'[kiln]\nname = "Barrel"\n[[source]]\nkind = "serial"\ndevice = "{pty_node.link}"\n'
        '[[sensor]]\nid = "only"\ninput = "shed-1/t1"\ntype = "N"\nplace = "flue"\n'
    )
    service = serve(site)
    until(service.is_well)
    base = int(time.time())
    pty_node.do("write", hex=b"".join(scan_line(seq, base + seq, 1) for seq in range(900)).hex())
    until(lambda: service.accepted == 900)
    snapshot, history = service.ask("/api/snapshot").told, service.ask("/api/history")

    assert snapshot["plan"] is None
    (value,) = snapshot["values"]
    expected_c = reference_c("N", 0.033 + 4e-5 * 899 / 36, 24.8125)
    assert value["celsius"] == pytest.approx(expected_c, abs=1e-3)
    assert value["climb_c_per_h"] is not None
    assert history.status == 200
    assert service.end() == 0
    assert "900 scans" in command("firing", "list", "--data", tmp_path / "data").stdout
