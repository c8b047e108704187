"""A short cut for packs that look like one seen before: same names and units in the same order, other values.

A node says the same names each second, so names are judged once and kept as a layout. Only the plainest form passes:
base name and time in the first record, nothing but n, u, v, vs and vb in the others, all at one time. Whatever differs
or looks wrong is left to `resolve.py`, which gives the same scans more slowly or says what is wrong.
"""

from collections.abc import Callable, Sequence
from functools import lru_cache
from operator import itemgetter
from typing import Any, Final

import msgspec
from msgspec import UNSET, UnsetType

from monitor.model import Reading, Scan
from monitor.wire.fields import (
    COLD_JUNCTION,
    CONTACT,
    EMF,
    FAULT,
    HOST_NODE,
    INPUT_FIELDS,
    KnownName,
    NumberField,
    PackError,
    checked_boot,
    checked_fault,
    checked_time,
    known_name,
)

MAX_RECORDS: Final = 200
MAX_LAYOUTS: Final = 512

_Pick = Callable[[Sequence[Any]], tuple[Any, ...]]


class _First(msgspec.Struct, gc=False, forbid_unknown_fields=True):
    bn: str
    n: str
    bt: float = 0.0
    u: str | UnsetType = UNSET
    v: float | UnsetType = UNSET
    vs: str | UnsetType = UNSET
    vb: bool | UnsetType = UNSET


class _Plain(msgspec.Struct, gc=False, forbid_unknown_fields=True):
    n: str
    u: str | UnsetType = UNSET
    v: float | UnsetType = UNSET
    vs: str | UnsetType = UNSET
    vb: bool | UnsetType = UNSET


_Records = tuple[_First | _Plain, ...]


class Layout:
    """Where each field stands among the records of a pack.

    `limits` picks all numbers that share a low and a high. `emf` and `cold_junction` pick these from all `inputs` if
    the inputs have just these two, else `places` says where each field of each input is.
    """

    __slots__ = ("cold_junction", "emf", "inputs", "limits", "node", "own", "places", "units", "whole")

    def __init__(self, known: list[KnownName | None], units: list[str | UnsetType]) -> None:
        """Keep places and limits of the names `known`, one entry a record; None is a name that we do not know."""
        ours = [(i, k) for i, k in enumerate(known) if k is not None]
        self.node = ours[0][1].node
        self.units = units
        self.own = {k.field.name: i for i, k in ours if not k.input}
        self.whole = [i for i, k in ours if isinstance(k.field, NumberField) and k.field.is_whole]
        self.limits = _limits(ours)
        places: dict[str, list[int | None]] = {}
        for i, k in ours:
            if k.field.at is not None:
                places.setdefault(k.input, [None] * len(INPUT_FIELDS))[k.field.at] = i
        self.inputs = tuple(places)
        self.places = tuple(places.values())
        self.emf: _Pick | None = None
        self.cold_junction: _Pick | None = None
        if places and all(_is_pair(at) for at in self.places):
            self.emf = _pick([at[EMF] for at in self.places])
            self.cold_junction = _pick([at[COLD_JUNCTION] for at in self.places])


def scan_by_layout(payload: bytes, layouts: dict[tuple[str, ...], Layout]) -> Scan | None:
    """Return the one scan of a plain pack, None for whatever `resolve.py` must look at.

    Args:
        payload: the pack's bytes.
        layouts: the layouts seen so far; new ones are added, and all are forgotten at `MAX_LAYOUTS`.
    """
    count = payload.count(b"{")
    if not 0 < count <= MAX_RECORDS:
        return None
    try:
        records = _decoder(count).decode(payload)
        layout = _layout_of(records, layouts)
        return None if layout is None else _scan(layout, records)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError, PackError, TypeError):
        # The general way says what is wrong. TypeError: a value is missing, and UNSET compares with no number.
        return None


@lru_cache(maxsize=MAX_RECORDS)
def _decoder(count: int) -> msgspec.json.Decoder[_Records]:
    shape: Any = tuple[(_First, *[_Plain] * (count - 1))]  # type: ignore[misc]  # its length is known at run time
    return msgspec.json.Decoder(shape)


