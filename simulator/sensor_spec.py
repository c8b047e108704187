"""A sensor of a simulated kiln."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SensorSpec:
    """One thermocouple: letter of IEC 60584-1, zone, thickness of its sheath, and its own offset at 1000 degC.

    `zone` is the name of the zone it stands in; `sees_ware` the share of its surroundings that is ware, the rest wall.
    """

    id: str
    input: str
    type: str
    zone: str
    sheath_mm: float
    offset_c: float
    sees_ware: float
