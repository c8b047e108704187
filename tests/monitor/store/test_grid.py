"""The columns of a chart."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.store.grid import choose_grid


@given(begin=st.floats(0, 4e9), length=st.floats(0.01, 3e7), columns=st.integers(1, 4000))
def test_a_grid_covers_the_time_in_no_more_columns(begin: float, length: float, columns: int) -> None:
    """All of the time asked for lies in the columns, and there are not too many."""
    end = begin + length

    grid = choose_grid(begin, end, columns)

    assert grid.begin <= begin * (1 + 1e-15)
    assert grid.begin + grid.count * grid.step_s >= end * (1 - 1e-15)
    assert 1 <= grid.count <= columns


@pytest.mark.parametrize(
    ("length_s", "columns", "step_s"),
    [(96 * 3600, 2000, 180.0), (12 * 3600, 2000, 30.0), (3600, 2000, 2.0), (60, 2000, 0.1), (86400, 1, 86400.0)],
)
def test_steps_are_round(length_s: float, columns: int, step_s: float) -> None:
    """Four days in 2,000 columns are three-minute steps, an hour two seconds."""
    assert choose_grid(86400.0 * 20_000, 86400.0 * 20_000 + length_s, columns).step_s == step_s


def test_a_moved_chart_keeps_its_columns() -> None:
    """Columns begin at multiples of the step, whatever the begin asked for."""
    first, moved = choose_grid(1000.0, 87400.0, 500), choose_grid(1100.0, 87500.0, 500)

    assert first.step_s == moved.step_s
    assert (moved.begin - first.begin) % first.step_s == 0


def test_only_whole_minutes_are_read_from_heads() -> None:
    """A step of a minute and more is a whole number of buckets."""
    assert choose_grid(0.0, 6000.0, 100).is_of_buckets
    assert not choose_grid(0.0, 3000.0, 100).is_of_buckets


@pytest.mark.parametrize(
    ("begin", "end", "columns"), [(5.0, 5.0, 10), (6.0, 5.0, 10), (5.0, 6.0, 0), (float("nan"), 1.0, 1)]
)
def test_an_empty_chart_is_refused(begin: float, end: float, columns: int) -> None:
    """Empty time and no columns are errors with the numbers in them."""
    with pytest.raises(ValueError, match=f"not {begin} to {end} in {columns}"):
        choose_grid(begin, end, columns)
