"""Slopes of short records: least squares with holes, and Sen's median of pairwise slopes.

Sen: P. K. Sen, Estimates of the regression coefficient based on Kendall's tau, J. Am. Stat. Assoc. 63 (1968) 1379.
"""

import numpy as np

from monitor.model import FloatArray


def least_squares_slope(x: FloatArray, y: FloatArray) -> FloatArray:
    """Return the slope of `y` (..., n) over `x` (n,) by least squares, without cells that are NaN.

    NaN where fewer than two cells are there.
    """
    there = np.isfinite(y)
    count = np.maximum(there.sum(axis=-1, keepdims=True), 1)
    values = np.where(there, y, 0.0)
    dx = np.where(there, x - np.where(there, x, 0.0).sum(axis=-1, keepdims=True) / count, 0.0)
    dy = values - values.sum(axis=-1, keepdims=True) / count
    square = (dx * dx).sum(axis=-1)
    slope: FloatArray = np.where(square > 0.0, (dx * dy).sum(axis=-1) / np.where(square > 0.0, square, 1.0), np.nan)
    return slope


def sen_slope(x: FloatArray, y: FloatArray) -> FloatArray:
    """Return the median of all slopes between pairs of cells of `y` (..., n) over rising `x` (n,).

    Cells that are NaN are left out; NaN where fewer than two are there.
    """
    early, late = np.triu_indices(len(x), k=1)
    slopes = np.sort((y[..., late] - y[..., early]) / (x[late] - x[early]), axis=-1)
    count = np.isfinite(slopes).sum(axis=-1, keepdims=True)
    low = np.take_along_axis(slopes, np.maximum(count - 1, 0) // 2, axis=-1)
    high = np.take_along_axis(slopes, np.minimum(count // 2, slopes.shape[-1] - 1), axis=-1)
    return np.asarray(0.5 * (low + high)[..., 0])
