"""The wall solver against published and analytic cases."""

import math

import numpy as np
import pytest

from simulator.physics.wall import Layer, WallGrid, cut_wall, stack_walls, step_stack, step_wall

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
    """The Standard NAFEMS Benchmarks, rev. 3, 1990, test T3 (heat.csv): 36.60 degC; series solution 36.6031."""
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


def _half_space_error_c(cells: int, step_s: float) -> float:
    """Return how far a face held 1000 degC hotter for two hours leaves the wall from erfc, at most, 2 to 10 cm deep."""
    grid = cut_wall([Layer(0.6, 1.2, 2000.0, 1000.0, cells)], 10.0)
    step = step_wall(grid, step_s)
    cells_c = np.zeros(cells)
    for _ in range(round(7200.0 / step_s)):
        rest_c = step.carry @ cells_c
        cells_c = rest_c + step.inner * (1000.0 - rest_c[0]) / (step.inner[0] + grid.face_m2k_w)
    middles_m = (np.arange(cells) + 0.5) * 0.6 / cells
    depths_m = np.linspace(0.02, 0.10, 9)
    diffusivity_m2_s = 1.2 / (2000.0 * 1000.0)
    exact_c = [1000.0 * math.erfc(x / (2.0 * math.sqrt(diffusivity_m2_s * 7200.0))) for x in depths_m]
    return float(np.max(np.abs(np.interp(depths_m, middles_m, cells_c) - exact_c)))


def test_wall_under_a_hot_face_warms_as_the_half_space_does() -> None:
    """Carslaw and Jaeger, Conduction of Heat in Solids: T = T_face erfc(x / (2 sqrt(a t))); from memory.

    Halving the cells and quartering the step brings the error down to less than half.
    """
    coarse, fine = _half_space_error_c(75, 40.0), _half_space_error_c(150, 10.0)

    assert coarse < 10.0
    assert fine < coarse / 2.0


def test_cells_of_the_kiln_files_follow_fine_ones() -> None:
    """A firing's climb of 60 degC/h for 20 h: flux into five cells of firebrick and three of castable within 3 %."""
    flux_w_m2 = []
    for cells in ((5, 3), (60, 36)):
        grid = cut_wall([Layer(0.115, 1.2, 2e3, 1e3, cells[0]), Layer(0.115, 0.25, 800.0, 1e3, cells[1])], 12.0)
        step = step_wall(grid, 30.0)
        cells_c = np.zeros(sum(cells))
        taken_j = 0.0
        for number in range(1, 2401):
            rest_c = step.carry @ cells_c
            flux = (60.0 * number / 120.0 - rest_c[0]) / (step.inner[0] + grid.face_m2k_w)
            cells_c = rest_c + step.inner * flux
            taken_j += flux * 30.0
        flux_w_m2.append(taken_j / 72e3)

    assert flux_w_m2[0] == pytest.approx(flux_w_m2[1], rel=0.03)


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


def test_walls_side_by_side_go_as_each_alone(two_layers: WallGrid) -> None:
    """A thin wall beside a thick one: padding takes nothing, and the outermost cell is found."""
    thin = cut_wall([Layer(0.115, 1.2, 2000.0, 1000.0, 4)], 15.0)
    stack = stack_walls([two_layers, thin])
    together = step_stack(stack, 5.0)
    cells_c = np.zeros((2, 8))
    cells_c[0] = np.linspace(900.0, 60.0, 8)
    cells_c[1, :4] = np.linspace(700.0, 200.0, 4)
    rest_c = together.rest(cells_c, 15.0)

    for zone, grid in enumerate((two_layers, thin)):
        count = len(grid.capacity_j_m2k)
        alone = step_wall(grid, 5.0)
        np.testing.assert_allclose(rest_c[zone, :count], alone.carry @ cells_c[zone, :count] + alone.outer * 15.0)
    assert rest_c[1, 4:].tolist() == [0.0] * 4
    assert stack.last.tolist() == [7, 3]
    assert stack.capacity_j_m2k[1, 4:].sum() == 0.0
