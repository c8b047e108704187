"""Any SenML pack to scans: base fields, relative times and several scans resolved as RFC 8428 sections 4.1 to 4.6 say.

This is the general way. `layout.py` takes a short cut for packs that look like the one before and must give the same.
"""

from typing import Final

import msgspec
from msgspec import UNSET, UnsetType

from monitor.model import InputFault, Reading, Scan, Tick
from monitor.wire.fields import (
    EMF,
    FAULT,
    HOST_NODE,
    INPUT_FIELDS,
    RELATIVE_BELOW_S,
    NumberField,
    PackError,
    PackFault,
    WordField,
    checked_boot,
    checked_fault,
    checked_time,
    known_name,
)

NEWEST_VERSION: Final = 10
"""RFC 8428 section 4.4: the version it defines; a higher one is not ours to read."""


class _Record(msgspec.Struct, gc=False):
    bn: str | UnsetType = UNSET
    bt: float | UnsetType = UNSET
    bu: str | UnsetType = UNSET
    bv: float | UnsetType = UNSET
    bver: int | UnsetType = UNSET
    n: str | UnsetType = UNSET
    t: float | UnsetType = UNSET
    u: str | UnsetType = UNSET
    v: float | UnsetType = UNSET
    vs: str | UnsetType = UNSET
    vb: bool | UnsetType = UNSET


_RECORDS: Final = msgspec.json.Decoder(list[_Record])
_LABELS: Final = msgspec.json.Decoder(list[dict[str, msgspec.Raw]])

_Fields = list[float | bool | InputFault | None]


class _Group:
    """The records of one moment: fields by input, and the node's own numbers and boot."""

    __slots__ = ("boot", "inputs", "numbers")

    def __init__(self) -> None:
        self.inputs: dict[str, _Fields] = {}
        self.numbers: dict[str, float] = {}
        self.boot: str | None = None


class _Pack:
    """Base fields as they stand, and what was gathered so far."""

    __slots__ = ("base_name", "base_time", "base_unit", "base_value", "groups", "node")

    def __init__(self) -> None:
        self.base_name = ""
        self.base_time = 0.0
        self.base_unit: str | UnsetType = UNSET
        self.base_value = 0.0
        self.node = ""
        self.groups: dict[float, _Group] = {}


def resolve_pack(payload: bytes) -> tuple[Scan, ...] | Tick:
    """Return the scans of one pack in the order in which they begin in it, or the host's tick.

    Raises:
        PackError: the pack is refused.
    """
    pack = _Pack()
    for record in _decode(payload):
        _take_record(pack, record)
    return _tick(pack) if pack.node == HOST_NODE else _scans(pack)


def _decode(payload: bytes) -> list[_Record]:
    try:
        records = _RECORDS.decode(payload)
        # An escaped label could hide its last character, so any backslash asks for the slow look.
        if b'_"' in payload or b"\\" in payload:
            _refuse_unknown_labels(payload)
    except msgspec.ValidationError as error:
        raise PackError(PackFault.WRONG_TYPE, str(error)) from None
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        raise PackError(PackFault.NOT_JSON, str(error)) from None
    return records


def _refuse_unknown_labels(payload: bytes) -> None:
    for record in _LABELS.decode(payload):
        for label in record:
            if label.endswith("_"):
                raise PackError(PackFault.UNKNOWN_LABEL, f"label {label!r} must be understood and is not")


def _take_record(pack: _Pack, record: _Record) -> None:
    _take_base(pack, record)
    known = known_name(pack.base_name if record.n is UNSET else pack.base_name + record.n)
    if known is None:
        return
    if pack.node not in ("", known.node):
        raise PackError(PackFault.NAME, f"two nodes in one pack: {pack.node!r} and {known.node!r}")
    pack.node = known.node
    time = checked_time(pack.base_time if record.t is UNSET else pack.base_time + record.t)
    group = pack.groups.setdefault(time, _Group())
    if known.input:
        _take_input(pack, group.inputs.setdefault(known.input, [None] * len(INPUT_FIELDS)), known.field, record)
    else:
        _take_own(pack, group, known.field, record)


