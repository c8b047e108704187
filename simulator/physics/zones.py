"""Zones in series: the heat balances of gas, wall face and ware of all zones, solved together each step.

Gas holds next to no heat and follows at once; wall and ware take and give heat by radiation (linearised about the last
state) and convection; neighbouring wares see each other. One linear system per step keeps every exchange equal and
opposite, so that heat is conserved to rounding whatever the step. The system is a sum of conductances, each times a
fixed pattern of +1 and -1; the patterns are laid out once.
"""

from dataclasses import dataclass

import msgspec
import numpy as np
import numpy.typing as npt

from monitor.model import FloatArray

STEFAN_BOLTZMANN = 5.670374e-8
KELVIN = 273.15
GAS_J_KGK = 1200.0
"""Heat capacity of flue gas, mean over 0 to 1300 degC (handbook value, from memory)."""
SURFACE_EMISSIVITY = 0.8
"""Of brick, clay and glaze (from memory)."""


@dataclass(frozen=True, slots=True, eq=False)
class ZoneParts:
    """What stands in the zones, arrays (Z,): areas in m2.

    `gas_emissivity` is of the gas over the zone's path, `convection_w_m2k` of gas at both surfaces; `wall_sees_ware_m2`
    is the area over which they exchange radiation, `neighbour_m2` (Z - 1,) that between wares of adjacent zones.
    """

    wall_m2: FloatArray
    ware_m2: FloatArray
    gas_emissivity: FloatArray
    convection_w_m2k: FloatArray
    wall_sees_ware_m2: FloatArray
    neighbour_m2: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Network:
    """Nodes gas (Z,), wall face (Z,), ware (Z,) in one row, and the links between them (L = 4 Z - 1).

    Links are gas to wall, gas to ware, wall to ware of each zone, then ware to next ware: `one`, `other` (L,) are the
    nodes, `convection_w_k` and `radiation_w_k4` (L,) what they carry. `pattern` (K, 9 Z Z) is the system for the K
    weights: links, then heat carried out of each zone by its gas, held by its wall face, held by its ware.
    """

    one: npt.NDArray[np.intp]
    other: npt.NDArray[np.intp]
    convection_w_k: FloatArray
    radiation_w_k4: FloatArray
    pattern: FloatArray


def build_network(parts: ZoneParts) -> Network:
    """Lay out the links and patterns of the zones `parts`."""
    count = len(parts.wall_m2)
    gas, wall, ware = np.arange(3 * count).reshape(3, count)
    one = np.concatenate([gas, gas, wall, ware[:-1]])
    other = np.concatenate([wall, ware, ware, ware[1:]])
    nothing = np.zeros(2 * count - 1)
    return Network(
        one=one,
        other=other,
        convection_w_k=np.concatenate(
            [parts.convection_w_m2k * parts.wall_m2, parts.convection_w_m2k * parts.ware_m2, nothing]
        ),
        radiation_w_k4=STEFAN_BOLTZMANN
        * np.concatenate(
            [
                parts.gas_emissivity * parts.wall_m2,
                parts.gas_emissivity * parts.ware_m2,
                SURFACE_EMISSIVITY * parts.wall_sees_ware_m2,
                SURFACE_EMISSIVITY * parts.neighbour_m2,
            ]
        ),
        pattern=_patterns(one, other, count),
    )


def _patterns(one: npt.NDArray[np.intp], other: npt.NDArray[np.intp], count: int) -> FloatArray:
    links = len(one)
    pattern = np.zeros((links + 3 * count, 3 * count, 3 * count))
    at = np.arange(links)
    for here, there in ((one, other), (other, one)):
        pattern[at, here, here] += 1.0
        pattern[at, here, there] -= 1.0
    zone = np.arange(count)
    pattern[links + zone, zone, zone] = 1.0
    pattern[links + zone[:-1], zone[1:], zone[:-1]] = -1.0
    held = np.arange(count, 3 * count)
    pattern[links + held, held, held] = 1.0
    return pattern.reshape(len(pattern), -1)


def conductances(network: Network, state_c: FloatArray) -> FloatArray:
    """Return the conductances (L,) in W/K of all links about `state_c` (3 Z,) of gas, wall face and ware."""
    kelvin = state_c + KELVIN
    one, other = kelvin[network.one], kelvin[network.other]
    cubed = (one * one + other * other) * (one + other)
    return cubed * network.radiation_w_k4 + network.convection_w_k


class Drive(msgspec.Struct, frozen=True, gc=False, eq=False):
    """What drives one step.

    `flow_kg_s` (Z,) of gas leaves each zone; what joins it there (fresh air, fuel, steam) enters at `outside_c`.
    `held_w_k` (2 Z,) is what lifting each wall face, then each ware, by a degree takes within the step; `heat_w` (3 Z,)
    is given to gas, wall face and ware from elsewhere, with what they held before.
    """

    flow_kg_s: FloatArray
    outside_c: float
    held_w_k: FloatArray
    heat_w: FloatArray


def balance_zones(network: Network, links_w_k: FloatArray, drive: Drive) -> FloatArray:
    """Return gas, wall face and ware in degC (3 Z,) at the end of the step."""
    carried = drive.flow_kg_s * GAS_J_KGK
    weights = np.concatenate((links_w_k, carried, drive.held_w_k))
    size = len(drive.heat_w)
    system = (weights @ network.pattern).reshape(size, size)
    right = drive.heat_w.copy()
    enters = carried * drive.outside_c
    right[: len(carried)] += enters
    right[1 : len(carried)] -= enters[:-1]
    return np.linalg.solve(system, right).astype(np.float64, copy=False)
