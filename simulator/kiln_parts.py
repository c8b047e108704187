"""What a kiln is built of: its openings and its zones."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class AirSpec:
    """Openings in m2, chimney height in m, ember bed in kg (see `EmberBed`)."""

    chimney_m: float
    primary_m2: float
    secondary_m2: float
    door_m2: float
    damper_m2: float
    leak_m2: float
    bed_shallow_kg: float
    bed_deep_kg: float


@dataclass(frozen=True, slots=True)
class ZoneSpec:
    """One zone, called `name`, at `place` (firebox, front, middle, back, flue or chimney); several may share a place.

    `leak` is air drawn in there as a share of the firebox's, `mixing` of gas with air (see `flame`).
    """

    name: str
    place: str
    wall_m2: float
    ware_m2: float
    ware_kg: float
    ware_j_kgk: float
    gas_emissivity: float
    convection_w_m2k: float
    wall_sees_ware_m2: float
    sees_next_m2: float
    mixing: float
    leak: float
    flicker: float
