"""The general way from bytes to scans: every golden pack, and the host's line."""

import json
from pathlib import Path
from typing import Any

import pytest

from monitor.model import Scan, Tick
from monitor.wire.fields import PackError, PackFault
from monitor.wire.resolve import resolve_pack

GOLDEN = Path(__file__).parents[2] / "golden" / "packs"
ACCEPTED: list[dict[str, Any]] = json.loads((GOLDEN / "accepted.json").read_text("utf-8"))
REFUSED: list[dict[str, Any]] = json.loads((GOLDEN / "refused.json").read_text("utf-8"))


def told(scan: Scan) -> dict[str, Any]:
    """Return a scan in its golden form."""
    fields = ("emf_volts", "cold_junction_c", "fault", "temperature_c", "oxygen_emf_volts", "contact")
    readings = [
        {"input": r.input, **{name: getattr(r, name) for name in fields if getattr(r, name) is not None}}
        for r in scan.readings
    ]
    own = {name: getattr(scan, name) for name in ("boot", "seq", "oldest", "up_s")}
    return {"node": scan.node, "time": scan.time, "readings": readings, **own}


@pytest.mark.parametrize("case", ACCEPTED, ids=lambda case: case["about"])
def test_general_way_gives_the_golden_scans(case: dict[str, Any]) -> None:
    """Each accepted golden pack gives its scans."""
    scans = resolve_pack(json.dumps(case["pack"]).encode())

    assert isinstance(scans, tuple)
    assert [told(scan) for scan in scans] == case["scans"]


@pytest.mark.parametrize(
    "case", [case for case in REFUSED if case["about"] != "the reserved node name"], ids=lambda case: case["about"]
)
def test_general_way_refuses_the_golden_packs(case: dict[str, Any]) -> None:
    """Each refused golden pack raises its reason."""
    with pytest.raises(PackError) as caught:
        resolve_pack(case["text"].encode())

    assert caught.value.reason == PackFault(case["reason"])


def test_escape_without_a_bad_label_is_read() -> None:
    """A backslash asks for the slow look at the labels and is no fault by itself."""
    scans = resolve_pack(b'[{"bn":"shed-1/","bt":1764000000,"n":"s\\u0065q","v":1}]')

    assert scans == (Scan("shed-1", 1764000000.0, (), seq=1),)


def test_host_line_gives_a_tick() -> None:
    """One tick of the node `host` at an absolute time is the host's clock."""
    assert resolve_pack(b'[{"bn":"host/","bt":1764000000.5,"n":"tick","u":"count","v":1}]') == Tick(1764000000.5)


@pytest.mark.parametrize(
    "payload",
    [
        b'[{"bn":"host/","bt":5,"n":"tick","v":1}]',
        b'[{"bn":"host/","bt":1764000000,"n":"seq","v":1}]',
        b'[{"bn":"host/","bt":1764000000,"n":"tick","v":1},{"n":"tick","v":1,"t":1}]',
    ],
    ids=["relative", "no tick", "two ticks"],
)
def test_host_line_without_one_clock_is_refused(payload: bytes) -> None:
    """A host line that does not say one absolute time is refused."""
    with pytest.raises(PackError) as caught:
        resolve_pack(payload)

    assert caught.value.reason is PackFault.NO_VALUE
