"""The sensors of a simulated kiln and the switches at its doors."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Literal

from msgspec import Meta

from monitor.thermocouple.tolerance import CLASSES
from simulator.spec.kiln_parts import Positive, Share

ZIRCONIA: Literal["zirconia"] = "zirconia"
"""Type of an oxygen probe."""


@dataclass(frozen=True, slots=True)
class SensorSpec:
    """One thermocouple by its letter of IEC 60584-1, or an oxygen probe (`zirconia`), in the zone called `zone`.

    Sheath `sheath_mm` thick, reaching `immersion_mm` beyond the wall's inner face; `sees_ware` is the share of its
    surroundings that is ware, the rest wall; its connection head gets `head_rise_c` warmer than the shed beside a kiln
    at 1200 degC; made to `tolerance_class` of IEC 60584-1.
    """

    id: str
    input: str
    type: Literal["B", "E", "J", "K", "N", "R", "S", "T", "zirconia"]
    zone: str
    sheath_mm: Positive
    sees_ware: Share
    immersion_mm: Positive = 150.0
    head_rise_c: Annotated[float, Meta(ge=6.0, le=35.0)] = 20.0
    tolerance_class: Literal[1, 2, 3] = 2


@dataclass(frozen=True, slots=True)
class ContactSpec:
    """A switch at a door: `front` is the stoke door, `side` the side port of the zone called `zone`."""

    input: str
    door: Literal["front", "side"]
    zone: str = ""


def sensor_misfits(sensors: Sequence[SensorSpec], contacts: Sequence[ContactSpec], zones: Sequence[str]) -> list[str]:
    """Return a line for each sensor or switch that does not fit the others or the zones called `zones`."""
    found = [
        f"sensor[{n}].tolerance_class: type {s.type} has classes {', '.join(map(str, CLASSES[s.type]))}"
        for n, s in enumerate(sensors)
        if s.type != ZIRCONIA and s.tolerance_class not in CLASSES[s.type]
    ]
    found += [
        f"contact[{n}].zone: there is no zone '{c.zone}'; allowed are {', '.join(zones)}"
        for n, c in enumerate(contacts)
        if c.door == "side" and c.zone not in zones
    ]
    inputs = [s.input for s in sensors] + [c.input for c in contacts]
    if len(set(inputs)) < len(inputs):
        found.append("sensor, contact: each needs an input of its own")
    if len({s.id for s in sensors}) < len(sensors):
        found.append("sensor: each needs an id of its own")
    return found
