"""Rates and steps, checked against adaptive quadrature."""

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from monitor.heat_work.cones import CONES, REFERENCE_PER_S, cone_index
from monitor.heat_work.rate import rate_per_s, step_work

GOLDEN = Path(__file__).parents[2] / "golden" / "cones.csv"


def test_rates_at_the_reference_temperatures_are_those_of_the_table() -> None:
    """At its own reference temperature each cone takes up k_ref."""
    rates = rate_per_s(np.array([cone.reference_c for cone in CONES]))

    np.testing.assert_allclose(np.diag(rates), REFERENCE_PER_S, rtol=1e-12)


def test_the_rate_grows_by_e_over_the_told_climb() -> None:
    """`e_fold_C` of the rows is R T**2 / E: half of it below and above the end point the rates differ by e, nearly."""
    rows = list(csv.DictReader(line for line in GOLDEN.read_text().splitlines() if not line.startswith("#")))
    ends, folds = np.array([[float(r["model_end_C_at_60_C_per_h"]), float(r["e_fold_C"])] for r in rows]).T
    grown = np.diag(rate_per_s(ends + 0.5 * folds) / rate_per_s(ends - 0.5 * folds))

    # folds are rounded to 0.1 degC, which is up to 1.4 % of the exponent
    np.testing.assert_allclose(np.log(grown), 1.0, atol=0.015)


@given(st.floats(400.0, 1350.0), st.floats(-2.0, 2.0), st.sampled_from(["018", "04", "6", "10", "13"]))
def test_a_step_of_a_minute_is_the_integral(start_c: float, rise_c: float, cone: str) -> None:
    """scipy.integrate.quad over a straight minute gives the same to a thousandth: rising, falling, holding."""
    i = cone_index(cone)
    integral, _ = quad(lambda s: rate_per_s(np.array(start_c + rise_c * s / 60.0))[i], 0.0, 60.0, epsabs=0.0)

    step = step_work(np.array(start_c), np.array(start_c + rise_c), 60.0)[i]

    assert step == pytest.approx(integral, rel=1e-3)


@given(st.floats(400.0, 1400.0), st.floats(400.0, 1400.0))
def test_a_step_is_the_logarithmic_mean_of_its_ends(before_c: float, after_c: float) -> None:
    """(k2 - k1) / ln(k2 / k1) where the two are not nearly equal, and between them always."""
    early, late = rate_per_s(np.array([before_c, after_c]))
    step = step_work(np.array(before_c), np.array(after_c), 1.0)

    assert ((step >= np.minimum(early, late) * (1.0 - 1e-9)) & (step <= np.maximum(early, late) * (1.0 + 1e-9))).all()
    if abs(after_c - before_c) > 1.0:
        np.testing.assert_allclose(step, (late - early) / np.log(late / early), rtol=1e-8)


def test_steps_of_ten_minutes_cost_less_than_a_twentieth_of_a_degree() -> None:
    """On a climb of 60 degC/h to cone 10's end the steps are off by less than 0.2 % of the work, which is 0.04 degC."""
    coarse_c, fine_c = np.linspace(300.0, 1280.0, 99), np.linspace(300.0, 1280.0, 9801)
    i = cone_index("10")
    coarse = step_work(coarse_c[:-1], coarse_c[1:], 600.0)[:, i].sum()
    fine = step_work(fine_c[:-1], fine_c[1:], 6.0)[:, i].sum()

    assert coarse == pytest.approx(fine, rel=2e-3)


def test_nothing_known_is_no_rate_and_nonsense_is_finite() -> None:
    """NaN stays NaN over every cone; a reading below absolute zero raises no warning and gives nothing."""
    rates = rate_per_s(np.array([[np.nan], [-400.0]]))

    assert rates.shape == (2, 1, len(CONES))
    assert np.isnan(rates[0]).all()
    assert (rates[1] < 1e-100).all()
