"""The lines of a truth file as records, the same for writing and for reading.

Times are epoch seconds. A header comes first, then stokes and spans in order of time, cones, and one line a minute.
"""

from collections.abc import Callable

import msgspec

from monitor.model import FindingKind, SensorFault
from simulator.truth.stokes import Door

UNITS = {
    "time": "s since the Unix epoch",
    "hours": "h from lighting",
    "temperature": "Cel",
    "excess_air": "1, air that reached the zone over the demand there and upstream, as for reduction",
    "air, demand": "kg/s, means of the minute",
    "wood, embers": "kg",
    "door, ports": "1, share of the minute that they stood open",
    "heat_work": "1, a cone is down at 1",
}
WORDS = {
    "stoke": "charges through one kind of door less than 75 s apart are one, at the first; raking is none",
    "stall": "slope of the guiding ware over max(20 min, 2.5 I) below 5 Cel/h for 20 min where the plan climbs at "
    "20 or more and the ware is less than 10 Cel above it; below a quarter of a plan of 8 to 20 Cel/h, over 90 min, "
    "for 60 min. Without a plan: where the last 3 h climbed at 20 Cel/h or more and no hold is meant",
    "fall": "ware or gas of a chamber zone, over max(10 min, 2.5 I), over 10 Cel below its high of 30 min, for 5 min",
    "reduction": "excess air of a zone, over max(10 min, 2.5 I), below 1 for 10 min",
    "rhythm": "five front intervals in a row 25 % off what is intended, three of them 15 % off each",
    "sensor": "what a probe, its lead, its converter or its line did wrong, from first to last",
    "cone": "a witness cone in the ware; begins to bend at a lean of 5 degrees",
    "I": "the front-stoke interval that the crew intends in the stage",
}


class StageWords(msgspec.Struct, frozen=True):
    """A stage as the crew means it: when it begins and the interval of its front stokes, 0 for none."""

    name: str
    begin_h: float
    interval_min: float


class ZoneWords(msgspec.Struct, frozen=True):
    """A zone and where it is."""

    name: str
    place: str


class SensorWords(msgspec.Struct, frozen=True):
    """A sensor, its letter, and the zone it stands in."""

    id: str
    type: str
    zone: str


class HeaderLine(msgspec.Struct, frozen=True, kw_only=True):
    """Which firing this is the truth of. `plan` is None where the site knows none."""

    kind: str = "truth"
    version: int = 1
    kiln: str
    scenario: str
    seed: int
    lit: float
    begin: float
    end: float
    plan: tuple[tuple[float, float], ...] | None
    guide: str
    stages: tuple[StageWords, ...]
    zones: tuple[ZoneWords, ...]
    sensors: tuple[SensorWords, ...]
    units: dict[str, str] = msgspec.field(default_factory=lambda: dict(UNITS))
    words: dict[str, str] = msgspec.field(default_factory=lambda: dict(WORDS))


class StokeLine(msgspec.Struct, frozen=True, kw_only=True):
    """A stoke."""

    kind: str = "stoke"
    time: float
    door: Door
    zone: str
    wet_kg: float
    charges: int


class SpanLine(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A stall, fall, reduction, rhythm or sensor fault; fields that say nothing about its kind are left out."""

    kind: FindingKind
    begin: float
    end: float
    zones: tuple[str, ...] = ()
    ratio: float | None = None
    sensor: str | None = None
    fault: SensorFault | None = None
    cause: str | None = None


class ConeLine(msgspec.Struct, frozen=True, kw_only=True):
    """A witness cone: when it began to bend and when it was down, null for not in this firing."""

    kind: str = "cone"
    zone: str
    cone: str
    bends: float | None
    down: float | None
    heat_work: float
    bend_deg: float


class MinuteLine(msgspec.Struct, frozen=True, kw_only=True):
    """One minute, `time` its middle; a number per zone or, for junctions, per sensor in the header's order."""

    kind: str = "minute"
    time: float
    gas_c: list[float]
    ware_c: list[float]
    junction_c: list[float]
    excess_air: list[float | None]
    air_kg_s: list[float]
    demand_kg_s: list[float]
    embers_kg: float
    door: float
    ports: list[float]


Line = HeaderLine | StokeLine | SpanLine | ConeLine | MinuteLine


class _Kind(msgspec.Struct):
    kind: str


_decode_kind = msgspec.json.Decoder(_Kind).decode
_decode_span = msgspec.json.Decoder(SpanLine).decode
_DECODERS: dict[str, Callable[[bytes], Line]] = {
    "truth": msgspec.json.Decoder(HeaderLine).decode,
    "stoke": msgspec.json.Decoder(StokeLine).decode,
    "cone": msgspec.json.Decoder(ConeLine).decode,
    "minute": msgspec.json.Decoder(MinuteLine).decode,
}


def write_line(line: Line) -> bytes:
    """Return `line` as JSON with its end of line."""
    return msgspec.json.encode(line) + b"\n"


def parse_line(text: bytes) -> Line:
    """Return the record that `text` holds.

    Raises:
        msgspec.ValidationError: where it is none.
    """
    return _DECODERS.get(_decode_kind(text).kind, _decode_span)(text)
