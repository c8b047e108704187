"""What an oxygen probe would find in the flue gas of wood: the O2 share at equilibrium for an excess-air ratio.

The way back of `monitor.oxygen.wood_gas`, which has the equations: the ratio rises with the share, so the share is
found by halving its logarithm. `mixed_ratio` says which ratio passes a probe where air and fuel gas are given.
"""

import numpy as np

from monitor.model import FloatArray
from monitor.oxygen.nernst import AIR_OXYGEN_SHARE
from monitor.oxygen.wood_gas import excess_air_from_oxygen

LOWEST_LN_SHARE = -110.0
"""Logarithm of an O2 share below any of wood gas richer than `RICHEST` above 400 degC."""
HALVINGS = 56
RICHEST, LEANEST = 0.4, 50.0
"""Excess-air ratios beyond which the gas is taken as of this one: soot would fall out; nearly all is air."""


def oxygen_share(ratio: FloatArray, celsius: FloatArray, moisture: float) -> FloatArray:
    """Return the O2 share (mol/mol, wet) at equilibrium for excess-air ratios at temperatures in degC, both (n,).

    `moisture` is water per mass of wet wood; ratios are held between `RICHEST` and `LEANEST`, temperatures at 400 degC
    and above.
    """
    wanted = np.clip(ratio, RICHEST, LEANEST)
    hot = np.maximum(celsius, 400.0)
    low = np.full(wanted.shape, LOWEST_LN_SHARE)
    high = np.full(wanted.shape, np.log(AIR_OXYGEN_SHARE))
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        is_above = excess_air_from_oxygen(np.exp(middle), hot, moisture) > wanted
        high = np.where(is_above, middle, high)
        low = np.where(is_above, low, middle)
    share: FloatArray = np.exp(0.5 * (low + high))
    return share


def mixed_ratio(air_kg_s: FloatArray, demand_kg_s: FloatArray) -> FloatArray:
    """Return the excess-air ratio (n,) of `air_kg_s` against the demand of the gas with it; `LEANEST` without fuel."""
    return np.minimum(air_kg_s / np.maximum(demand_kg_s, air_kg_s / LEANEST + 1e-12), LEANEST)
