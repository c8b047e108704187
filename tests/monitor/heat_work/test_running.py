"""Heat work over whole firings, taken up moment by moment."""

import csv
from pathlib import Path

import numpy as np
import pytest

from monitor.heat_work.cones import CONES, cone_index
from monitor.heat_work.rate import step_work
from monitor.heat_work.running import GAP_S, HeatWork, bridged_share, new_heat_work, take_up
from monitor.heat_work.steady import climb_work

GOLDEN = Path(__file__).parents[2] / "golden" / "cone_tests.csv"
"""Worked cases of the model, computed with steps of 60 s or less."""

ROWS = list(csv.DictReader(line for line in GOLDEN.read_text().splitlines() if not line.startswith("#")))
FIRING = [row for row in ROWS if row["case"] == "firing"]
HOURS, CELSIUS = (0.0, 48.0, 96.0, 108.0, 114.0, 120.0), (20.0, 300.0, 1150.0, 1240.0, 1240.0, 1270.0)


@pytest.fixture(scope="module")
def firing() -> tuple[np.ndarray, np.ndarray]:
    """Return hours and heat work of every cone over the worked firing, a moment every 30 s."""
    hours = np.arange(0.0, 120.0 + 1e-9, 30.0 / 3600.0)
    state, work = new_heat_work((1, 1)), []
    for hour, celsius in zip(hours, np.interp(hours, HOURS, CELSIUS), strict=True):
        take_up(state, 1.7e9 + hour * 3600.0, np.array([[celsius]]))
        work.append(state.work[0, 0].copy())
    return hours, np.array(work)


@pytest.mark.parametrize("row", FIRING[:-1], ids=lambda r: r["cone"])
def test_every_cone_of_the_worked_firing_falls_when_its_row_says(
    row: dict[str, str], firing: tuple[np.ndarray, np.ndarray]
) -> None:
    """Five days with a soak: nine cones, each to the table's 0.05 h."""
    hours, work = firing
    down = float(np.interp(1.0, work[:, cone_index(row["cone"])], hours))

    assert (row["unit"], row["quantity"]) == ("h", "hours when down")
    assert down == pytest.approx(float(row["value"]), abs=float(row["tolerance"]))


def test_the_cone_that_stands_has_the_work_of_its_row(firing: tuple[np.ndarray, np.ndarray]) -> None:
    """Cone 12 stands at the end with a quarter of its work."""
    row = FIRING[-1]

    assert (row["cone"], row["quantity"]) == ("12", "heat work at the end")
    assert firing[1][-1, cone_index("12")] == pytest.approx(float(row["value"]), abs=float(row["tolerance"]))


def test_all_worked_cases_are_known_to_the_tests() -> None:
    """18 ramps and 5 holds are in test_steady, 10 of the firing here: nothing of the table is left out."""
    cases = [row["case"] for row in ROWS]

    assert [cases.count(case) for case in ("ramp", "hold", "firing")] == [18, 5, 10]
    assert len(cases) == 33


def _run(celsius: np.ndarray, moments: np.ndarray) -> HeatWork:
    state = new_heat_work((1, celsius.shape[1]))
    for at, each in zip(moments, celsius, strict=True):
        take_up(state, float(at), each[None, :])
    return state


def test_sensors_stand_each_for_themselves() -> None:
    """Two sensors in one state have what each has alone: a climb to the first temperature, and a sum over the steps."""
    moments = np.arange(0.0, 7200.0, 30.0)
    celsius = np.stack([1200.0 + moments / 120.0, 1100.0 + moments / 60.0], axis=1)
    both = _run(celsius, moments)

    for s in (0, 1):
        np.testing.assert_array_equal(both.work[0, s], _run(celsius[:, s : s + 1], moments).work[0, 0])
        summed = climb_work(celsius[0, s], 60.0) + step_work(celsius[:-1, s], celsius[1:, s], 30.0).sum(axis=0)
        np.testing.assert_allclose(both.work[0, s], summed, rtol=1e-12)


def test_a_gap_is_bridged_and_told() -> None:
    """Half an hour without a temperature adds the step between its ends; the share that nobody measured is known."""
    moments = np.arange(0.0, 7200.0, 30.0)
    celsius = np.full((len(moments), 1), 1240.0)
    holed = celsius.copy()
    holed[100:160] = np.nan
    whole, bridged = _run(celsius, moments), _run(holed, moments)

    missed = climb_work(np.array(1240.0), 60.0)
    np.testing.assert_allclose(bridged.work, whole.work, rtol=1e-9)
    np.testing.assert_allclose((bridged.bridged - missed) / (bridged.work - missed), 61.0 / 239.0, rtol=1e-6)
    np.testing.assert_allclose(whole.bridged[0, 0], missed)
    assert GAP_S < 61 * 30.0


def test_before_the_first_temperature_nothing_is_taken_up() -> None:
    """A sensor that comes later begins when it comes; no work is no share."""
    state = new_heat_work((2, 1))
    take_up(state, 100.0, np.array([[np.nan], [1200.0]]))

    assert (state.work[0] == 0.0).all()
    assert (state.work[1] > 0.0).all()
    assert (bridged_share(state)[0] == 0.0).all()
    assert state.work.shape == (2, 1, len(CONES))


def test_cooling_takes_nothing_back() -> None:
    """What a cone has taken up stays while the kiln cools, and grows by what the cooling itself gives."""
    state = new_heat_work((1, 1))
    levels = []
    for i, celsius in enumerate(np.concatenate([np.arange(1200.0, 1260.0), np.arange(1260.0, 700.0, -2.0)])):
        take_up(state, 60.0 * i, np.array([[celsius]]))
        levels.append(state.work.copy())

    assert (np.diff(np.array(levels), axis=0) >= 0.0).all()
    assert state.last_at.item() == 60.0 * (len(levels) - 1)


def test_a_sensor_first_heard_hot_has_missed_a_steady_climb() -> None:
    """Heard from 1100 degC on: what a climb of 60 degC/h brings up to there, all of it unmeasured; cold, nothing."""
    state = new_heat_work((1, 2))
    take_up(state, 1.7e9, np.array([[1100.0, 20.0]]))

    np.testing.assert_allclose(state.work[0, 0], climb_work(np.array(1100.0), 60.0))
    np.testing.assert_array_equal(bridged_share(state)[0, 0], 1.0)
    assert (state.work[0, 1] < 1e-9).all()
