"""Charges in the fire: what wood gives off in each zone under the heat of its surroundings.

In the firebox wood lies between the embers and the walls; elsewhere among ware and wall. Its own flame helps, in the
firebox always (the fire is kept alight), elsewhere as far as the zone is hot enough to light it.
"""

from collections.abc import Sequence

import msgspec

from simulator.physics.flame import lit_share
from simulator.physics.fuel import (
    CHAR_SHARE,
    EVAPORATION_J_KG,
    PYROLYSIS_J_KG,
    Charge,
    FuelGas,
    heat_charge,
    volatiles_of,
)
from simulator.physics.zones import KELVIN, STEFAN_BOLTZMANN

EMBER_C = 850.0
"""Temperature of a glowing bed as the wood on it sees it (common practice, no source)."""
CHARRING_C = 330.0
"""Surface of wood while it pyrolyses (from memory)."""
WOOD_CONVECTION_W_M2K = 20.0
"""From gas to the sticks (from memory, slow gas across cylinders of a few centimetres)."""
OWN_FLAME_W_M2 = 40.0e3
"""Heat of its own flame on burning wood (from memory: 20 to 40 kW/m2), the least that a burning charge gets."""

NO_GAS = FuelGas()
"""Of zones where no wood lies."""


class Surroundings(msgspec.Struct, frozen=True, gc=False):
    """What wood meets in a zone: degC (Z,) of gas, wall face and ware; `embers` is how far the bed glows, 0 to 1."""

    gas_c: Sequence[float]
    face_c: Sequence[float]
    ware_c: Sequence[float]
    embers: float


class Released(msgspec.Struct, frozen=True, gc=False):
    """What all charges of each zone (Z,) gave off in a step, and the heat that took.

    `demand_kg` is the stoichiometric air of `gas`, kept apart because the gas burns away.
    """

    gas: list[FuelGas]
    demand_kg: list[float]
    steam_kg: list[float]
    char_kg: list[float]
    taken_j: list[float]


def heat_wood(charges: Sequence[list[Charge]], around: Surroundings, step_s: float) -> Released:
    """Heat every charge for `step_s`; what is spent is taken out of `charges`."""
    count = len(charges)
    released = Released([NO_GAS] * count, [0.0] * count, [0.0] * count, [0.0] * count, [0.0] * count)
    for zone, lying in enumerate(charges):
        if not lying:
            continue
        flux_w_m2 = flux_on_wood(zone, around)
        given = [heat_charge(charge, flux_w_m2, step_s) for charge in lying]
        steam_kg, wood_kg = sum(g[0] for g in given), sum(g[1] for g in given)
        if lying[0].is_spent or lying[-1].is_spent:
            lying[:] = [charge for charge in lying if not charge.is_spent]
        released.gas[zone] = gas = volatiles_of(wood_kg)
        released.demand_kg[zone] = gas.air_kg
        released.steam_kg[zone] = steam_kg
        released.char_kg[zone] = wood_kg * CHAR_SHARE
        released.taken_j[zone] = steam_kg * EVAPORATION_J_KG + wood_kg * PYROLYSIS_J_KG
    return released


def flux_on_wood(zone: int, around: Surroundings) -> float:
    """Return the heat in W that falls on a square metre of wood in `zone`."""
    face_c, gas_c = around.face_c[zone], around.gas_c[zone]
    if zone == 0:
        below_c = max(face_c, EMBER_C) * around.embers + face_c * (1.0 - around.embers)
        least = OWN_FLAME_W_M2
    else:
        below_c = around.ware_c[zone]
        least = OWN_FLAME_W_M2 * lit_share(below_c)
    seen = 0.5 * ((face_c + KELVIN) ** 4 + (below_c + KELVIN) ** 4)
    radiation = STEFAN_BOLTZMANN * (seen - (CHARRING_C + KELVIN) ** 4)
    return max(radiation + WOOD_CONVECTION_W_M2K * (gas_c - CHARRING_C), least)
