"""Wood: a charge dries, gives off its volatiles and leaves char; the ember bed burns the char.

Heating value and air demand are the handbook's (EN ISO 18125 form; Kubler, Wood and Fiber Science: about 6 g of air per
g of dry wood). Char and volatiles share them so that the sums close exactly. Drying and pyrolysis go as fast as heat
reaches the wood's surface. Heat spent on heating the wood travels on with its volatiles.
"""

import math
from dataclasses import dataclass, field

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
CO_HEAT_SHARE = 0.72
"""Share of carbon's heat that stays in carbon monoxide (283 of 394 kJ/mol)."""
LONGEST_PART_S = 5.0
"""A charge is heated in parts of a step no longer than this: it dries and flares within seconds."""
RAKED = 0.3
"""How much of its depth a freshly raked bed still chokes with (common practice, no source)."""
SETTLES_S = 1800.0
"""Time in which a raked bed packs again (common practice, no source)."""
WOOD_KG_M3 = 500.0
"""Density of air-dry softwood (common practice, no source)."""
EXPOSED = 0.3
"""Share of the sticks' surface that sees fire: they lie on each other and on the bed (common practice, no source)."""
CHAR_SHIELDS_AT = 0.16
"""Share of a stick burnt at which its char keeps half of the heat from the wood inside. Over a whole stick a quarter of
it gets in, some 2 mm of charring a minute at 1000 degC; beams in a building fire: 0.65 (EN 1995-1-2, from memory)."""


def heating_value_j_kg(moisture: float) -> float:
    """Return the net calorific value of wood in J/kg; `moisture` is the share of water in the wet wood, 0 to 1."""
    return WOOD_J_KG * (1.0 - moisture) - EVAPORATION_J_KG * moisture


@dataclass(slots=True)
class FuelGas:
    """What burns where it meets air: heat in J, stoichiometric air in kg, and its mass in kg."""

    heat_j: float = 0.0
    air_kg: float = 0.0
    mass_kg: float = 0.0

    def add(self, other: "FuelGas") -> None:
        """Take up another parcel."""
        self.heat_j += other.heat_j
        self.air_kg += other.air_kg
        self.mass_kg += other.mass_kg


@dataclass(slots=True)
class Charge:
    """Wood thrown in at one stoke, as it stands now: water and unpyrolysed dry wood in kg, thickness in m."""

    water_kg: float
    wood_kg: float
    thickness_m: float
    first_water_kg: float = field(init=False)
    first_wood_kg: float = field(init=False)

    def __post_init__(self) -> None:
        self.first_water_kg = self.water_kg
        self.first_wood_kg = self.wood_kg

    @property
    def is_spent(self) -> bool:
        """Nothing is left to dry or to pyrolyse."""
        return self.wood_kg <= 0.0 and self.water_kg <= 0.0


@dataclass(frozen=True, slots=True)
class Given:
    """What a charge gave off in one step: water and wood that left it in kg, and the heat it took in J."""

    water_kg: float
    wood_kg: float
    taken_j: float


def fresh_charge(wet_kg: float, *, moisture: float, thickness_m: float) -> Charge:
    """Return `wet_kg` of wood with the share `moisture` of water, split `thickness_m` thick."""
    return Charge(water_kg=wet_kg * moisture, wood_kg=wet_kg * (1.0 - moisture), thickness_m=thickness_m)


def heat_charge(charge: Charge, flux_w_m2: float, step_s: float) -> Given:
    """Let `flux_w_m2` of heat fall on the charge for `step_s`: it dries, flares, and burns on under its char."""
    parts = math.ceil(step_s / LONGEST_PART_S)
    water_kg, wood_kg = charge.water_kg, charge.wood_kg
    for _ in range(parts):
        _heat_briefly(charge, flux_w_m2 * step_s / parts)
    water_kg -= charge.water_kg
    wood_kg -= charge.wood_kg
    return Given(water_kg, wood_kg, water_kg * EVAPORATION_J_KG + wood_kg * PYROLYSIS_J_KG)


def _heat_briefly(charge: Charge, heat_j_m2: float) -> None:
    wet = charge.water_kg / charge.first_water_kg if charge.first_water_kg > 0.0 else 0.0
    budget_j = _heat_that_gets_in(charge, heat_j_m2, wet)
    water_kg = charge.water_kg
    if wet > 0.02:
        water_kg *= 1.0 - math.exp(-budget_j / (charge.first_water_kg * EVAPORATION_J_KG))
    charge.water_kg -= water_kg
    rest_j = max(budget_j - water_kg * EVAPORATION_J_KG, 0.0)
    charge.wood_kg -= min(charge.wood_kg, rest_j / PYROLYSIS_J_KG)


def _heat_that_gets_in(charge: Charge, heat_j_m2: float, wet: float) -> float:
    """Return the heat in J of `heat_j_m2` that passes the char, which grows in the meantime (solved in closed form)."""
    burnt = 1.0 - charge.wood_kg / charge.first_wood_kg
    surface_m2 = 4.0 * charge.first_wood_kg / (WOOD_KG_M3 * charge.thickness_m) * (1.0 - 0.8 * burnt)
    falling_j = heat_j_m2 * EXPOSED * surface_m2
    bare = falling_j * (1.0 - wet) / (charge.first_wood_kg * PYROLYSIS_J_KG)
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


@dataclass(slots=True)
class EmberBed:
    """Char on the grate. Near `shallow_kg` it takes most oxygen of the air through it; at `deep_kg` it chokes.

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
        char_kg = min(char_kg, self.char_kg * (1.0 - math.exp(-step_s / 300.0)))
        used_kg = char_kg * CHAR_AIR_KG_KG * (1.0 - 0.5 * carbon_monoxide)
        self.char_kg -= char_kg
        gas_j = char_kg * CHAR_J_KG * CO_HEAT_SHARE * carbon_monoxide
        gas_air_kg = char_kg * CHAR_AIR_KG_KG * 0.5 * carbon_monoxide
        return Burnt(char_kg, used_kg, char_kg * CHAR_J_KG - gas_j, FuelGas(gas_j, gas_air_kg, char_kg))


@dataclass(frozen=True, slots=True)
class Burnt:
    """What the bed did in one step: char and air spent in kg, heat in J, and the gas that leaves it.

    The gas carries the mass of all char burnt; only its carbon monoxide still burns.
    """

    char_kg: float
    air_kg: float
    heat_j: float
    gas: FuelGas
