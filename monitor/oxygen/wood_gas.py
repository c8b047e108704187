"""Flue gas of wood at equilibrium: the excess-air ratio that an oxygen share at a temperature stands for.

Gas of C, H, O and N with no soot; with K1 = p_CO2 / (p_CO x^0.5) and K2 = p_H2O / (p_H2 x^0.5), x the O2 share at
1 bar, x alone settles how much carbon and hydrogen is burnt, and the balance of oxygen gives the air:

    a (1 - y r) = n_C (1 + f_C) / 2 + n_H f_H / 2 + y (n_C + n_H) - n_O - n_W / 2,    y = x / (1 - x)

moles per kg of dry wood: `a` O2 brought by air (r moles of N2 each), n_C carbon, n_H hydrogen as H2 with that
of the water, n_W water in the wood, n_O oxygen in the wood as O2; f = K x^0.5 / (1 + K x^0.5) burnt share. Above
ratio 1 it is stoichiometry, below 1 the equilibrium of a hot electrode. In a real flame CO and O2 stand side by side.
"""

import numpy as np

from monitor.model import FloatArray
from monitor.oxygen.nernst import AIR_OXYGEN_SHARE, GAS_CONSTANT_J_MOLK, KELVIN

CARBON_MOL_KG = 0.50 / 0.012011
HYDROGEN_MOL_KG = 0.06 / 0.0020159
OXYGEN_MOL_KG = 0.44 / 0.031998
"""Dry wood, ash free, 50 % C, 6 % H, 44 % O by mass (common practice); hydrogen as H2, oxygen as O2."""
WATER_MOL_KG = 1.0 / 0.018015
DEMAND_MOL_KG = CARBON_MOL_KG + HYDROGEN_MOL_KG / 2.0 - OXYGEN_MOL_KG
"""O2 from air that burns a kg of dry wood; 5.91 kg of air hold it."""
NITROGEN_PER_OXYGEN = (1.0 - AIR_OXYGEN_SHARE) / AIR_OXYGEN_SHARE
CARBON_MONOXIDE_J_MOL = (-282400.0, 86.8)
HYDROGEN_J_MOL = (-247500.0, 55.85)
"""Gibbs energy a + b T of burning CO to CO2 and H2 to steam with half an O2, T in kelvin (from memory, near 1300 K)."""
USUAL_MOISTURE = 0.20
"""Water in air-dry wood, share of its wet mass (common practice, no source); it hardly moves the ratio."""


def excess_air_from_oxygen(share: FloatArray, celsius: FloatArray, moisture: float = USUAL_MOISTURE) -> FloatArray:
    """Return the excess-air ratio for O2 shares (mol/mol, wet) at temperatures in degC, arrays of one shape.

    `moisture` is water per mass of wet wood. Infinite where the gas is air; NaN for shares outside 0 to 1. Where even
    soot would have to burn the formula goes on to a ratio of 0 and below.
    """
    x = np.where((share > 0.0) & (share < 1.0), share, np.nan)
    water = moisture / (1.0 - moisture) * WATER_MOL_KG
    hydrogen = HYDROGEN_MOL_KG + water
    ratio_xy = x / (1.0 - x)
    burnt_carbon = _burnt_share(CARBON_MONOXIDE_J_MOL, x, celsius)
    burnt_hydrogen = _burnt_share(HYDROGEN_J_MOL, x, celsius)
    taken = CARBON_MOL_KG * (1.0 + burnt_carbon) / 2.0 + hydrogen * burnt_hydrogen / 2.0
    given = OXYGEN_MOL_KG + water / 2.0
    left = 1.0 - ratio_xy * NITROGEN_PER_OXYGEN
    air = (taken + ratio_xy * (CARBON_MOL_KG + hydrogen) - given) / np.where(left > 0.0, left, np.nan)
    ratio: FloatArray = np.where(x >= AIR_OXYGEN_SHARE, np.inf, air / DEMAND_MOL_KG)
    return ratio


def _burnt_share(gibbs_j_mol: tuple[float, float], x: FloatArray, celsius: FloatArray) -> FloatArray:
    kelvin = celsius + KELVIN
    per_root = np.exp(-(gibbs_j_mol[0] / kelvin + gibbs_j_mol[1]) / GAS_CONSTANT_J_MOLK) * np.sqrt(x)
    share: FloatArray = per_root / (1.0 + per_root)
    return share