def _take_base(pack: _Pack, record: _Record) -> None:
    if record.bver is not UNSET and record.bver > NEWEST_VERSION:
        raise PackError(PackFault.VERSION, f"version {record.bver}, at most {NEWEST_VERSION}")
    if record.bn is not UNSET:
        pack.base_name = record.bn
    if record.bt is not UNSET:
        pack.base_time = record.bt
    if record.bu is not UNSET:
        pack.base_unit = record.bu
    if record.bv is not UNSET:
        pack.base_value = record.bv


def _take_input(pack: _Pack, fields: _Fields, field: NumberField | WordField, record: _Record) -> None:
    assert field.at is not None
    if fields[field.at] is not None:
        raise PackError(PackFault.REPEATED, f"{record.n!r} twice in one scan")
    if isinstance(field, NumberField):
        fields[field.at] = _number(pack, field, record)
    elif field.at == FAULT:
        fields[field.at] = checked_fault(_word(record))
    elif record.vb is UNSET:
        raise PackError(PackFault.NO_VALUE, f"{record.n!r} needs true or false in `vb`")
    else:
        fields[field.at] = record.vb


def _take_own(pack: _Pack, group: _Group, field: NumberField | WordField, record: _Record) -> None:
    if field.name in group.numbers or (field.name == "boot" and group.boot is not None):
        raise PackError(PackFault.REPEATED, f"{record.n!r} twice in one scan")
    if isinstance(field, NumberField):
        group.numbers[field.name] = _number(pack, field, record)
    else:
        group.boot = checked_boot(_word(record))


def _number(pack: _Pack, field: NumberField, record: _Record) -> float:
    if record.v is UNSET:
        raise PackError(PackFault.NO_VALUE, f"{record.n!r} needs a number in `v`")
    unit = pack.base_unit if record.u is UNSET else record.u
    if unit != field.unit and unit is not UNSET:
        raise PackError(PackFault.UNIT, f"{record.n!r} in {unit!r}, must be {field.unit!r}")
    value = record.v + pack.base_value
    if not field.low <= value <= field.high or (field.is_whole and not value.is_integer()):
        raise PackError(PackFault.RANGE, f"{record.n!r} is {value!r}")
    return value


def _word(record: _Record) -> str:
    if record.vs is UNSET:
        raise PackError(PackFault.NO_VALUE, f"{record.n!r} needs a word in `vs`")
    return record.vs


def _tick(pack: _Pack) -> Tick:
    times = [time for time, group in pack.groups.items() if "tick" in group.numbers]
    if len(times) != 1 or times[0] < RELATIVE_BELOW_S:
        raise PackError(PackFault.NO_VALUE, "a host line needs one tick at an absolute time")
    return Tick(times[0])


def _scans(pack: _Pack) -> tuple[Scan, ...]:
    """Make a scan of each moment that has a reading or a seq; what a pack says once holds for all its scans."""
    boot = next((group.boot for group in pack.groups.values() if group.boot is not None), None)
    oldest = next((g.numbers["oldest"] for g in pack.groups.values() if "oldest" in g.numbers), None)
    up = next(((time, g.numbers["up"]) for time, g in pack.groups.items() if "up" in g.numbers), None)
    scans = []
    for time, group in pack.groups.items():
        if group.inputs or "seq" in group.numbers:
            numbers = group.numbers
            up_s = numbers.get("up", None if up is None else up[1] + (time - up[0]))
            scans.append(
                Scan(
                    pack.node,
                    time,
                    tuple([_reading(name, fields) for name, fields in group.inputs.items()]),
                    boot=boot if group.boot is None else group.boot,
                    seq=_whole(numbers.get("seq")),
                    oldest=_whole(numbers.get("oldest", oldest)),
                    up_s=up_s,
                )
            )
    return tuple(scans)


def _whole(number: float | None) -> int | None:
    return None if number is None else int(number)


def _reading(name: str, fields: _Fields) -> Reading:
    if fields[FAULT] is not None:
        fields[EMF] = None  # a converter in fault may hold an old emf
    return Reading(name, *fields)  # type: ignore[arg-type]  # the table of fields keeps each in its place
