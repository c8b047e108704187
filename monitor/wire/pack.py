"""One SenML pack to scans and back (RFC 8428, JSON): the way in and out for everybody else.

What a node says and how packs are resolved is in `fields.py` and `resolve.py`, the short cuts in `layout.py` and
`template.py`. A pack is taken whole or refused whole with its reason, which the caller counts. What becomes of the
readings is decided elsewhere.
"""

from functools import lru_cache
from typing import Final, Literal

import msgspec
from msgspec import UNSET, UnsetType

from monitor.model import Entry, Reading, Scan, Tick
from monitor.wire.entry_line import read_entry
from monitor.wire.fields import HOST_NODE, LATEST_TIME_S, RELATIVE_BELOW_S, PackError, PackFault
from monitor.wire.layout import Layout, scan_by_layout
from monitor.wire.resolve import resolve_pack
from monitor.wire.template import Templates

MAX_PACK_BYTES: Final = 1 << 20
"""Longest pack that is looked at, bytes; a serial line holds far less (`line.py`)."""

_layouts: Final[dict[tuple[str, ...], Layout]] = {}
_templates: Final = Templates()
"""Layouts and templates seen so far: caches that change the speed of `parse_line`, never its result."""


class _NameOnly(msgspec.Struct, gc=False):
    bn: str = ""
    n: str = ""


class _Record(msgspec.Struct, omit_defaults=True, gc=False):
    n: str
    u: str | UnsetType = UNSET
    v: float | UnsetType = UNSET
    vs: str | UnsetType = UNSET
    vb: bool | UnsetType = UNSET


class _OpeningRecord(msgspec.Struct, omit_defaults=True, gc=False):
    bn: str
    bt: float
    n: str
    u: str | UnsetType = UNSET
    v: float | UnsetType = UNSET
    vs: str | UnsetType = UNSET
    vb: bool | UnsetType = UNSET


class _HostLine(msgspec.Struct, gc=False, forbid_unknown_fields=True):
    bn: Literal["host/"]
    bt: float
    n: Literal["tick"]
    u: Literal["count"]
    v: Literal[1]


_HOST_LINE: Final = msgspec.json.Decoder(tuple[_HostLine])
_HOST_BEGIN: Final = b'[{"bn":"host/"'
_ENCODER: Final = msgspec.json.Encoder()
_FIRST_NAME: Final = msgspec.json.Decoder(list[_NameOnly])


def parse_pack(payload: bytes) -> tuple[Scan, ...]:
    """Return the scans of one pack in the order in which they begin in it; times stay absolute or relative as sent.

    Raises:
        PackError: nothing else is ever raised, whatever the bytes.
    """
    scans = parse_line(payload)
    if isinstance(scans, Tick | Entry):
        raise PackError(PackFault.NAME, f"node name {HOST_NODE!r} is reserved for the service")
    return scans


def parse_line(payload: bytes) -> tuple[Scan, ...] | Tick | Entry:
    """Return what one line of a recording holds: scans, the host's clock, or what somebody told it.

    Raises:
        PackError: nothing else is ever raised, whatever the bytes.
    """
    if len(payload) > MAX_PACK_BYTES:
        raise PackError(PackFault.TOO_LONG, f"{len(payload)} bytes, at most {MAX_PACK_BYTES}")
    if payload.startswith(_HOST_BEGIN):
        return _plain_tick(payload) or read_entry(payload) or resolve_pack(payload)
    scan = _templates.scan(payload)
    if scan is None:
        scan = scan_by_layout(payload, _layouts)
        if scan is None:
            return resolve_pack(payload)
        _templates.learn(payload, scan)
    return (scan,)


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
    records: list[_Record] = []
    for reading in scan.readings:
        _add_records(records, _names(scan.node, reading.input), reading)
    _add_own_records(records, scan)
    if not scan.readings and scan.seq is None:
        raise ValueError(f"scan of {scan.node} at {scan.time} has neither a reading nor a seq")
    first = records[0]
    opened = _OpeningRecord(f"{scan.node}/", scan.time, first.n, first.u, first.v, first.vs, first.vb)
    return _ENCODER.encode([opened, *records[1:]])


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


@lru_cache(maxsize=4096)
def _names(node: str, input_name: str) -> tuple[str, ...]:
    """Return the names of an input's fields, in the order of `_add_records`."""
    label = input_name.removeprefix(f"{node}/")
    return tuple(f"{label}/{field}" for field in ("emf", "cj", "temp", "o2emf", "fault", "contact"))


def _add_records(records: list[_Record], names: tuple[str, ...], reading: Reading) -> None:
    emf, cold_junction, temperature, oxygen, fault, contact = names
    if reading.emf_volts is not None:
        records.append(_Record(emf, "V", reading.emf_volts))
    if reading.cold_junction_c is not None:
        records.append(_Record(cold_junction, "Cel", reading.cold_junction_c))
    if reading.temperature_c is not None:
        records.append(_Record(temperature, "Cel", reading.temperature_c))
    if reading.oxygen_emf_volts is not None:
        records.append(_Record(oxygen, "V", reading.oxygen_emf_volts))
    if reading.fault is not None:
        records.append(_Record(fault, vs=reading.fault.value))
    if reading.contact is not None:
        records.append(_Record(contact, vb=reading.contact))


def _add_own_records(records: list[_Record], scan: Scan) -> None:
    if scan.boot is not None:
        records.append(_Record("boot", vs=scan.boot))
    if scan.seq is not None:
        records.append(_Record("seq", "count", scan.seq))
    if scan.oldest is not None:
        records.append(_Record("oldest", "count", scan.oldest))
    if scan.up_s is not None:
        records.append(_Record("up", "s", scan.up_s))
