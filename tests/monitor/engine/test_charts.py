"""Control charts against the published examples of the NIST/SEMATECH e-Handbook of Statistical Methods."""

import csv
from pathlib import Path

import numpy as np
import pytest

from monitor.engine.charts import cusum, ewma, ewma_limit

GOLDEN = Path(__file__).parents[2] / "golden"


def _rows(name: str) -> list[dict[str, str]]:
    lines = [line for line in (GOLDEN / name).read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


def test_every_published_ewma_is_reproduced() -> None:
    """All twenty values of section 6.3.2.4 (lambda 0.3, start 50) agree to the two decimals printed."""
    rows = _rows("ewma_example.csv")
    chart = ewma(np.array([float(row["x"]) for row in rows]), 0.3, 50.0)

    assert chart.tolist() == pytest.approx([float(row["ewma_published"]) for row in rows], abs=0.00501)


def test_published_ewma_limits_are_reproduced() -> None:
    """Section 6.3.2.4: s = 2.0539, k = 3 gives 52.5884 and 47.4115; no point of the example lies outside."""
    limit = float(ewma_limit(2.0539, 0.3, 3.0))
    chart = ewma(np.array([float(row["x"]) for row in _rows("ewma_example.csv")]), 0.3, 50.0)

    assert 50.0 + limit == pytest.approx(52.5884, abs=1e-4)
    assert 50.0 - limit == pytest.approx(47.4115, abs=1e-4)
    assert (np.abs(chart - 50.0) < limit).all()


def test_the_limit_of_a_first_value_is_that_of_its_share() -> None:
    """With one value seen an EWMA strays by the share of it: lambda k s (the formula at i = 1)."""
    assert float(ewma_limit(2.0, 0.3, 3.0, 1)) == pytest.approx(0.3 * 3.0 * 2.0)


def test_an_ewma_runs_along_the_last_axis() -> None:
    """Two rows at once are the two charts alone."""
    values = np.array([[1.0, 2.0, 3.0], [5.0, 4.0, 0.0]])

    assert ewma(values, 0.5, 1.0).tolist() == [ewma(row, 0.5, 1.0).tolist() for row in values]


def test_every_cusum_of_the_example_is_reproduced() -> None:
    """Section 6.3.2.3: target 325, k 0.3175; both sums at all twenty observations."""
    rows = _rows("cusum_example.csv")
    sums = cusum(np.array([float(row["x"]) for row in rows]), 325.0, 0.3175)

    assert sums.high.tolist() == pytest.approx([float(row["s_hi"]) for row in rows], abs=5e-5)
    assert sums.low.tolist() == pytest.approx([float(row["s_lo"]) for row in rows], abs=5e-5)


def test_the_cusum_signals_where_published() -> None:
    """With h 4.1959 the first signal is at observation 14, and observations 14 to 20 are all out."""
    rows = _rows("cusum_example.csv")
    sums = cusum(np.array([float(row["x"]) for row in rows]), 325.0, 0.3175)
    out = np.flatnonzero((sums.high > 4.1959) | (sums.low > 4.1959)) + 1

    assert out.tolist() == list(range(14, 21))
    assert out.tolist() == [int(row["i"]) for row in rows if row["signal"] == "1"]
