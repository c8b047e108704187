"""Which candidates are stokes, tried on a state made by hand."""

from collections.abc import Callable

import numpy as np
import pytest

from monitor.engine.setup import EngineSetup
from monitor.engine.stoke_cells import BLOCK
from monitor.engine.stoke_decide import decide, take_notes
from monitor.engine.stoke_state import HISTORY, NEXT, RECENT, Stoke, Watch, new_stokes

NEWEST = 10_000.0
NOBODY = np.zeros(1, bool)
FIRST = HISTORY - NEXT - BLOCK
"""The oldest candidate that is decided on."""


@pytest.fixture
def setup(make_setup: Callable[..., EngineSetup]) -> EngineSetup:
    """Return a kiln with a sensor at the firebox."""
    return make_setup(("firebox",))


def _watch(evidence: dict[int, float], dip_c: float = 3.0) -> Watch:
    """Return a state with `evidence` by position, the firebox falling all the time by `dip_c` in 13 slots."""
    watch = new_stokes((1, 1))
    watch.cells.change[:] = -dip_c / 13.0
    watch.cells.real[:] = True
    for at, value in evidence.items():
        watch.stokes.found[0, at] = watch.stokes.plain[0, at - HISTORY + RECENT] = value
    return watch


def _onsets(told: list[Stoke]) -> list[float]:
    return [stoke.onset for stoke in told]


def test_the_best_of_half_a_minute_is_told_at_its_time(setup: EngineSetup) -> None:
    """Two candidates 20 s apart: the stronger one alone, `HISTORY - 1 - at` slots before the newest."""
    told = decide(_watch({FIRST + 3: 9.0, FIRST + 7: 14.0}), setup, NEWEST, NOBODY)

    assert _onsets(told) == [NEWEST - 5.0 * (HISTORY - 1 - FIRST - 7)]
    assert told[0].dip_c == pytest.approx(3.0)


@pytest.mark.parametrize(
    ("evidence", "dip_c", "is_closed", "count"),
    [
        (14.0, 3.0, False, 1),
        (2.5, 3.0, False, 0),  # not enough by itself
        (4.0, 3.0, False, 0),  # enough, but not likelier than not
        (14.0, 0.1, False, 0),  # the firebox does not dip
        (14.0, 3.0, True, 0),  # closed up
    ],
)
def test_what_is_told(setup: EngineSetup, evidence: float, dip_c: float, is_closed: bool, count: int) -> None:
    """One candidate, each reason alone."""
    told = decide(_watch({FIRST + 5: evidence}, dip_c), setup, NEWEST, np.array([is_closed]))

    assert len(told) == count


def test_charges_closer_than_75_s_are_one_stoke(setup: EngineSetup) -> None:
    """A second candidate in the next block, 60 s after the first, is not told; one 80 s after is."""
    for after, count in ((12, 0), (16, 1)):
        watch = _watch({FIRST + 2: 20.0})
        decide(watch, setup, NEWEST, NOBODY)
        watch.stokes.found[:] = -99.0
        watch.stokes.found[0, FIRST + 2 + after - BLOCK] = 20.0
        watch.stokes.plain[0, FIRST + 2 + after - BLOCK - HISTORY + RECENT] = 20.0

        assert len(decide(watch, setup, NEWEST + 60.0, NOBODY)) == count


def test_a_note_without_evidence_is_told_at_its_own_time(setup: EngineSetup) -> None:
    """And once: the note is taken up. A note whose time is not yet decided waits."""
    watch = _watch({})
    watch.stokes.noted[0, :2] = NEWEST - 200.0, NEWEST
    told = take_notes(watch, setup, NEWEST)

    assert [(s.onset, s.is_noted, s.is_side) for s in told] == [(NEWEST - 200.0, True, False)]
    assert np.isfinite(watch.stokes.noted[0]).sum() == 1


def test_a_note_that_comes_after_the_next_stoke_is_late(setup: EngineSetup) -> None:
    """It goes between the others and moves no clock."""
    watch = _watch({})
    watch.times.last[0], watch.times.previous[0] = NEWEST - 60.0, NEWEST - 900.0
    watch.stokes.noted[0, 0] = NEWEST - 400.0

    (late,) = take_notes(watch, setup, NEWEST)

    assert (late.is_late, late.onset, float(watch.times.last[0])) == (True, NEWEST - 400.0, NEWEST - 60.0)
