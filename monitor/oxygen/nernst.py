"""The oxygen probe: emf of a zirconia cell from the oxygen in the gas and back, by the Nernst equation.

E = (R T / 4 F) ln(0.2095 / x), x the share of O2 in the wet gas at the pressure of the reference air, T in kelvin:
positive when the gas has less oxygen than air. The cell's hot electrode burns the gas to equilibrium at its own
temperature, so that x is the equilibrium's, far below one where fuel is in excess.
"""

import numpy as np

from monitor.model import FloatArray

GAS_CONSTANT_J_MOLK = 8.314462618
FARADAY_C_MOL = 96485.33212
"""Both exact since the SI of 2019 (CODATA 2018)."""
AIR_OXYGEN_SHARE = 0.2095
"""Mole share of O2 in dry air (handbooks print 20.95 percent)."""
KELVIN = 273.15
ELECTRONS = 4.0
"""Electrons that carry one molecule of O2 through the cell."""


def emf_from_oxygen_share(share: FloatArray, celsius: FloatArray) -> FloatArray:
    """Return the cell's emf in volts for O2 shares (mol/mol) at cell temperatures in degC, arrays of one shape.

    NaN where there is none: a share not above 0 or a temperature not above absolute zero.
    """
    volts: FloatArray = _volts_per_e(celsius) * np.log(AIR_OXYGEN_SHARE / np.where(share > 0.0, share, np.nan))
    return volts


def oxygen_share_from_emf(emf_volts: FloatArray, celsius: FloatArray) -> FloatArray:
    """Return the O2 share (mol/mol of the wet gas) for emf in volts at cell temperatures in degC; NaN as above."""
    share: FloatArray = AIR_OXYGEN_SHARE * np.exp(-emf_volts / _volts_per_e(celsius))
    return share


def _volts_per_e(celsius: FloatArray) -> FloatArray:
    """Return the emf in volts of a factor e between reference and sample."""
    kelvin = np.where(celsius > -KELVIN, celsius + KELVIN, np.nan)
    return kelvin * (GAS_CONSTANT_J_MOLK / (ELECTRONS * FARADAY_C_MOL))
