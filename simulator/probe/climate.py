"""The weather in the shed: the air's day and night, and the warmth at converters and connection heads near the kiln."""

from collections.abc import Sequence

import numpy as np

from monitor.model import FloatArray
from simulator.spec.kiln_file import KilnSpec

WARMEST_HOUR = 15.0
"""Hour of the day (UTC) when the shed is warmest (common practice, no source)."""
TERMINAL_RISE_C = 8.0
"""How much warmer than the shed the terminals are beside a kiln at 1200 degC (common practice, no source)."""


def shed_c(spec: KilnSpec, epoch_s: FloatArray) -> FloatArray:
    """Return the shed air in degC at `epoch_s` (n,)."""
    day = 2.0 * np.pi * (epoch_s / 3600.0 - WARMEST_HOUR) / 24.0
    return spec.shed_c + spec.shed_swing_c * np.cos(day)


def terminal_c(shed: FloatArray, kiln_c: FloatArray) -> FloatArray:
    """Return the cold junctions in degC (n,) in air of `shed` beside a kiln whose ware is at `kiln_c`."""
    return shed + TERMINAL_RISE_C * kiln_c / 1200.0


def head_c(shed: FloatArray, kiln_c: FloatArray, rises_c: Sequence[float]) -> FloatArray:
    """Return connection heads in degC (n, S) in air of `shed` (n,) at walls of zones whose ware is at `kiln_c` (n, S).

    `rises_c` (S,) says how much warmer than the shed each gets at 1200 degC: 6 to 35 degC (common practice, no source).
    """
    return shed[:, None] + np.asarray(rises_c) * kiln_c / 1200.0
