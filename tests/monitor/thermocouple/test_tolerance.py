"""Tolerance classes against the standard's table."""

import csv
from pathlib import Path

import numpy as np
import pytest

from monitor.thermocouple.tolerance import limit_c, standard_uncertainty_c

GOLDEN = Path(__file__).parents[2] / "golden" / "tolerances.csv"


def _rows() -> list[dict[str, str]]:
    lines = [line for line in GOLDEN.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


@pytest.mark.parametrize("row", _rows(), ids=lambda r: f"{r['type']}-{r['class']}-{r['t_from_C']}")
def test_limit_is_that_of_the_standard(row: dict[str, str]) -> None:
    """IEC 60584-1:2013, every range of every letter and class: +-(a + b |t - t0|)."""
    low, high, a, b, t0 = (float(row[name]) for name in ("t_from_C", "t_to_C", "a_C", "b", "t0_C"))
    celsius = np.linspace(max(low, 0.0), high, 20)[1:-1]

    np.testing.assert_allclose(limit_c(row["type"], int(row["class"]), celsius), a + b * np.abs(celsius - t0))


@pytest.mark.parametrize(("letter", "limit"), [("K", 9.0), ("S", 3.0), ("B", 3.0), (None, 9.0)])
def test_uncertainty_is_that_of_a_rectangle_as_wide_as_class_2(letter: str | None, limit: float) -> None:
    """JCGM 100:2008, 4.3.7: half the width over the root of three; IEC 60584-1:2013 at 1200 degC: 0.75 and 0.25 %."""
    assert standard_uncertainty_c(letter, np.array([1200.0]))[0] == pytest.approx(limit / 3.0**0.5)
