"""A sensor of a simulated kiln."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SensorSpec:
    """One thermocouple: letter of IEC 60584-1, where, how thick its sheath is, and its own offset at 1000 degC.

    `sees_ware` is the share of its surroundings that is ware; the rest is wall.
    """

    id: str
    input: str
    type: str
    place: str
    sheath_mm: float
    offset_c: float
    sees_ware: float
