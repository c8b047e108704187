"""Changes from slot to slot: holes, spikes, spacing."""

import numpy as np

from monitor.engine.stoke_cells import BLOCK, WAIT, Cells, new_cells, newest_begin, spacing_s, take_block
from monitor.model import FloatArray


def _taken(celsius: FloatArray) -> Cells:
    """Return cells after blocks of one sensor's `celsius` (n,)."""
    cells = new_cells((1, 1))
    for block in celsius.reshape(-1, 1, 1, BLOCK):
        take_block(cells, block)
    return cells


def test_changes_are_the_differences_of_slots_but_for_the_newest_two() -> None:
    """A steady climb of 0.1 degC a slot: every looked-at change is that, and two slots wait."""
    line = 500.0 + 0.1 * np.arange(4 * BLOCK)
    line[-WAIT:] += 5.0
    cells = _taken(line)

    assert np.allclose(cells.change[0, 0, -2 * BLOCK :], 0.1)
    assert newest_begin(600.0) == 600.0 - 5.0 * (WAIT + 1)


def test_holes_of_two_slots_are_bridged_and_are_no_samples() -> None:
    """One and two missing slots lie on the line between their neighbours; three are unknown."""
    line = 500.0 + 0.1 * np.arange(4 * BLOCK)
    line[[20, 25, 26, 33, 34, 35]] = np.nan
    cells = _taken(line)
    change, real = cells.change[0, 0, WAIT - 4 * BLOCK :], cells.real[0, 0, WAIT - 4 * BLOCK :]

    assert np.allclose(change[1:33], 0.1)
    assert np.isnan(change[33:37]).all()
    assert np.flatnonzero(~real).tolist() == [20, 25, 26, 33, 34, 35]


def test_a_sensor_read_every_10_s_is_taken_at_10_s() -> None:
    """Every second slot empty: changes are over two slots. Read every second again, it is soon taken at 5 s."""
    line = 500.0 + 0.1 * np.arange(10 * BLOCK)
    line[::2] = np.nan
    cells = _taken(line)
    slow = spacing_s(cells)[0, 0]
    slow_change = cells.change[0, 0, -BLOCK:].copy()
    changed = [take_block(cells, np.full((1, 1, BLOCK), 560.0)).any() for _ in range(40)]

    assert slow == 10.0
    assert np.allclose(slow_change[cells.real[0, 0, -BLOCK:]], 0.2)
    assert sum(changed) == 1
    assert spacing_s(cells)[0, 0] == 5.0


def test_a_spike_is_a_hole() -> None:
    """A slot 60 degC above the others of its block is no temperature."""
    line = np.full(3 * BLOCK, 700.0)
    line[20] = 760.0
    cells = _taken(line)

    assert np.allclose(cells.change[0, 0, -2 * BLOCK + 2 :], 0.0)
    assert (~cells.real[0, 0, -2 * BLOCK :]).sum() == 1
