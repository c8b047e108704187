"""The site file: `kiln.toml` text to a checked Site, all errors at once.

What a site may say is in the section "The site file" of DEVELOPERS.md. Every error names the file, the key and what is
allowed, so that a person can put it right without reading this.
"""

import re
from datetime import datetime
from enum import StrEnum
from itertools import pairwise
from typing import Annotated, Any, Literal, Self
from zoneinfo import available_timezones

from pydantic import AfterValidator, Field, field_validator, model_validator

from monitor.plan import Plan
from monitor.site_people import AgreedPart, CrewPart, EmergencyPart
from monitor.strict_toml import StrictPart, check_part, read_toml

TypeLetter = Literal["B", "E", "J", "K", "N", "R", "S", "T", "zirconia"]
"""Letters of IEC 60584-1, and the oxygen probe."""

TIMBER = "timber"


class Place(StrEnum):
    """Where a sensor stands; timber is outside all kiln findings."""

    FIREBOX = "firebox"
    FRONT = "front"
    MIDDLE = "middle"
    BACK = "back"
    FLUE = "flue"
    TIMBER = "timber"


CHAMBER_PLACES = (Place.FRONT, Place.MIDDLE, Place.BACK)
GUIDE_ORDER = (Place.MIDDLE, Place.FRONT, Place.BACK, Place.FIREBOX)


def _not_host(name: str) -> str:
    if name.startswith("host/"):
        raise ValueError("the node name 'host' is reserved for the service itself")
    return name


InputName = Annotated[
    str,
    Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9:._-]*/[A-Za-z0-9][A-Za-z0-9:._-]*$"),
    AfterValidator(_not_host),
]
"""Node and input as the node sends them: "shed-1/t1"."""


class KilnPart(StrictPart):
    """Name of the kiln and the time zone its people live by."""

    name: Annotated[str, Field(min_length=1, max_length=80)]
    id: Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]*$")] = ""
    time_zone: str = "UTC"

    @field_validator("time_zone")
    @classmethod
    def _known_zone(cls, zone: str) -> str:
        if zone not in available_timezones():
            raise ValueError("use an IANA name such as 'Europe/Lisbon', or 'UTC'")
        return zone

    @model_validator(mode="before")
    @classmethod
    def _default_id(cls, part: Any) -> Any:
        if isinstance(part, dict) and "id" not in part and isinstance(part.get("name"), str):
            plain = re.sub(r"[^a-z0-9]", "-", part["name"].lower()).strip("-")
            return {**part, "id": plain or "kiln"}
        return part


class SourcePart(StrictPart):
    """One way in: a serial device by its stable name, the broker, or a bus read by the host itself."""

    kind: Literal["serial", "mqtt", "modbus", "spi"]
    device: Annotated[str, Field(min_length=1)] | None = None

    @model_validator(mode="after")
    def _device_where_needed(self) -> Self:
        if (self.kind == "serial") != (self.device is not None):
            raise ValueError('a serial source needs device = "/dev/serial/by-id/..."; no other source has one')
        return self


