"""Human scatter: nobody keeps an interval or an armful exactly, and who is slow now is likely to be slow next time."""

import numpy as np


class Scatter:
    """Log-normal factors about 1, each leaning a little on the one before (a first-order autoregression of the log)."""

    def __init__(self, rng: np.random.Generator, keeps: float) -> None:
        self._rng = rng
        self._keeps = keeps
        self._level = float(rng.standard_normal())

    def next_factor(self, spread: float) -> float:
        """Return the next factor; `spread` is the standard deviation of its log."""
        kick = float(self._rng.standard_normal())
        self._level = self._keeps * self._level + (1.0 - self._keeps**2) ** 0.5 * kick
        return float(np.exp(spread * self._level))
