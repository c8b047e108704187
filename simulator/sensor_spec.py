"""The sensors of a simulated kiln and the switches at its doors."""

from dataclasses import dataclass
from typing import Literal

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
    sheath_mm: float
    sees_ware: float
    immersion_mm: float = 150.0
    head_rise_c: float = 20.0
    tolerance_class: Literal[1, 2, 3] = 2


@dataclass(frozen=True, slots=True)
class ContactSpec:
    """A switch at a door: `front` is the stoke door, `side` the side port of the zone called `zone`."""

    input: str
    door: Literal["front", "side"]
    zone: str = ""
