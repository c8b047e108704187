"""The flame: fuel gas burns zone by zone where it is hot enough and meets air; what is left travels on.

With much fuel and little air the flame grows long and heats the back; what passes the flue is lost as smoke.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from simulator.fuel import FuelGas

IGNITION_C = 600.0
"""Middle of the range where wood gas lights without a pilot (from memory; 40 degC either side)."""
IGNITION_WIDTH_C = 40.0
REACHABLE_AIR = 0.97
"""Share of a zone's oxygen that a flame can use up (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Flame:
    """Heat released per zone in J, air left unused and the gas that leaves unburnt."""

    heat_j: list[float]
    air_left_kg: float
    unburnt: FuelGas


def lit_share(gas_c: float) -> float:
    """Return the share of fuel gas that lights by itself at `gas_c`."""
    return 1.0 / (1.0 + math.exp(-max(min((gas_c - IGNITION_C) / IGNITION_WIDTH_C, 30.0), -30.0)))


def spread_flame(
    gas: FuelGas,
    air_kg: Sequence[float],
    *,
    mixing: Sequence[float],
    gas_c: Sequence[float],
    has_embers: bool,
) -> Flame:
    """Burn `gas`, released in the firebox, along the zones.

    Args:
        gas: all fuel gas of this step.
        air_kg: fresh air that enters each zone in this step.
        mixing: share of the gas present that each zone can mix with just the air it needs.
        gas_c: gas temperature of each zone.
        has_embers: a bed in the firebox lights the gas there at any temperature.
    """
    left = FuelGas(gas.heat_j, gas.air_kg, gas.mass_kg)
    free_kg = 0.0
    heat_j: list[float] = []
    for zone, fresh_kg in enumerate(air_kg):
        free_kg += fresh_kg
        lit = 1.0 if zone == 0 and has_embers else lit_share(gas_c[zone])
        wanted_kg = left.air_kg * lit * _met_share(mixing[zone], free_kg, left.air_kg)
        taken_kg = min(wanted_kg, REACHABLE_AIR * free_kg)
        share = taken_kg / left.air_kg if left.air_kg > 0.0 else 0.0
        heat_j.append(left.heat_j * share)
        left.heat_j -= left.heat_j * share
        left.air_kg -= taken_kg
        free_kg -= taken_kg
    return Flame(heat_j, free_kg, left)


def _met_share(mixing: float, free_kg: float, needed_kg: float) -> float:
    """Return the share of the gas that meets air: the more there is, the less gas goes by (4 times is plenty)."""
    plenty = min(max(free_kg / needed_kg, 1.0), 4.0) if needed_kg > 0.0 else 1.0
    return float(1.0 - (1.0 - mixing) ** plenty)
