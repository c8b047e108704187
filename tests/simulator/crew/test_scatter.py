"""Human scatter: its spread, its middle, and how much one leans on the one before."""

import numpy as np
import pytest

from simulator.crew.scatter import Scatter


@pytest.mark.parametrize(("keeps", "spread"), [(0.0, 0.1), (0.3, 0.08), (0.8, 0.2)])
def test_factors_scatter_as_asked(keeps: float, spread: float) -> None:
    """First-order autoregression (textbook): stationary spread as asked, correlation of neighbours `keeps`."""
    scatter = Scatter(np.random.default_rng(1), keeps)
    logs = np.log([scatter.next_factor(spread) for _ in range(20_000)])

    assert logs.std() == pytest.approx(spread, rel=0.05)
    assert logs.mean() == pytest.approx(0.0, abs=0.1 * spread)
    assert np.corrcoef(logs[1:], logs[:-1])[0, 1] == pytest.approx(keeps, abs=0.03)


def test_a_sure_hand_does_not_scatter() -> None:
    """No spread: the factor is one."""
    assert Scatter(np.random.default_rng(1), 0.3).next_factor(0.0) == 1.0
