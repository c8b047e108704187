"""Control charts: EWMA (ISO 7870-6) and tabular CUSUM (ISO 7870-4), as pure functions."""

from dataclasses import dataclass

import numpy as np

from monitor.model import FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Cusum:
    """Sums above and below the target, each (n,), in the unit of the values."""

    high: FloatArray
    low: FloatArray


def ewma(values: FloatArray, share: float, target: float) -> FloatArray:
    """Return z_i = share x_i + (1 - share) z_(i-1), z_0 = target, along the last axis of `values`."""
    out = np.empty_like(values, dtype=np.float64)
    z = np.full(values.shape[:-1], target)
    for i in range(values.shape[-1]):
        z = share * values[..., i] + (1.0 - share) * z
        out[..., i] = z
    return out


def ewma_limit(spread: FloatArray | float, share: float, width: float, count: int | None = None) -> FloatArray:
    """Return how far from the target an EWMA of values with standard deviation `spread` may stray.

    `width` is in standard deviations of the EWMA; `count` values were seen, None for very many.
    """
    begun = 1.0 if count is None else 1.0 - (1.0 - share) ** (2 * count)
    return np.asarray(width * np.asarray(spread) * np.sqrt(share / (2.0 - share) * begun))


def cusum(values: FloatArray, target: float, slack: float) -> Cusum:
    """Return the sums of what `values` (n,) are above `target` + `slack`, and below `target` - `slack`."""
    high, low = np.zeros(len(values)), np.zeros(len(values))
    up = down = 0.0
    for i, value in enumerate(values.tolist()):
        up = max(0.0, up + value - target - slack)
        down = max(0.0, down + target - slack - value)
        high[i], low[i] = up, down
    return Cusum(high, low)
