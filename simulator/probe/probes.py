"""Probes: the junction in its sheath follows gas and surroundings with a lag, and its stem leads heat away.

The sheath is one lump: heat capacity by its diameter, heat from the gas (convection and gas radiation) and from ware
and wall it sees. Towards the mean of what drives it, it goes first order; hot surroundings make it quick. The stem is a
rod that loses heat along its length L in the chamber and is held at the wall's mean where it enters, so that the tip
stays behind what drives it by the share 1 / cosh(m L), m = (4 h / (k d))^0.5 (rod with an insulated end, any book on
heat transfer).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import msgspec
import numpy as np
import numpy.typing as npt

from monitor.model import FloatArray
from simulator.physics.zones import KELVIN, STEFAN_BOLTZMANN
from simulator.spec.sensor_spec import SensorSpec

SHEATH_J_M3K = 3.6e6
"""Heat capacity by volume of steel, alumina and packed magnesia alike (from memory)."""
GAS_W_M2K_AT_6_MM = 25.0
"""Convection of slow hot gas across a 6 mm cylinder (from memory); falls with the root of the diameter."""
GAS_EMISSIVITY = 0.05
SHEATH_EMISSIVITY = 0.8
STEM_W_MK = 12.0
"""Conduction along a sheath with its filling, alumina or steel, at red heat (from memory: 6 to 25)."""


@dataclass(frozen=True, slots=True, eq=False)
class Probes:
    """The sensors of one kiln as arrays (S,): zone, heat capacity in J/(m2 K), convection, share of ware seen.

    `stem_k_m2_w` (S,) is 4 L^2 / (k d): times the heat transfer it is (m L)^2.
    """

    zone: npt.NDArray[np.intp]
    capacity_j_m2k: FloatArray
    convection_w_m2k: FloatArray
    sees_ware: FloatArray
    stem_k_m2_w: FloatArray


class Around(msgspec.Struct, frozen=True, gc=False, eq=False):
    """What probes stand in during a step: degC of gas, wall face and ware (Z,), and outside the wall."""

    gas_c: FloatArray
    face_c: FloatArray
    ware_c: FloatArray
    outside_c: float


def build_probes(sensors: Sequence[SensorSpec], zones: Sequence[str]) -> Probes:
    """Build the probes of `sensors`; `zones` names the zones in order."""
    metres = np.array([s.sheath_mm for s in sensors]) / 1000.0
    length_m = np.array([s.immersion_mm for s in sensors]) / 1000.0
    return Probes(
        zone=np.array([zones.index(s.zone) for s in sensors], dtype=np.intp),
        capacity_j_m2k=SHEATH_J_M3K * metres / 4.0,
        convection_w_m2k=GAS_W_M2K_AT_6_MM * np.sqrt(0.006 / metres),
        sees_ware=np.array([s.sees_ware for s in sensors]),
        stem_k_m2_w=4.0 * length_m**2 / (STEM_W_MK * metres),
    )


def follow(probes: Probes, junction_c: FloatArray, step_s: float, around: Around) -> FloatArray:
    """Return junction temperatures (S,) `step_s` later; `around` holds during the step."""
    gas, face = around.gas_c[probes.zone], around.face_c[probes.zone]
    seen = probes.sees_ware * around.ware_c[probes.zone] + (1.0 - probes.sees_ware) * face
    cubed = 4.0 * STEFAN_BOLTZMANN * (0.5 * (junction_c + seen) + KELVIN) ** 3
    from_gas = probes.convection_w_m2k + GAS_EMISSIVITY * cubed
    from_seen = SHEATH_EMISSIVITY * cubed
    total = from_gas + from_seen
    target = (from_gas * gas + from_seen * seen) / total
    entry = 0.5 * (face + around.outside_c)
    target += (entry - target) * stem_share(probes, total)
    return target + (junction_c - target) * np.exp(-step_s * total / probes.capacity_j_m2k)


def stem_share(probes: Probes, transfer_w_m2k: FloatArray) -> FloatArray:
    """Return by what share (S,) tips stay behind, with `transfer_w_m2k` (S,) between sheath and kiln."""
    grown = np.exp(np.minimum(np.sqrt(probes.stem_k_m2_w * transfer_w_m2k), 300.0))
    share: FloatArray = 2.0 / (grown + 1.0 / grown)
    return share


def lag_s(probes: Probes, celsius: float) -> FloatArray:
    """Return the time constants in seconds (S,) in surroundings of `celsius`."""
    return probes.capacity_j_m2k / transfer_at(probes, celsius)


def transfer_at(probes: Probes, celsius: float | FloatArray) -> FloatArray:
    """Return the heat transfer in W/(m2 K) (S,) in surroundings of `celsius`."""
    cubed = 4.0 * STEFAN_BOLTZMANN * (celsius + KELVIN) ** 3
    return probes.convection_w_m2k + (GAS_EMISSIVITY + SHEATH_EMISSIVITY) * cubed
