"""A sensor's own correction, from its calibration or a comparison: degC to add to what it reads."""

import numpy as np

from monitor.model import FloatArray

CorrectionPoints = tuple[tuple[float, float], ...]
"""(degC read, degC to add), rising in degC read; empty for none."""


def corrected(celsius: FloatArray, points: CorrectionPoints) -> FloatArray:
    """Return `celsius` (n,) with the correction added: linear between the points, constant beyond; NaN stays NaN."""
    if not points:
        return celsius
    read_c, add_c = np.array(points, dtype=np.float64).T
    add_here_c: FloatArray = np.interp(celsius, read_c, add_c)
    return celsius + add_here_c
