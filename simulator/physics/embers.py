"""Embers: the bed on the grate that burns the firebox's char, and the small heaps that side stokes leave.

A bed near `shallow_kg` takes most oxygen of the air drawn through it; at `deep_kg` it chokes. A heap lies in the
passing gas and gets a little of its air.
"""

import math
from dataclasses import dataclass

import msgspec

from simulator.physics.fuel import CHAR_AIR_KG_KG, CHAR_J_KG, FuelGas

CO_HEAT_SHARE = 0.72
"""Share of carbon's heat that stays in carbon monoxide (283 of 394 kJ/mol)."""
RAKED = 0.3
"""How much of its depth a freshly raked bed still chokes with (common practice, no source)."""
SETTLES_S = 1800.0
"""Time in which a raked bed packs again (common practice, no source)."""
QUICKEST_S = 300.0
"""Time in which char burns away where air is no limit (common practice, no source)."""
HEAP_SHALLOW_KG = 1.0
"""Char of a heap that reaches most of the air it can reach (common practice, no source)."""
HEAP_REACH = 0.2
"""Share of a zone's air that brushes over a heap (common practice, no source)."""


@dataclass(slots=True)
class EmberBed:
    """Char on the grate.

    A deep bed lets less air through and turns more of its carbon into carbon monoxide, which burns above it. Raking
    loosens it for a while.
    """

    shallow_kg: float
    deep_kg: float
    char_kg: float = 0.0
    packed: float = 1.0

    @property
    def openness(self) -> float:
        """Share of the grate's free area that the bed leaves open."""
        return 1.0 / (1.0 + (self.char_kg * self.packed / self.deep_kg) ** 3)

    def rake(self) -> None:
        """Loosen the bed."""
        self.packed = RAKED

    def burn(self, air_kg: float, step_s: float) -> "Burnt":
        """Burn with `air_kg` of air drawn through the bed in `step_s`."""
        self.packed += (1.0 - self.packed) * (1.0 - math.exp(-step_s / SETTLES_S))
        carbon_monoxide = 0.8 * self.char_kg / (self.char_kg + self.deep_kg)
        used_kg = air_kg * (1.0 - math.exp(-self.char_kg / self.shallow_kg))
        char_kg = used_kg / (CHAR_AIR_KG_KG * (1.0 - 0.5 * carbon_monoxide))
        char_kg = min(char_kg, self.char_kg * (1.0 - math.exp(-step_s / QUICKEST_S)))
        used_kg = char_kg * CHAR_AIR_KG_KG * (1.0 - 0.5 * carbon_monoxide)
        self.char_kg -= char_kg
        gas_j = char_kg * CHAR_J_KG * CO_HEAT_SHARE * carbon_monoxide
        gas_air_kg = char_kg * CHAR_AIR_KG_KG * 0.5 * carbon_monoxide
        return Burnt(char_kg, used_kg, char_kg * CHAR_J_KG - gas_j, FuelGas(gas_j, gas_air_kg, char_kg))


class Burnt(msgspec.Struct, frozen=True, gc=False):
    """What the bed did in one step: char and air spent in kg, heat in J, and the gas that leaves it.

    The gas carries the mass of all char burnt; only its carbon monoxide still burns.
    """

    char_kg: float
    air_kg: float
    heat_j: float
    gas: FuelGas


def burn_heap(char_kg: float, *, air_kg: float, glowing: float, step_s: float) -> float:
    """Return the char in kg that a heap of `char_kg` burns as `air_kg` passes, the share `glowing` of it hot."""
    reached_kg = air_kg * HEAP_REACH * (1.0 - math.exp(-char_kg / HEAP_SHALLOW_KG))
    return glowing * min(reached_kg / CHAR_AIR_KG_KG, char_kg * (1.0 - math.exp(-step_s / QUICKEST_S)))
