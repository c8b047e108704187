"""Zones in series: the heat balances of gas, wall face and ware of all zones, solved together each step.

Gas holds next to no heat and follows at once; wall and ware take and give heat by radiation (linearised about the last
state) and convection; neighbouring wares see each other. One linear system per step keeps every exchange equal and
opposite, so that heat is conserved to rounding whatever the step.
"""

from dataclasses import dataclass

import numpy as np

from monitor.model import FloatArray

STEFAN_BOLTZMANN = 5.670374e-8
KELVIN = 273.15
GAS_J_KGK = 1200.0
"""Heat capacity of flue gas, mean over 0 to 1300 degC (handbook value, from memory)."""
SURFACE_EMISSIVITY = 0.8
"""Of brick, clay and glaze (from memory)."""


@dataclass(frozen=True, slots=True, eq=False)
class ZoneParts:
    """What stands in the zones, arrays (Z,): areas in m2, heat capacity of ware and shelves in J/K.

    `gas_emissivity` is of the gas over the zone's path, `convection_w_m2k` of gas at both surfaces; `wall_sees_ware_m2`
    is the area over which they exchange radiation, `neighbour_m2` (Z - 1,) that between wares of adjacent zones.
    """

    wall_m2: FloatArray
    ware_m2: FloatArray
    ware_j_k: FloatArray
    gas_emissivity: FloatArray
    convection_w_m2k: FloatArray
    wall_sees_ware_m2: FloatArray
    neighbour_m2: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Exchange:
    """Conductances in W/K: gas to wall, gas to ware, wall to ware (Z,), ware to next ware (Z - 1,)."""

    gas_wall: FloatArray
    gas_ware: FloatArray
    wall_ware: FloatArray
    ware_ware: FloatArray


def exchange(parts: ZoneParts, gas_c: FloatArray, wall_c: FloatArray, ware_c: FloatArray) -> Exchange:
    """Work out the conductances about the present temperatures in degC (Z,)."""
    gas_wall = parts.convection_w_m2k + parts.gas_emissivity * _radiation_w_m2k(gas_c, wall_c)
    gas_ware = parts.convection_w_m2k + parts.gas_emissivity * _radiation_w_m2k(gas_c, ware_c)
    return Exchange(
        gas_wall=gas_wall * parts.wall_m2,
        gas_ware=gas_ware * parts.ware_m2,
        wall_ware=SURFACE_EMISSIVITY * _radiation_w_m2k(wall_c, ware_c) * parts.wall_sees_ware_m2,
        ware_ware=SURFACE_EMISSIVITY * _radiation_w_m2k(ware_c[:-1], ware_c[1:]) * parts.neighbour_m2,
    )


@dataclass(frozen=True, slots=True, eq=False)
class Drive:
    """What drives one step, arrays (Z,).

    `heat_w` released in the gas, `flow_kg_s` of gas leaving each zone (fresh air and fuel enter at `outside_c`),
    `ware_w` given to the ware from elsewhere; `wall_rest_c` the wall face if no heat entered it and `wall_rise_k_w` how
    far a watt into the whole face lifts it; `ware_old_c` and `ware_rise_k_w` likewise for the ware.
    """

    heat_w: FloatArray
    flow_kg_s: FloatArray
    ware_w: FloatArray
    outside_c: float
    wall_rest_c: FloatArray
    wall_rise_k_w: FloatArray
    ware_old_c: FloatArray
    ware_rise_k_w: FloatArray


def balance_zones(between: Exchange, drive: Drive) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return gas, wall face and ware in degC (Z,) each at the end of the step."""
    count = len(drive.heat_w)
    system = np.zeros((3, count, 3, count))
    gas, wall, ware = (_diagonals(system, row, count) for row in range(3))
    carried = drive.flow_kg_s * GAS_J_KGK
    gas[0][:] = between.gas_wall + between.gas_ware + carried
    gas[1][:] = -between.gas_wall
    gas[2][:] = -between.gas_ware
    wall[0][:] = -drive.wall_rise_k_w * between.gas_wall
    wall[1][:] = 1.0 + drive.wall_rise_k_w * (between.gas_wall + between.wall_ware)
    wall[2][:] = -drive.wall_rise_k_w * between.wall_ware
    ware[0][:] = -drive.ware_rise_k_w * between.gas_ware
    ware[1][:] = -drive.ware_rise_k_w * between.wall_ware
    ware[2][:] = 1.0 + drive.ware_rise_k_w * (between.gas_ware + between.wall_ware)
    flat = system.reshape(3 * count, 3 * count)
    below, here = np.arange(1, count), np.arange(count - 1)
    flat[below, here] = -carried[:-1]
    rise = drive.ware_rise_k_w
    first = 2 * count
    flat[first + here, first + here] += rise[:-1] * between.ware_ware
    flat[first + here, first + below] = -rise[:-1] * between.ware_ware
    flat[first + below, first + below] += rise[1:] * between.ware_ware
    flat[first + below, first + here] = -rise[1:] * between.ware_ware
    entering = np.diff(carried, prepend=0.0) * drive.outside_c
    right = np.concatenate([drive.heat_w + entering, drive.wall_rest_c, drive.ware_old_c + rise * drive.ware_w])
    solved = np.linalg.solve(flat, right)
    return solved[:count], solved[count:first], solved[first:]


def _radiation_w_m2k(one_c: FloatArray, other_c: FloatArray) -> FloatArray:
    one, other = one_c + KELVIN, other_c + KELVIN
    return STEFAN_BOLTZMANN * (one * one + other * other) * (one + other)


def _diagonals(system: FloatArray, row: int, count: int) -> list[FloatArray]:
    flat = system.reshape(-1)
    size = 3 * count
    starts = [(row * count) * size + column * count for column in range(3)]
    return [flat[start : start + (count - 1) * (size + 1) + 1 : size + 1] for start in starts]
