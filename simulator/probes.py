"""Probes: the junction in its sheath follows gas and surroundings with a lag.

The sheath is one lump: heat capacity by its diameter, heat from the gas (convection and gas radiation) and from ware
and wall it sees. Towards the mean of what drives it, it goes first order; hot surroundings make it quick.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from monitor.model import FloatArray
from simulator.sensor_spec import SensorSpec
from simulator.zones import KELVIN, STEFAN_BOLTZMANN

SHEATH_J_M3K = 3.6e6
"""Heat capacity by volume of steel, alumina and packed magnesia alike (from memory)."""
GAS_W_M2K_AT_6_MM = 25.0
"""Convection of slow hot gas across a 6 mm cylinder (from memory); falls with the root of the diameter."""
GAS_EMISSIVITY = 0.05
SHEATH_EMISSIVITY = 0.8


@dataclass(frozen=True, slots=True, eq=False)
class Probes:
    """The sensors of one kiln as arrays (S,): zone, heat capacity in J/(m2 K), convection, share of ware seen."""

    zone: npt.NDArray[np.intp]
    capacity_j_m2k: FloatArray
    convection_w_m2k: FloatArray
    sees_ware: FloatArray


def build_probes(sensors: Sequence[SensorSpec], zones: Sequence[str]) -> Probes:
    """Build the probes of `sensors`; `zones` names the zones in order."""
    metres = np.array([s.sheath_mm for s in sensors]) / 1000.0
    return Probes(
        zone=np.array([zones.index(s.zone) for s in sensors], dtype=np.intp),
        capacity_j_m2k=SHEATH_J_M3K * metres / 4.0,
        convection_w_m2k=GAS_W_M2K_AT_6_MM * np.sqrt(0.006 / metres),
        sees_ware=np.array([s.sees_ware for s in sensors]),
    )


def follow(
    probes: Probes, junction_c: FloatArray, step_s: float, *, gas_c: FloatArray, face_c: FloatArray, ware_c: FloatArray
) -> FloatArray:
    """Return junction temperatures (S,) `step_s` later; `gas_c`, `face_c`, `ware_c` (Z,) hold during the step."""
    gas = gas_c[probes.zone]
    around = probes.sees_ware * ware_c[probes.zone] + (1.0 - probes.sees_ware) * face_c[probes.zone]
    cubed = 4.0 * STEFAN_BOLTZMANN * (0.5 * (junction_c + around) + KELVIN) ** 3
    from_gas = probes.convection_w_m2k + GAS_EMISSIVITY * cubed
    from_around = SHEATH_EMISSIVITY * cubed
    total = from_gas + from_around
    target = (from_gas * gas + from_around * around) / total
    return target + (junction_c - target) * np.exp(-step_s * total / probes.capacity_j_m2k)


def lag_s(probes: Probes, celsius: float) -> FloatArray:
    """Return the time constants in seconds (S,) in surroundings of `celsius`."""
    cubed = 4.0 * STEFAN_BOLTZMANN * (celsius + KELVIN) ** 3
    return probes.capacity_j_m2k / (probes.convection_w_m2k + (GAS_EMISSIVITY + SHEATH_EMISSIVITY) * cubed)
