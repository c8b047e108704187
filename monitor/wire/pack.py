"""One SenML pack to scans and back (RFC 8428, JSON): the way in and out for everybody else.

What a node says and how packs are resolved is in `fields.py` and `resolve.py`. A pack is taken whole or refused whole
with its reason, which the caller counts. What becomes of the readings is decided elsewhere.
"""

from typing import Final, Literal

import msgspec

from monitor.model import Reading, Scan, Tick
from monitor.wire.fields import HOST_NODE, LATEST_TIME_S, RELATIVE_BELOW_S, PackError, PackFault
from monitor.wire.layout import Layout, scan_by_layout
from monitor.wire.resolve import resolve_pack

MAX_PACK_BYTES: Final = 1 << 20
"""Longest pack that is looked at, bytes; a serial line holds far less (`line.py`)."""

_layouts: Final[dict[tuple[str, ...], Layout]] = {}
"""Layouts seen so far: a cache that changes the speed of `parse_line`, never its result."""


class _NameOnly(msgspec.Struct, gc=False):
    bn: str = ""
    n: str = ""


class _HostLine(msgspec.Struct, gc=False, forbid_unknown_fields=True):
    bn: Literal["host/"]
    bt: float
    n: Literal["tick"]
    u: Literal["count"]
    v: Literal[1]


_HOST_LINE: Final = msgspec.json.Decoder(tuple[_HostLine])
_HOST_BEGIN: Final = b'[{"bn":"host/"'
_FIRST_NAME: Final = msgspec.json.Decoder(list[_NameOnly])


def parse_pack(payload: bytes) -> tuple[Scan, ...]:
    """Return the scans of one pack in the order in which they begin in it; times stay absolute or relative as sent.

    Raises:
        PackError: nothing else is ever raised, whatever the bytes.
    """
    scans = parse_line(payload)
    if isinstance(scans, Tick):
        raise PackError(PackFault.NAME, f"node name {HOST_NODE!r} is reserved for the service")
    return scans


def parse_line(payload: bytes) -> tuple[Scan, ...] | Tick:
    """Return what one line of a recording holds: scans, or the host's clock.

    Raises:
        PackError: nothing else is ever raised, whatever the bytes.
    """
    if len(payload) > MAX_PACK_BYTES:
        raise PackError(PackFault.TOO_LONG, f"{len(payload)} bytes, at most {MAX_PACK_BYTES}")
    if payload.startswith(_HOST_BEGIN):
        return _plain_tick(payload) or resolve_pack(payload)
    scan = scan_by_layout(payload, _layouts)
    return resolve_pack(payload) if scan is None else (scan,)


def node_of(payload: bytes) -> str | None:
    """Return the node that a pack's first name claims, None where that cannot be read; check nothing else."""
    try:
        names = _FIRST_NAME.decode(payload)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        return None
    first = next((name.bn + name.n for name in names if name.bn or name.n), "")
    return first.partition("/")[0] or None


def write_pack(scan: Scan) -> bytes:
    """Return `scan` as one pack, numbers with as many digits as their full resolution needs.

    Raises:
        ValueError: a scan without a reading and without `seq` cannot be told on the wire.
    """
    records = [record for reading in scan.readings for record in _input_records(scan.node, reading)]
    records += _own_records(scan)
    if not scan.readings and scan.seq is None:
        raise ValueError(f"scan of {scan.node} at {scan.time} has neither a reading nor a seq")
    records[0] = {"bn": f"{scan.node}/", "bt": scan.time, **records[0]}
    return msgspec.json.encode(records)


def write_tick(clock: float) -> bytes:
    """Return the host line that says that the record clock is `clock`, epoch seconds."""
    return msgspec.json.encode([{"bn": f"{HOST_NODE}/", "bt": clock, "n": "tick", "u": "count", "v": 1}])


def _plain_tick(payload: bytes) -> Tick | None:
    """Return the clock of a host line as we write it, None for one that must be looked at more closely."""
    try:
        clock = _HOST_LINE.decode(payload)[0].bt
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        return None
    return Tick(clock) if RELATIVE_BELOW_S <= clock < LATEST_TIME_S else None


def _input_records(node: str, reading: Reading) -> list[dict[str, object]]:
    name = reading.input.removeprefix(f"{node}/")
    numbers = (
        ("emf", "V", reading.emf_volts),
        ("cj", "Cel", reading.cold_junction_c),
        ("temp", "Cel", reading.temperature_c),
        ("o2emf", "V", reading.oxygen_emf_volts),
    )
    records: list[dict[str, object]] = [
        {"n": f"{name}/{field}", "u": unit, "v": value} for field, unit, value in numbers if value is not None
    ]
    if reading.fault is not None:
        records.append({"n": f"{name}/fault", "vs": reading.fault.value})
    if reading.contact is not None:
        records.append({"n": f"{name}/contact", "vb": reading.contact})
    return records


def _own_records(scan: Scan) -> list[dict[str, object]]:
    records: list[dict[str, object]] = [] if scan.boot is None else [{"n": "boot", "vs": scan.boot}]
    counts = (("seq", "count", scan.seq), ("oldest", "count", scan.oldest), ("up", "s", scan.up_s))
    return records + [{"n": name, "u": unit, "v": value} for name, unit, value in counts if value is not None]
