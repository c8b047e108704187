"""The lines between a simulated kiln that is fired by hand and whoever passes a person's orders on.

One JSON object a line over a stream socket, each with its `kind` and the `version` of this file. Orders go to the
kiln, an answer to each comes back with its number, and between them comes the present whenever it has changed. Times
are epoch seconds of kiln time, temperatures degC, wood wet kg, settings shares of full. There is no such line at a real
kiln: nothing here moves a damper.
"""

from typing import Final, Literal, TypeVar

import msgspec

VERSION: Final = 1
MAX_LINE_BYTES: Final = 64 * 1024

What = Literal[
    "take-over", "give-back", "report", "stoke", "side-stoke", "rake", "look", "damper", "primary", "secondary"
]
Armful = Literal["small", "usual", "big"]
Flame = Literal["none", "short", "long"]
Smoke = Literal["clear", "grey", "dark"]
Embers = Literal["low", "good", "deep", "choking"]


class Order(msgspec.Struct, frozen=True, tag="order", tag_field="kind", omit_defaults=True):
    """What a person wants done: `armful` for a stoke, `zone` for a side stoke, `to` (share of full) for a setting."""

    number: int
    what: What
    armful: Armful | None = None
    zone: str | None = None
    to: float | None = None
    version: int = VERSION


class Answer(msgspec.Struct, frozen=True, tag="answer", tag_field="kind"):
    """Whether order `number` is done, or in one word `why` not."""

    number: int
    done: bool
    why: str | None = None
    version: int = VERSION


class Lead(msgspec.Struct, frozen=True):
    """What the lead says now: the stage, minutes between stokes (0: none), the climb wanted, kg of a usual armful.

    A side stoke every `side_every_min` (0: none yet) into the zones `side_ports` in turn.
    """

    stage: str
    interval_min: float
    climb_c_per_h: float
    usual_kg: float
    side_every_min: float
    side_ports: tuple[str, ...]


class Sight(msgspec.Struct, frozen=True):
    """What a person at the kiln sees without an instrument.

    Flame at the spyholes of the chamber and at the flue, smoke at the chimney, and the ember bed as it was when a door
    last stood open, at `looked`.
    """

    spyhole: Flame
    flue: Flame
    smoke: Smoke
    embers: Embers | None
    looked: float | None


class Settings(msgspec.Struct, frozen=True):
    """How far damper and inlets stand open: `primary` under the grate, `secondary` above it."""

    damper: float
    primary: float
    secondary: float


class Port(msgspec.Struct, frozen=True):
    """A side port: the zone it opens into and that zone's place."""

    zone: str
    place: str


class Done(msgspec.Struct, frozen=True):
    """The last order that was carried out; `kg` of wood where it was a stoke."""

    time: float
    what: What
    zone: str | None
    kg: float | None


class Report(msgspec.Struct, frozen=True):
    """A practice from `begun` to `ended` in numbers; what cannot be told yet is None.

    Intervals are between front stokes, the longest gap counts its open ends too. `falls` and `stalls` are the
    simulator's truth. `lowest_c` and `highest_c` were read at the guide; `warmest` and `coldest` are the chamber's
    places by their ware at the end, with degC.
    """

    begun: float
    ended: float
    stokes: int
    side_stokes: int
    wood_kg: float
    mean_interval_min: float | None
    agreed_interval_min: float | None
    longest_gap_min: float
    falls: int
    stalls: int
    lowest_c: float
    highest_c: float
    warmest: tuple[str, float]
    coldest: tuple[str, float]


class Practice(msgspec.Struct, frozen=True, tag="practice", tag_field="kind"):
    """The present of a kiln to practise on.

    `in_hand` while a person fires it, since `begun`; `stokes` and `wood_kg` count from then. `notches` are the settings
    a hand can find. `report` is that of the practice that ended last, or of the present one where it was asked for.
    """

    in_hand: bool
    begun: float | None
    stokes: int
    wood_kg: float
    last_stoke: float | None
    lead: Lead
    sight: Sight
    settings: Settings
    notches: tuple[float, ...]
    ports: tuple[Port, ...]
    last: Done | None
    report: Report | None
    version: int = VERSION


class PracticeLineError(ValueError):
    """A line that is none of these, or of another version."""


_Message = TypeVar("_Message", Order, Answer | Practice)

_encode = msgspec.json.Encoder().encode
_ORDER: Final = msgspec.json.Decoder(Order)
_FROM_KILN: Final[msgspec.json.Decoder[Answer | Practice]] = msgspec.json.Decoder(Answer | Practice)


def write_practice_line(message: Order | Answer | Practice) -> bytes:
    """Return `message` as a line with its end."""
    return _encode(message) + b"\n"


def read_order(line: bytes) -> Order:
    """Return the order in `line`; raise `PracticeLineError` where there is none."""
    return _read(_ORDER, line)


def read_from_kiln(line: bytes) -> Answer | Practice:
    """Return what the kiln says in `line`; raise `PracticeLineError` where it says nothing that is known."""
    return _read(_FROM_KILN, line)


def _read(decoder: "msgspec.json.Decoder[_Message]", line: bytes) -> _Message:
    try:
        message = decoder.decode(line)
    except (msgspec.MsgspecError, UnicodeDecodeError) as error:
        raise PracticeLineError(str(error)) from error
    if message.version != VERSION:
        raise PracticeLineError(f"version {message.version} is not known here, only {VERSION}")
    return message
