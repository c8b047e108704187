"""Inlets and damper under a watch: set for the wood it means to burn, moved only where they are well off.

The watch reckons with a clean grate, the damper where the stage wants it and the wood as dry as ever: it does not see a
choked bed, a damper that moved or wet wood.
"""

from dataclasses import dataclass

from simulator.crew.plight import Plight
from simulator.kiln import Kiln
from simulator.physics.fuel import WOOD_AIR_KG_KG
from simulator.script.mishaps import Mishap
from simulator.spec.crew_spec import StageSpec
from simulator.spec.kiln_file import KilnSpec

NOTCH = 0.08
"""Inlets less than this part of their setting off are left alone (common practice, no source)."""
SHUT = 0.02
"""Damper and inlets of a kiln closed up and clammed, share of full."""
AT_LIGHTING = 0.3
"""Inlets before the first stoke, share of full."""


@dataclass(frozen=True, slots=True)
class Setting:
    """Inlets under the grate and above it, and damper, share of full."""

    primary: float
    secondary: float
    damper: float


CLOSED = Setting(SHUT, SHUT, SHUT)


class Settings:
    """The inlets as the watch last set them, and what mishaps make of them."""

    def __init__(self, spec: KilnSpec, plight: Plight) -> None:
        self._spec = spec
        self._plight = plight
        self._primary = self._secondary = AT_LIGHTING

    def set_for(self, wet_kg_h: float, *, kiln: Kiln, stage: StageSpec, hour: float, outside_c: float) -> None:
        """Set the inlets for a fire of `wet_kg_h` of wood."""
        air = self._spec.air
        dry_kg_s = wet_kg_h * (1.0 - self._spec.crew.moisture) / 3600.0
        air_kg_s = dry_kg_s * WOOD_AIR_KG_KG * self._plight.size(Mishap.ATMOSPHERE, hour, stage.excess_air)
        opened = kiln.inlets_for(air_kg_s, outside_c, damper=stage.damper)
        area_m2 = opened * (air.primary_m2 + air.secondary_m2)
        primary = min(area_m2 * stage.air_below / air.primary_m2, 1.0)
        secondary = min(area_m2 * (1.0 - stage.air_below) / air.secondary_m2, 1.0)
        if _is_off(self._primary, primary) or _is_off(self._secondary, secondary):
            self._primary, self._secondary = primary, secondary

    def at(self, stage: StageSpec, hour: float) -> Setting:
        """Return how inlets and damper truly stand."""
        if stage.is_closed:
            return CLOSED
        size = self._plight.size
        return Setting(
            primary=size(Mishap.INLETS, hour, self._primary),
            secondary=size(Mishap.INLETS, hour, self._secondary),
            damper=size(Mishap.DAMPER, hour, stage.damper),
        )

    def inlets_of(self, setting: Setting) -> float:
        """Return both inlets as one number: the share of their area that is open."""
        air = self._spec.air
        open_m2 = setting.primary * air.primary_m2 + setting.secondary * air.secondary_m2
        return open_m2 / (air.primary_m2 + air.secondary_m2)


def _is_off(now: float, wanted: float) -> bool:
    return abs(wanted - now) > NOTCH * max(now, SHUT)
