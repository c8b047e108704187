"""The wall solver against published and analytic cases."""

import numpy as np
import pytest

from simulator.wall import Layer, WallGrid, cut_wall, step_wall

HELD_FACE_W_M2K = 1e9
"""So good a contact that the face is held at the temperature beside it."""


def _nafems_t3_c(cells: int, step_s: float) -> float:
    """Return degC at 0.08 m after 32 s; the sine is at the far end, so the hot face here is at x = 0.1 m."""
    grid = cut_wall([Layer(0.1, 35.0, 7200.0, 440.5, cells)], HELD_FACE_W_M2K)
    step = step_wall(grid, step_s)
    rise = step.inner[0] + grid.face_m2k_w
    cells_c = np.zeros(cells)
    for number in range(1, round(32.0 / step_s) + 1):
        face_c = 100.0 * np.sin(np.pi * number * step_s / 40.0)
        rest_c = step.carry @ cells_c
        cells_c = rest_c + step.inner * (face_c - rest_c[0]) / rise
    middles_m = (np.arange(cells) + 0.5) * 0.1 / cells
    return float(np.interp(0.02, middles_m, cells_c))


def test_bar_of_nafems_t3_is_met() -> None:
    """The Standard NAFEMS Benchmarks, rev. 3, 1990, test T3: 36.60 degC (series solution 36.6031)."""
    assert _nafems_t3_c(200, 0.01) == pytest.approx(36.60, abs=0.02)


def test_bar_of_nafems_t3_converges_with_refinement() -> None:
    """Each refinement of cells and step brings the error to less than half."""
    errors = [abs(_nafems_t3_c(c, s) - 36.6031) for c, s in ((10, 1.0), (20, 0.25), (40, 0.0625))]

    assert errors[1] < errors[0] / 2
    assert errors[2] < errors[1] / 2


def test_thick_wall_under_steady_heat_warms_as_the_half_space_does() -> None:
    """Carslaw and Jaeger, Conduction of Heat in Solids: face = 2 q sqrt(t / (pi k rho c)); from memory."""
    grid = cut_wall([Layer(0.6, 1.2, 2000.0, 1000.0, 300)], 10.0)
    step = step_wall(grid, 10.0)
    flux_w_m2, hours = 5000.0, 2.0
    cells_c = np.zeros(300)
    for _ in range(round(hours * 360)):
        cells_c = step.carry @ cells_c + step.inner * flux_w_m2
    face_c = cells_c[0] + grid.face_m2k_w * flux_w_m2

    exact_c = 2.0 * flux_w_m2 * np.sqrt(hours * 3600.0 / (np.pi * 1.2 * 2000.0 * 1000.0))
    assert face_c == pytest.approx(exact_c, rel=0.002)


@pytest.fixture
def two_layers() -> WallGrid:
    """Return firebrick backed by castable."""
    return cut_wall([Layer(0.115, 1.2, 2000.0, 1000.0, 5), Layer(0.115, 0.25, 800.0, 1000.0, 3)], 12.0)


@pytest.mark.parametrize("step_s", [5.0, 30.0, 3600.0])
def test_heat_that_enters_is_stored_or_leaves(two_layers: WallGrid, step_s: float) -> None:
    """The balance of one step closes to rounding, whatever the step."""
    step = step_wall(two_layers, step_s)
    before_c = np.linspace(900.0, 60.0, 8)
    after_c = step.carry @ before_c + step.inner * 2500.0 + step.outer * 15.0

    stored_j = float((after_c - before_c) @ two_layers.capacity_j_m2k)
    left_j = two_layers.outside_w_m2k * (after_c[-1] - 15.0) * step_s
    assert stored_j + left_j == pytest.approx(2500.0 * step_s, rel=1e-9)


def test_steady_wall_conducts_by_its_resistances(two_layers: WallGrid) -> None:
    """After a very long step the face stands at the sum of the layers' resistances times the flux."""
    step = step_wall(two_layers, 1e12)
    cells_c = step.inner * 1000.0 + step.outer * 15.0
    face_c = cells_c[0] + two_layers.face_m2k_w * 1000.0

    assert face_c == pytest.approx(15.0 + 1000.0 * (0.115 / 1.2 + 0.115 / 0.25 + 1.0 / 12.0), rel=1e-6)
