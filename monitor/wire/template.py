"""A shorter cut still: a pack that differs from an earlier one of its node in numbers only, as one does each second.

The text around the numbers, once `layout.py` has made a scan of it, becomes a pattern. A pack that fits it is read as
the list of its numbers, within the limits of `fields.py`; its names, units, words and switches are those of the first.
Whatever does not fit is left to `layout.py`, which gives the same scan more slowly or leaves it to others in turn.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from operator import itemgetter
from typing import Annotated, Any, Final, TypeAlias

import msgspec

from monitor.model import Reading, Scan
from monitor.wire.fields import INPUT_FIELDS, NumberField, PackError, checked_time, known_name

MAX_TEMPLATES: Final = 256
MAX_NODES: Final = 64

_NUMBER: Final = re.compile(rb'"([a-z]+)": ?([-+.0-9eE]+)')
_GROUP: Final = rb"([-+.0-9eE]+)"
_BASE_TIME: Final = b'"bt":'

_Pick: TypeAlias = Callable[[Sequence[Any]], tuple[Any, ...]]


@dataclass(frozen=True, slots=True, eq=False)
class Template:
    """What packs of one text have in common.

    `pattern` finds a pack's numbers, the time first, and `numbers` reads them. Followed by `constants`, which are the
    same in each pack, they are what `columns` pick each field of all `inputs` from, and `own` the node's seq, oldest
    and up. Numbers at `whole` have no fraction.
    """

    node: str
    boot: str | None
    inputs: tuple[str, ...]
    pattern: re.Pattern[bytes]
    numbers: msgspec.json.Decoder[tuple[Any, ...]]
    whole: tuple[int, ...]
    constants: tuple[object, ...]
    columns: tuple[_Pick, ...]
    own: _Pick


class Templates:
    """The templates seen so far: a cache that changes the speed of reading, never its result."""

    def __init__(self) -> None:
        self._newest: dict[bytes, Template] = {}
        self._known: dict[bytes, Template | None] = {}
        self._texts: dict[bytes, bytes] = {}

    def __len__(self) -> int:
        """Return how many texts are known."""
        return len(self._known)

    def scan(self, payload: bytes) -> Scan | None:
        """Return the scan of a pack that fits its node's newest template, None for whatever must be looked at."""
        template = self._newest.get(_opening(payload))
        return None if template is None else _scan(template, payload)

    def learn(self, payload: bytes, scan: Scan) -> None:
        """Take up a pack that fitted none and what it holds; a text that comes twice in a row gets a template."""
        if _BASE_TIME not in payload:
            return
        node, text = _opening(payload), _NUMBER.sub(rb'"\1":', payload)
        if self._texts.get(node) != text:
            self._forget_many()
            self._texts[node] = text
            return
        if text not in self._known:
            self._known[text] = _template(payload, scan)
        if (template := self._known[text]) is not None:
            self._newest[node] = template

    def _forget_many(self) -> None:
        if len(self._known) >= MAX_TEMPLATES:
            self._known.clear()
        if len(self._texts) >= MAX_NODES:
            self._texts.clear()
            self._newest.clear()


def _opening(payload: bytes) -> bytes:
    """Return what stands before the time: the node's name, where packs are plain."""
    return payload[: payload.find(_BASE_TIME)]


def _scan(template: Template, payload: bytes) -> Scan | None:
    match = template.pattern.fullmatch(payload)
    if match is None:
        return None
    try:
        numbers = template.numbers.decode(b"[%b]" % b",".join(match.groups()))
        time = checked_time(numbers[0])
    except (msgspec.DecodeError, PackError):
        return None  # the general way says what is wrong
    for at in template.whole:
        if not numbers[at].is_integer():
            return None
    told = numbers + template.constants
    seq, oldest, up_s = template.own(told)
    return Scan(
        template.node,
        time,
        tuple(map(Reading, template.inputs, *[pick(told) for pick in template.columns])),
        template.boot,
        None if seq is None else int(seq),
        None if oldest is None else int(oldest),
        up_s,
    )


def _template(payload: bytes, scan: Scan) -> Template | None:
    """Return the template of a pack that holds `scan`, None where its numbers cannot be told apart by their place."""
    records = msgspec.json.decode(payload)
    names = [known_name(records[0]["bn"] + record["n"]) for record in records if "v" in record]
    found = list(_NUMBER.finditer(payload))
    # a backslash could hide a quote, and with it where a word ends
    if b"\\" in payload or [number[1] for number in found] != [b"bt", *[b"v"] * len(names)]:
        return None
    fields = [name.field if name and isinstance(name.field, NumberField) else None for name in names]
    places = {(name.input, name.field.name): at for at, name in enumerate(names, 1) if name and fields[at - 1]}
    constants: list[object] = []

    def place_of(name: str, field: str, told: object) -> int:
        if told is not None and (name, field) in places:
            return places[name, field]
        constants.append(told)
        return len(fields) + len(constants)

    columns = [
        _pick([place_of(reading.input, field, getattr(reading, told)) for reading in scan.readings])
        for field, told in zip(INPUT_FIELDS, Reading.__struct_fields__[1:], strict=True)
    ]
    own = _pick([place_of("", "seq", scan.seq), place_of("", "oldest", scan.oldest), place_of("", "up", scan.up_s)])
    return Template(
        scan.node,
        scan.boot,
        tuple(reading.input for reading in scan.readings),
        _pattern(payload, found),
        _numbers(fields),
        tuple(at for at, field in enumerate(fields, 1) if field is not None and field.is_whole),
        tuple(constants),
        tuple(columns),
        own,
    )


def _pattern(payload: bytes, found: list[re.Match[bytes]]) -> re.Pattern[bytes]:
    ends = [0, *[number.end(2) for number in found]]
    begins = [*[number.start(2) for number in found], len(payload)]
    texts = [payload[end:begin] for end, begin in zip(ends, begins, strict=True)]
    return re.compile(_GROUP.join(map(re.escape, texts)))


def _numbers(fields: list[NumberField | None]) -> msgspec.json.Decoder[tuple[Any, ...]]:
    """Return what reads a time and a number for each of `fields` (None: not ours) and holds them to their limits."""
    kinds = [float if f is None else Annotated[float, msgspec.Meta(ge=f.low, le=f.high)] for f in fields]
    shape: Any = tuple.__class_getitem__((float, *kinds))  # its length is known at run time
    return msgspec.json.Decoder(shape)


def _pick(places: list[int]) -> _Pick:
    if len(places) > 1:
        return itemgetter(*places)
    return lambda told: tuple([told[at] for at in places])