class SensorPart(StrictPart):
    """One sensor: which input it hangs on, its type letter, its place, and its correction (degC read, degC to add).

    `limit_c` is what must never be passed there, for brick, shelves or the probe itself.
    """

    id: Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]*$")]
    input: InputName
    type: TypeLetter | None = None
    place: Place
    limit_c: float | None = None
    correction: tuple[tuple[float, float], ...] = ()

    @field_validator("id")
    @classmethod
    def _not_time(cls, sensor_id: str) -> str:
        if sensor_id == "time":
            raise ValueError("'time' names the time column; choose another id")
        return sensor_id

    @field_validator("correction")
    @classmethod
    def _rising(cls, points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        if any(a[0] >= b[0] for a, b in pairwise(points)):
            raise ValueError("the degC read must rise from point to point")
        return points


class ContactPart(StrictPart):
    """A switch at a door, or a button that whoever stokes presses: a stoke begins when it opens.

    `open` is what the node sends while the door stands open or the button is pressed.
    """

    input: InputName
    door: Literal["front", "side"]
    open: Annotated[bool, Field(strict=True)] = True


class ButtonPart(StrictPart):
    """A button that gloves can press: whoever presses it has seen what sounds, or shows that they are there.

    `pressed` is what the node sends while it is pressed.
    """

    input: InputName
    means: Literal["seen", "present"]
    pressed: Annotated[bool, Field(strict=True)] = True


class PlanPart(StrictPart):
    """The agreed course: hours from lighting, degC at the guiding sensor."""

    lit: datetime | None = None
    points: Annotated[tuple[tuple[float, float], ...], Field(min_length=2)]
    guide: str | None = None

    @field_validator("lit")
    @classmethod
    def _with_offset(cls, lit: datetime | None) -> datetime | None:
        if lit is not None and lit.tzinfo is None:
            raise ValueError("give the offset from UTC, such as 2026-11-20T06:00:00+00:00")
        return lit

    @field_validator("points")
    @classmethod
    def _rising(cls, points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        if any(a[0] >= b[0] for a, b in pairwise(points)):
            raise ValueError("hours must rise from point to point")
        return points


class BrokerPart(StrictPart):
    """An MQTT broker to publish to (and to read from where a source says mqtt)."""

    host: Annotated[str, Field(min_length=1)]
    port: Annotated[int, Field(ge=1, le=65535)] = 1883
    user: str | None = None
    password_file: str | None = None
    ca_file: str | None = None


class PanelPart(StrictPart):
    """Names, beside addresses and localhost, under which browsers may ask for the panel."""

    hosts: tuple[str, ...] = ()


class AlarmsPart(StrictPart):
    """The site's own alarm table, beside the site file; without it the shipped one."""

    table: Annotated[str, Field(min_length=1)] | None = None


class Site(StrictPart):
    """A whole, checked site file."""

    kiln: KilnPart
    source: tuple[SourcePart, ...] = ()
    sensor: Annotated[tuple[SensorPart, ...], Field(min_length=1, max_length=64)]
    contact: Annotated[tuple[ContactPart, ...], Field(max_length=16)] = ()
    button: Annotated[tuple[ButtonPart, ...], Field(max_length=16)] = ()
    plan: PlanPart | None = None
    broker: BrokerPart | None = None
    panel: PanelPart = PanelPart()
    agreed: AgreedPart = AgreedPart()
    crew: CrewPart = CrewPart()
    emergency: EmergencyPart | None = None
    alarms: AlarmsPart = AlarmsPart()

    @property
    def guide(self) -> str | None:
        """The sensor id whose climb is judged, None where no sensor can guide."""
        if self.plan is not None and self.plan.guide is not None:
            return self.plan.guide
        heat = [s for s in self.sensor if s.type != "zirconia"]
        return next((s.id for place in GUIDE_ORDER for s in heat if s.place == place), None)

    @property
    def agreed_plan(self) -> Plan | None:
        """The plan as the engine takes it."""
        if self.plan is None:
            return None
        lit = None if self.plan.lit is None else self.plan.lit.timestamp()
        return Plan(points=self.plan.points, lit=lit)

    @property
    def nodes(self) -> tuple[str, ...]:
        """The nodes that sensors, contacts and buttons hang on, in the file's order."""
        switches = [c.input for c in self.contact] + [b.input for b in self.button]
        inputs = [s.input for s in self.sensor] + switches
        return tuple(dict.fromkeys(name.partition("/")[0] for name in inputs))

    def sensor_index(self) -> dict[str, int]:
        """Map each full input name to its sensor's position."""
        return {s.input: i for i, s in enumerate(self.sensor)}


def parse_site(text: str, file: str) -> Site:
    """Return the Site that `text` (TOML, read from `file`) describes.

    Raises:
        ProblemsError: with every problem found, each naming `file`, the key and what is allowed.
    """
    raw = read_toml(text, file)
    return check_part(Site, raw, file, hints=_PATTERN_HELP, across=_cross_problems(file, raw))


_PATTERN_HELP = {
    "id": "use lower-case letters, digits and '-'; a sensor's id begins with a letter",
    "input": "write node and input as the node sends them, such as 'shed-1/t1'",
}


def _cross_problems(file: str, raw: dict[str, Any]) -> list[str]:
    """Find repeated ids, inputs used twice and a guide that is no sensor, in whatever is readable of `raw`."""
    problems: list[str] = []
    for key, tables, rule in (
        ("id", ("sensor",), "ids must differ"),
        ("input", ("sensor", "contact", "button"), "each input feeds one sensor, contact or button"),
    ):
        first: dict[str, str] = {}
        for table in tables:
            for number, part in enumerate(_tables(raw, table), start=1):
                word, here = part.get(key), f"{table}[{number}]"
                if isinstance(word, str) and first.setdefault(word, here) != here:
                    problems.append(f"{file}: {here}.{key}: {word!r} is used by {first[word]} too; {rule}")
    plan = raw.get("plan")
    guide = plan.get("guide") if isinstance(plan, dict) else None
    ids = [s.get("id") for s in _tables(raw, "sensor")]
    if isinstance(guide, str) and guide not in ids:
        problems.append(f"{file}: plan.guide: {guide!r} is no sensor's id; use one of {', '.join(map(str, ids))}")
    kinds = [s.get("kind") for s in _tables(raw, "source")]
    if "mqtt" in kinds and "broker" not in raw:
        problems.append(f'{file}: source: an mqtt source needs a [broker] with at least host = "..."')
    return problems


def _tables(raw: dict[str, Any], name: str) -> list[dict[str, Any]]:
    """Return the tables `[[name]]` that are readable."""
    found = raw.get(name)
    return [part for part in found if isinstance(part, dict)] if isinstance(found, list) else []
