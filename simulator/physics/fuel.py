"""Wood: a charge dries, gives off its volatiles and leaves char.

Heating value and air demand are the handbook's (EN ISO 18125 form; Kubler, Wood and Fiber Science: about 6 g of air per
g of dry wood). Char and volatiles share them so that the sums close exactly. Drying and pyrolysis go as fast as heat
reaches the wood's surface. Heat spent on heating the wood travels on with its volatiles.
"""

import math
from dataclasses import dataclass, field

import msgspec

WOOD_J_KG = 18.5e6
"""Net calorific value of dry wood (EN ISO 18125 form)."""
EVAPORATION_J_KG = 2.443e6
"""Heat to evaporate a kilogram of water at 25 degC (EN ISO 18125 form)."""
WOOD_AIR_KG_KG = 5.91
"""Stoichiometric air of dry wood, kg/kg (computed for C50 H6 O44)."""
CHAR_SHARE = 0.20
"""Char left by a kilogram of dry wood under fast heating (from memory)."""
CHAR_J_KG = 30.0e6
"""Net calorific value of char (from memory; carbon 32.8e6)."""
CHAR_AIR_KG_KG = 10.5
"""Stoichiometric air of char, kg/kg: carbon's 11.5 in proportion to the heat."""
PYROLYSIS_J_KG = 0.9e6
"""Heat that brings a kilogram of dry wood to pyrolysis near 450 degC (from memory: 1.8 kJ/(kg K) and a little)."""
LONGEST_PART_S = 5.0
"""A charge is heated in parts of a step no longer than this: it dries and flares within seconds."""
WOOD_KG_M3 = 500.0
"""Density of air-dry softwood (common practice, no source)."""
EXPOSED = 0.3
"""Share of the sticks' surface that sees fire: they lie on each other and on the bed (common practice, no source)."""
LAST_WATER = 0.02
"""Share of a charge's water that goes at once, as the last of it (common practice, no source)."""
CHAR_SHIELDS_AT = 0.16
"""Share of a stick burnt at which its char keeps half of the heat from the wood inside. Over a whole stick a quarter of
it gets in, some 2 mm of charring a minute at 1000 degC; beams in a building fire: 0.65 (EN 1995-1-2, from memory)."""


def heating_value_j_kg(moisture: float) -> float:
    """Return the net calorific value of wood in J/kg; `moisture` is the share of water in the wet wood, 0 to 1."""
    return WOOD_J_KG * (1.0 - moisture) - EVAPORATION_J_KG * moisture


class FuelGas(msgspec.Struct, frozen=True, gc=False):
    """What burns where it meets air: heat in J, stoichiometric air in kg, and its mass in kg.

    A msgspec Struct as all records that every step makes anew: quicker to make than a frozen dataclass.
    """

    heat_j: float = 0.0
    air_kg: float = 0.0
    mass_kg: float = 0.0

    def plus(self, other: "FuelGas") -> "FuelGas":
        """Return both parcels as one."""
        return FuelGas(self.heat_j + other.heat_j, self.air_kg + other.air_kg, self.mass_kg + other.mass_kg)


@dataclass(slots=True)
class Charge:
    """Wood thrown in at one stoke, as it stands now: water and unpyrolysed dry wood in kg, thickness in m."""

    water_kg: float
    wood_kg: float
    thickness_m: float
    first_water_kg: float = field(init=False)
    first_wood_kg: float = field(init=False)
    exposed_m2: float = field(init=False)

    def __post_init__(self) -> None:
        self.first_water_kg = self.water_kg
        self.first_wood_kg = self.wood_kg
        self.exposed_m2 = EXPOSED * 4.0 * self.wood_kg / (WOOD_KG_M3 * self.thickness_m)

    @property
    def is_spent(self) -> bool:
        """Nothing is left to dry or to pyrolyse."""
        return self.wood_kg <= 0.0 and self.water_kg <= 0.0


def fresh_charge(wet_kg: float, *, moisture: float, thickness_m: float) -> Charge:
    """Return `wet_kg` of wood with the share `moisture` of water, split `thickness_m` thick."""
    return Charge(water_kg=wet_kg * moisture, wood_kg=wet_kg * (1.0 - moisture), thickness_m=thickness_m)


def heat_charge(charge: Charge, flux_w_m2: float, step_s: float) -> tuple[float, float]:
    """Let `flux_w_m2` of heat fall on the charge for `step_s`: it dries, flares, and burns on under its char.

    Return the water and the wood in kg that left it.
    """
    parts = math.ceil(step_s / LONGEST_PART_S)
    heat_j_m2 = flux_w_m2 * step_s / parts
    water_kg, wood_kg = charge.water_kg, charge.wood_kg
    for _ in range(parts):
        if charge.water_kg > 0.0:
            _heat_wet(charge, heat_j_m2)
        else:
            _heat_dry(charge, heat_j_m2)
    return water_kg - charge.water_kg, wood_kg - charge.wood_kg


def _heat_wet(charge: Charge, heat_j_m2: float) -> None:
    wet = charge.water_kg / charge.first_water_kg
    rest_j = _heat_that_gets_in(charge, heat_j_m2, 1.0 - wet)
    water_kg = charge.water_kg
    if wet > LAST_WATER:
        water_kg *= 1.0 - math.exp(-rest_j / (charge.first_water_kg * EVAPORATION_J_KG))
    charge.water_kg -= water_kg
    rest_j = max(rest_j - water_kg * EVAPORATION_J_KG, 0.0)
    charge.wood_kg -= min(charge.wood_kg, rest_j / PYROLYSIS_J_KG)


def _heat_dry(charge: Charge, heat_j_m2: float) -> None:
    charge.wood_kg = max(charge.wood_kg - _heat_that_gets_in(charge, heat_j_m2, 1.0) / PYROLYSIS_J_KG, 0.0)


def _heat_that_gets_in(charge: Charge, heat_j_m2: float, dry: float) -> float:
    """Return the heat in J of `heat_j_m2` that passes the char, which grows in the meantime (solved in closed form)."""
    burnt = 1.0 - charge.wood_kg / charge.first_wood_kg
    falling_j = heat_j_m2 * charge.exposed_m2 * (1.0 - 0.8 * burnt)
    bare = falling_j * dry / (charge.first_wood_kg * PYROLYSIS_J_KG)
    if bare < 1e-9:
        return falling_j * CHAR_SHIELDS_AT / (CHAR_SHIELDS_AT + burnt)
    after = math.sqrt((CHAR_SHIELDS_AT + burnt) ** 2 + 2.0 * CHAR_SHIELDS_AT * bare) - CHAR_SHIELDS_AT
    return falling_j * (after - burnt) / bare


def volatiles_of(wood_kg: float) -> FuelGas:
    """Return the fuel gas that `wood_kg` of dry wood gives off, with the heat spent on heating the wood."""
    return FuelGas(
        heat_j=wood_kg * (WOOD_J_KG - CHAR_SHARE * CHAR_J_KG + PYROLYSIS_J_KG),
        air_kg=wood_kg * (WOOD_AIR_KG_KG - CHAR_SHARE * CHAR_AIR_KG_KG),
        mass_kg=wood_kg * (1.0 - CHAR_SHARE),
    )
