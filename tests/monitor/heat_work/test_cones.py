"""The table of cones, row by row."""

import csv
from pathlib import Path

import numpy as np
import pytest

from monitor.heat_work.cones import CONES, END_60_C, NAMES, cone_index
from monitor.heat_work.steady import climbed_to_c

GOLDEN = Path(__file__).parents[2] / "golden" / "cones.csv"
"""End points from memory: Fairchild and Peters 1926 as reprinted in the CRC Handbook; model values computed."""

ROWS = list(csv.DictReader(line for line in GOLDEN.read_text().splitlines() if not line.startswith("#")))


def _ends(climb_c_per_h: float) -> np.ndarray:
    return climbed_to_c(np.ones(len(CONES)), climb_c_per_h)


def test_every_cone_is_there_in_rising_order() -> None:
    """022 to 15 are 37 cones, each with the numbers of its row."""
    assert tuple(row["cone"] for row in ROWS) == NAMES
    assert len(NAMES) == 37
    assert (np.diff(END_60_C) > 0.0).all()
    for cone, row in zip(CONES, ROWS, strict=True):
        expected = (row["E_model_J_per_mol"], row["T_ref_C"], row["k_ref_per_s"], row["model_end_C_at_60_C_per_h"])
        assert cone[1:] == tuple(float(text) for text in expected)


@pytest.mark.parametrize(
    ("climb_c_per_h", "table", "miss"),
    [
        (20.0, "end_C_at_20_C_per_h", "model_minus_table_20_C"),
        (150.0, "end_C_at_150_C_per_h", "model_minus_table_150_C"),
    ],
)
def test_end_points_miss_the_table_by_what_is_said(climb_c_per_h: float, table: str, miss: str) -> None:
    """At both rates of the table each cone is down where table plus told miss say, to their rounding of 0.1 degC."""
    expected = [float(row[table]) + float(row[miss]) for row in ROWS]

    np.testing.assert_allclose(_ends(climb_c_per_h), expected, atol=0.06)


@pytest.mark.parametrize(
    ("climb_c_per_h", "column"),
    [(60.0, "model_end_C_at_60_C_per_h"), (10.0, "model_end_C_at_10_C_per_h_extrapolated")],
)
def test_end_points_at_other_rates_are_those_of_the_rows(climb_c_per_h: float, column: str) -> None:
    """At 60 and 10 degC/h each cone is down where its row says, to the rounding of 0.1 degC."""
    np.testing.assert_allclose(_ends(climb_c_per_h), [float(row[column]) for row in ROWS], atol=0.06)


def test_a_cone_is_found_by_its_name() -> None:
    """022 is the first, 15 the last, and another is refused with what there is."""
    assert (cone_index("022"), cone_index("15")) == (0, 36)
    with pytest.raises(ValueError, match="no cone '16'; there are 022 to 15"):
        cone_index("16")
