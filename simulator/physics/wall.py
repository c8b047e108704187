"""A masonry wall as one-dimensional heat conduction: finite volumes in space, implicit Euler in time.

Cells run from the hot face outward. For a fixed time step the step is linear, so it is worked out once:
new = carry @ old + inner * (heat flux into the hot face) + outer * (air temperature outside). Heat is conserved to
rounding: what enters at the hot face is stored in the cells or leaves at the outer face.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

import numpy as np
import numpy.typing as npt
from msgspec import Meta

from monitor.model import FloatArray


@dataclass(frozen=True, slots=True)
class Layer:
    """One material of the wall and the number of cells it is cut into, each `growth` times as wide as the one before.

    Thin cells at the hot face follow a stoke's seconds, wide ones behind them the hours.
    """

    thickness_m: Annotated[float, Meta(gt=0.0)]
    conductivity_w_mk: Annotated[float, Meta(gt=0.0)]
    density_kg_m3: Annotated[float, Meta(gt=0.0)]
    heat_capacity_j_kgk: Annotated[float, Meta(gt=0.0)]
    cells: Annotated[int, Meta(ge=1, le=1000)]
    growth: Annotated[float, Meta(ge=0.5, le=2.0)] = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class WallGrid:
    """A wall of one square metre: `capacity_j_m2k` (n,) of the cells, conductances in W/(m2 K) between and outside.

    `face_m2k_w` is the resistance of half a cell between the hot face and the middle of the first cell.
    """

    capacity_j_m2k: FloatArray
    between_w_m2k: FloatArray
    face_m2k_w: float
    outside_w_m2k: float


@dataclass(frozen=True, slots=True, eq=False)
class WallStep:
    """One time step of a wall: `carry` (n, n), `inner` (n,) in K m2/W, `outer` (n,); see the top of this file."""

    carry: FloatArray
    inner: FloatArray
    outer: FloatArray


def cut_wall(layers: Sequence[Layer], outside_w_m2k: float) -> WallGrid:
    """Cut `layers` (hot face first) into cells; the outer face gives heat to the air at `outside_w_m2k`."""
    widths = np.concatenate([_widths_m(layer) for layer in layers])
    conductivity = np.concatenate([np.full(a.cells, a.conductivity_w_mk) for a in layers])
    volumetric = np.concatenate([np.full(a.cells, a.density_kg_m3 * a.heat_capacity_j_kgk) for a in layers])
    half = widths / (2.0 * conductivity)
    return WallGrid(
        capacity_j_m2k=widths * volumetric,
        between_w_m2k=1.0 / (half[:-1] + half[1:]),
        face_m2k_w=float(half[0]),
        outside_w_m2k=1.0 / (1.0 / outside_w_m2k + float(half[-1])),
    )


def _widths_m(layer: Layer) -> FloatArray:
    shares = layer.growth ** np.arange(layer.cells, dtype=np.float64)
    return layer.thickness_m * shares / float(shares.sum())


def step_wall(grid: WallGrid, step_s: float) -> WallStep:
    """Work out one implicit step of `step_s` seconds."""
    loss = np.zeros((len(grid.capacity_j_m2k),) * 2)
    inside = np.arange(len(grid.between_w_m2k))
    loss[inside, inside] += grid.between_w_m2k
    loss[inside + 1, inside + 1] += grid.between_w_m2k
    loss[inside, inside + 1] -= grid.between_w_m2k
    loss[inside + 1, inside] -= grid.between_w_m2k
    loss[-1, -1] += grid.outside_w_m2k
    stored = np.diag(grid.capacity_j_m2k)
    solved: FloatArray = np.linalg.inv(stored + step_s * loss).astype(np.float64)
    return WallStep(
        carry=solved @ stored,
        inner=solved[:, 0] * step_s,
        outer=solved[:, -1] * step_s * grid.outside_w_m2k,
    )


@dataclass(frozen=True, slots=True, eq=False)
class WallStack:
    """Walls of Z zones side by side, shorter ones padded with cells that hold nothing: capacities (Z, n), rest (Z,).

    `last` is the outermost cell of each.
    """

    grids: tuple[WallGrid, ...]
    capacity_j_m2k: FloatArray
    last: npt.NDArray[np.intp]
    face_m2k_w: FloatArray
    outside_w_m2k: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class StackStep:
    """One time step of a stack of walls: `carry` (Z, n, n), `inner` (Z, n), `outer` (Z, n) as of `WallStep`."""

    carry: FloatArray
    inner: FloatArray
    outer: FloatArray

    def rest(self, cells_c: FloatArray, outside_c: float) -> FloatArray:
        """Return the cells (Z, n) in degC after the step if no heat entered."""
        carried: FloatArray = (self.carry @ cells_c[:, :, None])[:, :, 0]
        return carried + self.outer * outside_c


def stack_walls(grids: Sequence[WallGrid]) -> WallStack:
    """Put `grids` side by side."""
    counts = [len(grid.capacity_j_m2k) for grid in grids]
    capacity = np.zeros((len(grids), max(counts)))
    for row, grid in zip(capacity, grids, strict=True):
        row[: len(grid.capacity_j_m2k)] = grid.capacity_j_m2k
    return WallStack(
        grids=tuple(grids),
        capacity_j_m2k=capacity,
        last=np.array(counts, dtype=np.intp) - 1,
        face_m2k_w=np.array([grid.face_m2k_w for grid in grids]),
        outside_w_m2k=np.array([grid.outside_w_m2k for grid in grids]),
    )


def step_stack(stack: WallStack, step_s: float) -> StackStep:
    """Work out one implicit step of `step_s` seconds of all walls."""
    zones, cells = stack.capacity_j_m2k.shape
    done = StackStep(np.zeros((zones, cells, cells)), np.zeros((zones, cells)), np.zeros((zones, cells)))
    for zone, grid in enumerate(stack.grids):
        count = len(grid.capacity_j_m2k)
        step = step_wall(grid, step_s)
        done.carry[zone, :count, :count] = step.carry
        done.inner[zone, :count] = step.inner
        done.outer[zone, :count] = step.outer
    return done
