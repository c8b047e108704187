"""Closed forms of steady climbs, checked against SciPy's exponential integral and its solvers."""

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.special import expn

from monitor.heat_work.cones import CONES, ENERGY_K, REFERENCE_K, REFERENCE_PER_S, cone_index
from monitor.heat_work.rate import rate_per_s
from monitor.heat_work.steady import climb_work, climbed_to_c, e_fold_c, scaled_e2, time_to_cone_s

GOLDEN = Path(__file__).parents[2] / "golden" / "cone_tests.csv"
"""Worked cases of the model, computed with steps of 60 s or less."""

ROWS = list(csv.DictReader(line for line in GOLDEN.read_text().splitlines() if not line.startswith("#")))


def test_the_exponential_integral_is_that_of_scipy() -> None:
    """The continued fraction against scipy.special.expn, from 3000 degC to where exp(-x) still is a number."""
    x = np.linspace(15.0, 700.0, 500)

    np.testing.assert_allclose(scaled_e2(x), np.exp(x) * expn(2, x), rtol=1e-11)


@pytest.mark.parametrize("climb_c_per_h", [20.0, 60.0, 150.0])
def test_the_work_of_a_climb_is_the_closed_form(climb_c_per_h: float) -> None:
    """It is (k_ref / b) exp(E/(R T_ref)) T E2(E/(R T)) with SciPy's E2, for every cone."""
    kelvin = REFERENCE_K + 5.0
    x = ENERGY_K / kelvin
    expected = REFERENCE_PER_S * 3600.0 / climb_c_per_h * np.exp(ENERGY_K / REFERENCE_K) * kelvin * expn(2, x)

    work = np.diag(climb_work(kelvin - 273.15, np.full(len(CONES), climb_c_per_h)))

    assert (x < 700.0).all()
    np.testing.assert_allclose(work, expected, rtol=1e-10)


@pytest.mark.parametrize("row", [row for row in ROWS if row["case"] == "ramp"], ids=lambda r: r["history"] + r["cone"])
def test_every_ramp_ends_where_its_row_says(row: dict[str, str]) -> None:
    """The 18 steady climbs of the worked cases."""
    climb_c_per_h = float(row["history"].split()[0])
    i = cone_index(row["cone"])

    end_c = climbed_to_c(np.ones(len(CONES)), climb_c_per_h)[i]
    from_300_s = time_to_cone_s(np.zeros(len(CONES)), np.array(300.0), np.array(climb_c_per_h))[i]

    assert end_c == pytest.approx(float(row["value"]), abs=float(row["tolerance"]))
    assert 300.0 + climb_c_per_h * from_300_s / 3600.0 == pytest.approx(
        float(row["value"]), abs=float(row["tolerance"])
    )


@pytest.mark.parametrize("row", [row for row in ROWS if row["case"] == "hold"], ids=lambda r: r["cone"])
def test_every_hold_lasts_as_long_as_its_row_says(row: dict[str, str]) -> None:
    """A climb of 60 degC/h from 300, then a soak: the five worked cases."""
    top_c = float(row["history"].split("to ")[1].split(",")[0])
    work = climb_work(np.array(top_c), 60.0) - climb_work(np.array(300.0), 60.0)

    hold_s = time_to_cone_s(work, np.array(top_c), np.array(0.0))[cone_index(row["cone"])]

    assert hold_s / 60.0 == pytest.approx(float(row["value"]), abs=float(row["tolerance"]))


@pytest.mark.parametrize(("short_c", "minutes"), [(10.0, 13.0), (20.0, 36.0), (30.0, 76.0), (40.0, 145.0)])
def test_a_soak_makes_good_what_is_lacking(short_c: float, minutes: float) -> None:
    """Cone 10 after 60 degC/h, computed with the table of cones: 10 degC short 13 min, 20 36, 30 76, 40 145."""
    top_c = np.array(1283.96 - short_c)

    hold_s = time_to_cone_s(climb_work(top_c, 60.0), top_c, np.array(0.0))[cone_index("10")]

    assert hold_s / 60.0 == pytest.approx(minutes, abs=1.0)


@given(st.floats(0.0, 5.0), st.sampled_from([1.0, 20.0, 60.0, 400.0]))
def test_a_climb_found_from_its_work_gives_that_work(log_part: float, climb_c_per_h: float) -> None:
    """`climbed_to_c` undoes `climb_work`, from a hundred-thousandth of a cone to the whole."""
    work = np.full(len(CONES), 10.0**-log_part)

    back = climb_work(climbed_to_c(work, climb_c_per_h), np.full(len(CONES), climb_c_per_h))

    np.testing.assert_allclose(np.diag(back), work, rtol=1e-9)


@given(
    st.floats(0.0, 0.99), st.floats(-60.0, -3.0), st.floats(-150.0, 150.0), st.sampled_from(["018", "03", "6", "11"])
)
def test_the_time_left_fills_the_cone(work: float, below_c: float, climb_c_per_h: float, cone: str) -> None:
    """scipy.integrate.quad over the told time gives what was lacking; where never is told, all of it is too little."""
    i = cone_index(cone)
    start_c = CONES[i].end_60_c + below_c
    seconds = time_to_cone_s(np.full(len(CONES), work), np.array(start_c), np.array(climb_c_per_h))[i]
    until_s = seconds if np.isfinite(seconds) else 500.0 / abs(climb_c_per_h) * 3600.0
    gained, _ = quad(
        lambda s: float(rate_per_s(np.array(start_c + climb_c_per_h * s / 3600.0))[i]), 0.0, until_s, epsrel=1e-9
    )

    if np.isfinite(seconds):
        assert gained == pytest.approx(1.0 - work, rel=1e-4)
    else:
        assert climb_c_per_h < 0.0
        assert gained < 1.0 - work


def test_a_climb_of_almost_nothing_is_a_hold() -> None:
    """On both sides of the limit below which a climb counts as a hold the time left is nearly the same."""
    work, here = np.full(len(CONES), 0.5), np.array(1200.0)
    held, crept = (time_to_cone_s(work, here, np.array(climb))[cone_index("6")] for climb in (0.9e-4, 1.1e-4))

    assert crept == pytest.approx(held, rel=1e-5)


def test_a_cone_that_is_down_needs_no_time_and_nothing_known_gives_nothing() -> None:
    """0 s with work of 1 or more, NaN without a temperature or a climb or a work."""
    down, open_work = np.full(len(CONES), 1.2), np.zeros((3, len(CONES)))
    open_work[2] = np.nan

    left = time_to_cone_s(open_work, np.array([np.nan, 900.0, 900.0]), np.array([50.0, np.nan, 50.0]))

    assert (time_to_cone_s(down, np.array(900.0), np.array(-20.0)) == 0.0).all()
    assert np.isnan(left).all()


def test_the_e_fold_is_nearly_that_of_arrhenius() -> None:
    """It is R T**2 / E less a few percent: T exp(x) E2(x) = T / (x + 2 - ...)."""
    at_c = np.array(1250.0)
    arrhenius = (1250.0 + 273.15) ** 2 / ENERGY_K

    np.testing.assert_allclose(e_fold_c(at_c), arrhenius, rtol=0.08)
    assert (e_fold_c(at_c) < arrhenius).all()


def test_no_work_at_all_is_colder_than_any_kiln() -> None:
    """Without work the climb has not begun, and no warning is raised."""
    assert (climbed_to_c(np.zeros(len(CONES)), 60.0) < -200.0).all()
