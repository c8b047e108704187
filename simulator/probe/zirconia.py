"""The oxygen probe: a zirconia cell in the gas of its zone, warmed by the kiln itself.

Its electrode burns the gas to equilibrium (`flue_gas`) at its own temperature, and the cell gives the emf of the Nernst
equation. Gas takes seconds to pass the shield, so that the emf follows to first order. A cold cell conducts badly: the
meter's own resistance R_in then takes the share R / (R + R_in) of the emf away, R growing as exp(A / T). Below 600 degC
nothing that it says is to be believed.
"""

import numpy as np

from monitor.model import FloatArray
from monitor.oxygen.nernst import emf_from_oxygen_share
from simulator.physics.flue_gas import oxygen_share
from simulator.physics.zones import KELVIN

FOLLOWS_IN_S = 6.0
"""Time constant of gas through the shield and of the cell (common practice, no source)."""
FLICKER = 0.06
"""Standard deviation of the log of the ratio that passes the probe in one step (common practice, no source)."""
METER_OHM = 1.0e7
CELL_OHM_AT_700_C = 1.0e4
ACTIVATION_K = 11600.0
"""Input resistance of the meter, resistance of the cell at 700 degC and its activation, 1 eV (from memory)."""
NOISE_VOLTS = 0.2e-3
STEP_VOLTS = 0.1e-3
STEP_C = 0.1
"""Noise (rms) and steps of a plain voltage input and of the temperature beside it (common practice, no source)."""


def cell_volts(ratio: FloatArray, celsius: FloatArray, moisture: float) -> FloatArray:
    """Return the emf in volts at the meter (n,) for excess-air ratios around a cell at degC (n,), once it has followed.

    `moisture` is water per mass of wet wood.
    """
    open_volts = emf_from_oxygen_share(oxygen_share(ratio, celsius, moisture), celsius)
    shed = METER_OHM / (METER_OHM + cell_ohm(celsius))
    volts: FloatArray = open_volts * shed
    return volts


def cell_ohm(celsius: FloatArray) -> FloatArray:
    """Return the resistance of the cell in ohm at degC."""
    return CELL_OHM_AT_700_C * np.exp(ACTIVATION_K * (1.0 / (celsius + KELVIN) - 1.0 / (700.0 + KELVIN)))


class Cell:
    """One probe's cell, which remembers its last emf; `rng` draws the unsteadiness of the gas."""

    def __init__(self, moisture: float, rng: np.random.Generator) -> None:
        self._moisture = moisture
        self._rng = rng
        self._volts: float | None = None

    def add(self, ratio: FloatArray, celsius: FloatArray, step_s: float) -> FloatArray:
        """Return the emf in volts after each step, excess-air ratio and cell temperature in degC (n,)."""
        unsteady = ratio * np.exp(FLICKER * self._rng.standard_normal(len(ratio)))
        driven = cell_volts(unsteady, celsius, self._moisture).tolist()
        keeps = float(np.exp(-step_s / FOLLOWS_IN_S))
        volts = driven[0] if self._volts is None else self._volts
        out = []
        for aim in driven:
            volts = aim + (volts - aim) * keeps
            out.append(volts)
        self._volts = volts
        return np.array(out)


def volts_read(volts: FloatArray, standard_normal: FloatArray) -> FloatArray:
    """Return `volts` (n,) as the node tells them, noise made of `standard_normal` draws (n,)."""
    return np.round(np.rint((volts + NOISE_VOLTS * standard_normal) / STEP_VOLTS) * STEP_VOLTS, 6)


def temperature_read(celsius: FloatArray) -> FloatArray:
    """Return `celsius` (n,) as the node tells it."""
    return np.round(np.rint(celsius / STEP_C) * STEP_C, 6)