def _layout_of(records: _Records, layouts: dict[tuple[str, ...], Layout]) -> Layout | None:
    first = records[0]
    assert isinstance(first, _First)
    names = (first.bn, *[record.n for record in records])
    units = [record.u for record in records]
    layout = layouts.get(names)
    if layout is not None and layout.units == units:
        return layout
    known = [known_name(first.bn + record.n) for record in records]
    if not _is_plain(known, units):
        return None
    if len(layouts) >= MAX_LAYOUTS:
        layouts.clear()
    layout = layouts[names] = Layout(known, units)
    return layout


def _is_plain(known: list[KnownName | None], units: list[str | UnsetType]) -> bool:
    """Say whether the names are one node's, none twice, with the units agreed, and make a scan."""
    ours = [(k, unit) for k, unit in zip(known, units, strict=True) if k is not None]
    fields = {(k.input, k.field.name) for k, _ in ours}
    return (
        len({k.node for k, _ in ours}) == 1
        and ours[0][0].node != HOST_NODE
        and len(fields) == len(ours)
        and any(name or field == "seq" for name, field in fields)
        and all(unit in (k.field.unit, UNSET) for k, unit in ours if isinstance(k.field, NumberField))
    )


def _limits(ours: list[tuple[int, KnownName]]) -> list[tuple[_Pick, float, float]]:
    by_limits: dict[tuple[float, float], list[int | None]] = {}
    for i, k in ours:
        if isinstance(k.field, NumberField):
            by_limits.setdefault((k.field.low, k.field.high), []).append(i)
    return [(_pick(at), low, high) for (low, high), at in by_limits.items()]


def _is_pair(at: list[int | None]) -> bool:
    return [i for i, place in enumerate(at) if place is not None] == [EMF, COLD_JUNCTION]


def _pick(at: list[int | None]) -> _Pick:
    if len(at) > 1:
        return itemgetter(*at)
    only = at[0]
    assert only is not None
    return lambda values: (values[only],)


def _scan(layout: Layout, records: _Records) -> Scan | None:
    values = [record.v for record in records]
    for pick, low, high in layout.limits:
        numbers = pick(values)
        if min(numbers) < low or max(numbers) > high:
            return None
    own = layout.own
    if not all(_number(values, i).is_integer() for i in layout.whole):
        return None
    boot = own.get("boot")
    seq, oldest, up = own.get("seq"), own.get("oldest"), own.get("up")
    return Scan(
        layout.node,
        checked_time(records[0].bt),  # type: ignore[union-attr]  # the first record has the base fields
        _readings(layout, records, values),
        None if boot is None else _boot(records[boot].vs),
        None if seq is None else int(_number(values, seq)),
        None if oldest is None else int(_number(values, oldest)),
        None if up is None else _number(values, up),
    )


def _number(values: Sequence[float | UnsetType], at: int) -> float:
    number = values[at]
    assert number is not UNSET  # the limits were compared
    return number


@lru_cache(maxsize=256)
def _boot(word: str | UnsetType) -> str:
    if word is UNSET:
        raise TypeError("boot without a word")
    return checked_boot(word)


def _readings(layout: Layout, records: _Records, values: Sequence[float | UnsetType]) -> tuple[Reading, ...]:
    if layout.emf is not None and layout.cold_junction is not None:
        pairs = zip(layout.inputs, layout.emf(values), layout.cold_junction(values), strict=True)
        return tuple([Reading(name, emf, cold) for name, emf, cold in pairs])
    return tuple([_reading(name, at, records) for name, at in zip(layout.inputs, layout.places, strict=True)])


def _reading(name: str, at: list[int | None], records: _Records) -> Reading:
    fields: list[Any] = [None if i is None else records[i].v for i in at]
    if (place := at[FAULT]) is not None:
        fields[FAULT] = _fault(records[place].vs)
        fields[EMF] = None  # a converter in fault may hold an old emf
    if (place := at[CONTACT]) is not None:
        fields[CONTACT] = records[place].vb
        if fields[CONTACT] is UNSET:
            raise TypeError("contact without true or false")
    return Reading(name, *fields)


@lru_cache(maxsize=16)
def _fault(word: str | UnsetType) -> object:
    if word is UNSET:
        raise TypeError("fault without a word")
    return checked_fault(word)
