"""What a kiln is built of: its openings, walls, zones and side ports. Bounds stand with each field."""

from dataclasses import dataclass
from typing import Annotated, Literal

from msgspec import Meta

from simulator.physics.wall import Layer

Positive = Annotated[float, Meta(gt=0.0)]
NotNegative = Annotated[float, Meta(ge=0.0)]
Share = Annotated[float, Meta(ge=0.0, le=1.0)]
Name = Annotated[str, Meta(pattern="^[a-z][a-z0-9-]*$")]
Place = Literal["firebox", "front", "middle", "back", "flue", "chimney"]


@dataclass(frozen=True, slots=True)
class AirSpec:
    """Openings in m2, chimney height in m, ember bed in kg (see `EmberBed`); a shut damper still leaks."""

    chimney_m: Positive
    primary_m2: Positive
    secondary_m2: NotNegative
    door_m2: Positive
    damper_m2: Positive
    damper_leak_m2: Positive
    bed_shallow_kg: Positive
    bed_deep_kg: Positive


@dataclass(frozen=True, slots=True)
class WallSpec:
    """A build-up of wall, hot face first; the outer face gives heat to the shed at `outside_w_m2k`."""

    name: Name
    outside_w_m2k: Positive
    layer: Annotated[tuple[Layer, ...], Meta(min_length=1)]


@dataclass(frozen=True, slots=True)
class ZoneSpec:
    """One zone, called `name`, at `place`; several may share a place. `wall` names its build-up.

    Areas in m2 and emissivity as in `zones`; `ware_kg` is all that stands there, shelves included, of which the water
    in its pores, the clay (as kaolinite) and the quartz are `pore_water_kg`, `clay_kg`, `quartz_kg` (see `ware`).
    `mixing` of gas with air: see `flame`. Outside air leaks in through `leak_m2`. A tongue of flame moves the gas at a
    probe by the share `flicker` of its excess over the shed.
    """

    name: Name
    place: Place
    wall: Name
    wall_m2: Positive
    ware_m2: Positive
    ware_kg: Positive
    ware_j_kgk: Positive
    gas_emissivity: Share
    convection_w_m2k: Positive
    wall_sees_ware_m2: NotNegative
    sees_next_m2: NotNegative
    mixing: Share
    leak_m2: NotNegative
    flicker: Share
    pore_water_kg: NotNegative = 0.0
    clay_kg: NotNegative = 0.0
    quartz_kg: NotNegative = 0.0


@dataclass(frozen=True, slots=True)
class PortSpec:
    """A side port into the zone of that name: its free area when open, m2."""

    zone: Name
    area_m2: Positive
