"""The flame: fuel gas burns zone by zone where it is hot enough and meets air; what is left travels on.

With much fuel and little air the flame grows long and heats the back; what passes the chimney is lost as smoke. Gas
may be released in any zone. Char in a heap takes its little air before the gas does.
"""

import math
from collections.abc import Sequence

import msgspec

from simulator.physics.embers import burn_heap
from simulator.physics.fuel import CHAR_AIR_KG_KG, FuelGas

IGNITION_C = 600.0
"""Middle of the range where wood gas lights without a pilot (from memory; 40 degC either side)."""
IGNITION_WIDTH_C = 40.0
ALL_OR_NOTHING = 20.0
"""Widths from the middle at which all or nothing lights; the rest is below 1e-8."""
REACHABLE_AIR = 0.97
"""Share of a zone's oxygen that a flame can use up (common practice, no source)."""
PLENTY = 4.0
"""Times the air it needs beyond which more air does not help gas to find it (common practice, no source)."""


class Flame(msgspec.Struct, frozen=True, gc=False):
    """Heat released per zone in J by burning gas, char that heaps burnt there in kg, and what is left over."""

    gas_j: list[float]
    char_kg: list[float]
    air_left_kg: float
    unburnt: FuelGas


def lit_share(gas_c: float) -> float:
    """Return the share of fuel gas that lights by itself at `gas_c`."""
    widths = (gas_c - IGNITION_C) / IGNITION_WIDTH_C
    if widths > ALL_OR_NOTHING:
        return 1.0
    return 1.0 / (1.0 + math.exp(-widths)) if widths > -ALL_OR_NOTHING else 0.0


class Hearths(msgspec.Struct, frozen=True, gc=False):
    """What fuel meets along the zones: `mixing` share of the gas present that a zone can mix with just enough air.

    `gas_c` is the gas temperature of each zone, `heaps_kg` the char lying there beside the grate; a bed of embers
    lights the gas in the firebox at any temperature.
    """

    mixing: Sequence[float]
    gas_c: Sequence[float]
    heaps_kg: Sequence[float]
    has_embers: bool


def spread_flame(released: Sequence[FuelGas], air_kg: Sequence[float], hearths: Hearths, step_s: float) -> Flame:
    """Burn what is `released` in each zone with the fresh `air_kg` of each zone, as all of it travels along them."""
    left_j = left_kg = free_kg = 0.0
    gas_j, char_kg = [0.0] * len(air_kg), [0.0] * len(air_kg)
    for zone, fresh_kg in enumerate(air_kg):
        left_j += released[zone].heat_j
        left_kg += released[zone].air_kg
        free_kg += fresh_kg
        heap_kg = hearths.heaps_kg[zone]
        if heap_kg > 0.0:
            glowing = lit_share(hearths.gas_c[zone])
            char_kg[zone] = burn_heap(heap_kg, air_kg=free_kg, glowing=glowing, step_s=step_s)
            free_kg -= char_kg[zone] * CHAR_AIR_KG_KG
        if left_kg > 0.0:
            lit = 1.0 if zone == 0 and hearths.has_embers else lit_share(hearths.gas_c[zone])
            burnt = min(lit * _met_share(hearths.mixing[zone], free_kg / left_kg), REACHABLE_AIR * free_kg / left_kg)
            gas_j[zone] = left_j * burnt
            left_j -= left_j * burnt
            free_kg -= left_kg * burnt
            left_kg -= left_kg * burnt
    return Flame(gas_j, char_kg, free_kg, FuelGas(left_j, left_kg))


def _met_share(mixing: float, air_ratio: float) -> float:
    """Return the share of the gas that meets air: the more there is, the less gas goes by."""
    if air_ratio <= 1.0:
        return mixing
    return 1.0 - float((1.0 - mixing) ** min(air_ratio, PLENTY))
