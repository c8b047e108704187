"""Packs in and out: golden packs, round trip, and refusal of everything else."""

import json
from pathlib import Path
from typing import Any

import msgspec
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from monitor.model import InputFault, Reading, Scan, Tick
from monitor.wire.fields import PackError, PackFault
from monitor.wire.pack import MAX_PACK_BYTES, node_of, parse_line, parse_pack, write_pack, write_tick

GOLDEN = Path(__file__).parents[2] / "golden" / "packs"
ACCEPTED: list[dict[str, Any]] = json.loads((GOLDEN / "accepted.json").read_text("utf-8"))
REFUSED: list[dict[str, Any]] = json.loads((GOLDEN / "refused.json").read_text("utf-8"))

words = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9\-:._]{0,11}", fullmatch=True)
counts = st.integers(0, 2**53 - 1)


def numbers(low: float, high: float) -> st.SearchStrategy[float]:
    """Return floats of full resolution from `low` to `high`."""
    return st.floats(low, high, allow_nan=False)


@st.composite
def readings(draw: st.DrawFn, name: str) -> Reading:
    """Draw a reading with at least one field."""
    fault = draw(st.none() | st.sampled_from(InputFault))
    reading = Reading(
        name,
        emf_volts=None if fault else draw(st.none() | numbers(-0.1, 0.1)),
        cold_junction_c=draw(st.none() | numbers(-64, 128)),
        fault=fault,
        temperature_c=draw(st.none() | numbers(-100, 2000)),
        oxygen_emf_volts=draw(st.none() | numbers(-1, 1)),
        contact=draw(st.none() | st.booleans()),
    )
    return reading if reading != Reading(name) else msgspec.structs.replace(reading, cold_junction_c=25.0)


@st.composite
def scans(draw: st.DrawFn) -> Scan:
    """Draw any scan that the wire can tell."""
    node = draw(words.filter(lambda word: word != "host"))
    names = draw(st.lists(words, max_size=6, unique=True))
    told = tuple(draw(readings(f"{node}/{name}")) for name in names)
    return Scan(
        node,
        draw(numbers(-1e6, 1e6) | numbers(1e9, 4e9)),
        told,
        boot=draw(st.none() | st.from_regex(r"[!-,.-~][!-~]{0,20}", fullmatch=True)),
        seq=draw(counts if not told else st.none() | counts),
        oldest=draw(st.none() | counts),
        up_s=draw(st.none() | numbers(0, 1e9)),
    )


def scan_of(golden: dict[str, Any]) -> Scan:
    """Make a scan of its golden form."""
    told = tuple(
        Reading(**{**r, "fault": InputFault(r["fault"]) if "fault" in r else None}) for r in golden["readings"]
    )
    return Scan(**{**golden, "readings": told})


@pytest.mark.parametrize("case", ACCEPTED, ids=lambda case: case["about"])
def test_golden_pack_gives_its_scans(case: dict[str, Any]) -> None:
    """Each accepted golden pack is resolved as RFC 8428 sections 4.1 to 4.6 say, at first sight and again."""
    payload = json.dumps(case["pack"]).encode()

    assert parse_pack(payload) == tuple(scan_of(scan) for scan in case["scans"])
    assert parse_pack(payload) == tuple(scan_of(scan) for scan in case["scans"])


@pytest.mark.parametrize("case", REFUSED, ids=lambda case: case["about"])
def test_golden_refused_pack_says_why(case: dict[str, Any]) -> None:
    """Each refused golden pack raises its own reason."""
    with pytest.raises(PackError) as caught:
        parse_pack(case["text"].encode())

    assert caught.value.reason == PackFault(case["reason"])


@pytest.mark.parametrize(
    ("payload", "reason"),
    [
        (b"[" * 100_000, PackFault.WRONG_TYPE),
        (b'[{"x":' + b"[" * 100_000, PackFault.NOT_JSON),
        (b'[{"n":"seq","v":' + b"9" * 400 + b"}]", PackFault.WRONG_TYPE),
        (b'[{"bn":"\xff/","n":"seq","v":1}]', PackFault.NOT_JSON),
        (b"\x00\x03" * 50, PackFault.NOT_JSON),
        (b" " * (MAX_PACK_BYTES + 1), PackFault.TOO_LONG),
    ],
    ids=["brackets", "brackets in an unknown label", "400 digits", "not UTF-8", "NUL", "too long"],
)
def test_absurd_bytes_are_refused(payload: bytes, reason: PackFault) -> None:
    """Bytes that no text file can hold are refused with their reason."""
    with pytest.raises(PackError) as caught:
        parse_pack(payload)

    assert caught.value.reason == reason


@given(
    st.binary(max_size=200) | st.text(alphabet='[]{}:,"bntuvs_-/0123456789eE.truefalsn\\', max_size=120).map(str.encode)
)
@example(b'[{"bn":"a/","n":"b/emf","v":1e999}]')
def test_any_bytes_give_scans_or_a_pack_error(payload: bytes) -> None:
    """Whatever the bytes, nothing but PackError is raised."""
    try:
        told = parse_pack(payload)
    except PackError as error:
        reason: PackFault | None = error.reason
        told = ()
    else:
        reason = None

    assert all(isinstance(scan, Scan) for scan in told)
    assert reason is None or reason in PackFault


@given(scans())
@settings(max_examples=100)
def test_written_pack_reads_back_to_the_last_bit(scan: Scan) -> None:
    """A scan written and read is the same scan, floats bit for bit."""
    assert parse_pack(write_pack(scan)) == (scan,)


def test_scan_with_nothing_to_tell_is_not_written() -> None:
    """A scan without reading and seq is refused by the writer, since no pack would read back as it."""
    with pytest.raises(ValueError, match=r"shed-1 at 1764000000\.0"):
        write_pack(Scan("shed-1", 1764000000.0, ()))


def test_host_line_gives_the_clock() -> None:
    """A host line reads as a tick at its time and is written as the contract has it."""
    written = write_tick(1764000000.125)

    assert json.loads(written) == [{"bn": "host/", "bt": 1764000000.125, "n": "tick", "u": "count", "v": 1}]
    assert parse_line(written) == Tick(1764000000.125)


def test_host_line_of_another_form_is_read_as_well() -> None:
    """A host line need not look like ours."""
    assert parse_line(b'[{"bn":"host/","bt":1764000000,"n":"tick","v":2}]') == Tick(1764000000.0)


@pytest.mark.parametrize("clock", ["5", "1e15", "null"])
def test_host_line_without_a_clock_is_refused(clock: str) -> None:
    """A host line whose clock is relative, beyond the calendar or none is refused as a pack is."""
    with pytest.raises(PackError):
        parse_line(f'[{{"bn":"host/","bt":{clock},"n":"tick","u":"count","v":1}}]'.encode())


@pytest.mark.parametrize(
    ("payload", "node"),
    [
        (b'[{"bn":"shed-1/","n":"seq","v":1}]', "shed-1"),
        (b'[{"bu":"V"},{"n":"shed-2/t1/emf","v":1}]', "shed-2"),
        (b"[]", None),
        (b"[[", None),
        (b'[{"bn":"\xff"}]', None),
        (b'[{"x":' + b"[" * 100_000, None),
        (b'[{"bn":"/"}]', None),
    ],
)
def test_node_of_reads_the_first_name(payload: bytes, node: str | None) -> None:
    """The claimed node is the first name's first part, None where there is none to read."""
    assert node_of(payload) == node
