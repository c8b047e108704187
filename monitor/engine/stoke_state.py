"""What the stoke detector remembers, and what it tells."""

from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from monitor.engine.setup import BoolArray, IntArray
from monitor.engine.stoke_answer import AGES, Answer, new_answer
from monitor.engine.stoke_cells import BLOCK, KEPT, Cells, new_cells
from monitor.engine.stoke_noise import Noise, new_noise
from monitor.engine.stoke_shapes import Shapes
from monitor.engine.stoke_strength import Strength, new_strength
from monitor.engine.stoke_times import Times, new_times
from monitor.model import FloatArray

HISTORY = 320
"""Slots for which evidence is kept: 27 min."""

NEXT = 6
"""Slots after a candidate that must not be better: 30 s."""

AFTER = 24
"""Slots after its window that a doubtful candidate waits for: 2 min."""

RECENT = 2 * NEXT + BLOCK + AFTER
"""Slots for which it is kept by shapes alone."""

NOTES = 8
"""Notes of people and switches that may wait at once."""

NOTHING = -99.0
"""Evidence where nothing was heard."""


@dataclass(slots=True, eq=False)
class Stokes:
    """What is remembered between beats.

    `waiting` (K, S, BLOCK) degC of `block` (1,), the open one, -1 before the first; `moved` (K, n) slots that a stoke
    has moved, `age` (K, n) slots since the newest stoke, both as `Cells.change`; `found` (K, HISTORY) evidence by slot,
    newest last, `plain` (K, RECENT) likewise by the shapes alone. `noted` (K, NOTES) epoch seconds of stokes that
    people or a switch told of and that were not taken up yet, NaN for none, `noted_side` (K, NOTES) those at a side,
    `noted_look` (K, NOTES) those that may be a look through the door.
    """

    waiting: FloatArray
    block: IntArray
    moved: BoolArray
    age: IntArray
    found: FloatArray
    plain: FloatArray
    noted: FloatArray
    noted_side: BoolArray
    noted_look: BoolArray


@dataclass(frozen=True, slots=True, eq=False)
class Watch:
    """All state of the stoke detector."""

    cells: Cells
    noise: Noise
    answer: Answer
    times: Times
    strength: Strength
    stokes: Stokes
    shapes: Shapes

    def records(self) -> dict[str, Any]:
        """Return the records that make up the state."""
        return {f"stoke-{f.name}": getattr(self, f.name) for f in fields(self) if f.name != "shapes"}


@dataclass(frozen=True, slots=True)
class Stoke:
    """A stoke that became known: `kiln`, `sensor` that shows it best, dip in degC (NaN: none), onset in epoch seconds.

    `evidence` is the log likelihood ratio it was told with, `odds` the log odds for a stoke and against anything else,
    NaN where somebody told of it; `is_late` one told only after the next; `is_noted` and
    `is_side` that a person or a switch told of it, and where.
    """

    kiln: int
    sensor: int
    dip_c: float
    onset: float
    evidence: float
    odds: float = np.nan
    is_late: bool = False
    is_noted: bool = False
    is_side: bool = False


def new_stokes(shape: tuple[int, int]) -> Watch:
    """Return the state of kilns and sensors of `shape` before the first slot."""
    kilns = shape[0]
    stokes = Stokes(
        waiting=np.full((*shape, BLOCK), np.nan),
        block=np.full(1, -1),
        moved=np.zeros((kilns, KEPT), bool),
        age=np.full((kilns, KEPT), AGES),
        found=np.full((kilns, HISTORY), NOTHING),
        plain=np.full((kilns, RECENT), NOTHING),
        noted=np.full((kilns, NOTES), np.nan),
        noted_side=np.zeros((kilns, NOTES), bool),
        noted_look=np.zeros((kilns, NOTES), bool),
    )
    return Watch(
        new_cells(shape),
        new_noise(shape),
        new_answer(shape),
        new_times(kilns),
        new_strength(kilns),
        stokes,
        Shapes(shape),
    )
