"""From rows to slots."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.engine.slots import SlotReducer, slot_end_of
from monitor.model import SLOT_S, Slots, Status

SENSORS = 3
T0 = 1_764_000_000.0


def _rows(seed: int, n: int = 60) -> tuple[np.ndarray, ...]:
    """Return n rows of two nodes over 25 s, with equal times, faults and holes, column by column."""
    rng = np.random.default_rng(seed)
    time_s = T0 + np.round(rng.uniform(0.0, 25.0, n), 1)
    status = rng.choice([Status.OK, Status.OK, Status.OK, Status.ABSENT, Status.OPEN], (n, SENSORS)).astype(np.uint8)
    celsius = np.where(status == Status.OK, rng.uniform(0.0, 1300.0, (n, SENSORS)), np.nan)
    emf = np.where(status == Status.ABSENT, np.nan, rng.uniform(-0.01, 0.05, (n, SENSORS)))
    cold = np.where(np.isnan(emf), np.nan, rng.uniform(10.0, 40.0, (n, SENSORS)))
    return time_s, np.arange(n), celsius, status, emf, cold


def _add(reducer: SlotReducer, rows: tuple[np.ndarray, ...], index: np.ndarray) -> None:
    time_s, key, celsius, status, emf, cold = (column[index] for column in rows)
    reducer.add(time_s, celsius, status=status, emf_volts=emf, cold_c=cold, key=key)


def _same(a: Slots, b: Slots) -> bool:
    names = ("end", "known_at", "mean_c", "count", "status", "emf_min_volts", "emf_max_volts", "cold_c", "late")
    return all(
        np.array_equal(getattr(a, name), getattr(b, name), equal_nan=name not in {"status", "late"}) for name in names
    )


def _joined(parts: list[Slots]) -> Slots:
    names = ("end", "known_at", "mean_c", "count", "status", "emf_min_volts", "emf_max_volts", "cold_c", "late")
    return Slots(*(np.concatenate([getattr(part, name) for part in parts]) for name in names))


def _close_all(reducer: SlotReducer) -> Slots:
    for number in range(1, 6):
        reducer.close(T0 + number * SLOT_S, T0 + number * SLOT_S + 1.0)
    return reducer.take()


@pytest.mark.parametrize(
    ("time_s", "end"), [(T0, T0 + 5.0), (T0 + 4.999, T0 + 5.0), (T0 + 5.0, T0 + 10.0), (T0 - 0.001, T0)]
)
def test_a_sample_belongs_to_the_slot_that_ends_after_it(time_s: float, end: float) -> None:
    """A slot holds its begin and not its end."""
    assert slot_end_of(np.array([time_s])).tolist() == [end]


def test_a_slot_is_reduced_cell_by_cell() -> None:
    """Mean and number of valid samples, last status, extremes of emf, each worked out by hand for every cell."""
    rows = _rows(7)
    reducer = SlotReducer(SENSORS)
    _add(reducer, rows, np.arange(60))
    slots = _close_all(reducer)
    time_s, key, celsius, status, emf, cold = rows

    assert slots.mean_c.shape == (5, 1, SENSORS)
    for number, sensor in np.ndindex(5, SENSORS):
        begin = T0 + number * SLOT_S
        order = sorted((t, k) for t, k in zip(time_s, key, strict=True) if begin <= t < begin + SLOT_S)
        mine = [k for _, k in order if status[k, sensor] != Status.ABSENT]
        valid = [celsius[k, sensor] for k in mine if status[k, sensor] == Status.OK]
        cell = (number, 0, sensor)
        assert slots.count[cell] == len(valid)
        assert slots.mean_c[cell] == pytest.approx(np.mean(valid))
        assert slots.status[cell] == status[mine[-1], sensor]
        assert slots.cold_c[cell] == cold[mine[-1], sensor]
        assert slots.emf_min_volts[cell] == min(emf[k, sensor] for k in mine)
        assert slots.emf_max_volts[cell] == max(emf[k, sensor] for k in mine)


def test_an_empty_slot_has_nothing() -> None:
    """No rows: no mean, no count, ABSENT, no extremes."""
    reducer = SlotReducer(2)
    reducer.close(T0 + 5.0, T0 + 15.0)
    slots = reducer.take()

    assert slots.known_at.tolist() == [[T0 + 15.0]]
    assert np.isnan([slots.mean_c, slots.emf_min_volts, slots.emf_max_volts]).all()
    assert (slots.count.tolist(), slots.status.tolist()) == ([[[0, 0]]], [[[Status.ABSENT] * 2]])


def test_without_a_closing_there_are_no_slots() -> None:
    """Rows stay held, and `take` returns nothing."""
    reducer = SlotReducer(SENSORS)
    _add(reducer, _rows(1), np.arange(60))

    assert reducer.take().mean_c.shape == (0, 1, SENSORS)
    assert _close_all(reducer).count.sum() > 0


@given(st.permutations(range(60)), st.lists(st.integers(0, 60), max_size=6))
def test_neither_order_of_arrival_nor_blocks_matter(order: list[int], cuts: list[int]) -> None:
    """Any order and any cutting gives the very same bits."""
    rows = _rows(3)
    whole, parts = SlotReducer(SENSORS), SlotReducer(SENSORS)
    _add(whole, rows, np.arange(60))
    edges = [0, *sorted(cuts), 60]
    for begin, end in pairwise(edges):
        _add(parts, rows, np.array(order[begin:end], dtype=np.int64))

    assert _same(_close_all(whole), _close_all(parts))


@given(st.lists(st.booleans(), min_size=5, max_size=5), st.lists(st.booleans(), min_size=5, max_size=5))
def test_taking_and_restarting_at_any_moment_change_nothing(takes: list[bool], restarts: list[bool]) -> None:
    """Slots taken in parts, through saved states, are those taken at once."""
    rows = _rows(4)
    whole = SlotReducer(SENSORS)
    _add(whole, rows, np.arange(60))
    reducer, parts = SlotReducer(SENSORS), []
    slot_of = ((slot_end_of(rows[0]) - T0) / SLOT_S).astype(int)
    for number in range(1, 6):
        _add(reducer, rows, np.flatnonzero(slot_of == number))
        reducer.close(T0 + number * SLOT_S, T0 + number * SLOT_S + 1.0)
        if takes[number - 1]:
            parts.append(reducer.take())
        if restarts[number - 1]:
            saved = reducer.save()
            reducer = SlotReducer(SENSORS)
            reducer.restore(saved)

    assert _same(_joined([*parts, reducer.take()]), _close_all(whole))


def test_rows_of_a_closed_slot_are_left_out_and_counted() -> None:
    """A row whose slot has closed, or was passed over, is in no slot; the count survives a restart."""
    reducer = SlotReducer(1)
    one = np.ones((1, 1))
    reducer.close(T0 + 5.0, T0)
    reducer.take()
    for second in (2.0, 7.0, 22.0):
        moment = np.array([T0 + second])
        reducer.add(moment, one, status=np.zeros((1, 1), np.uint8), emf_volts=one, cold_c=one, key=np.array([0]))
    reducer.close(T0 + 25.0, T0)
    slots = reducer.take()
    again = SlotReducer(1)
    again.restore(reducer.save())

    assert slots.count.tolist() == [[[1]]]
    assert (reducer.left_out, again.left_out) == (2, 2)


LATE_AT = T0 + np.array([1.0, 6.0, 6.0, 7.5, 11.0, 30.0])
LATE = np.array([[1, 0, 0], [0, 1, 0], [1, 0, 0], [1, 0, 0], [0, 0, 1], [1, 1, 1]], bool)
"""What came late when, while slots become known at 6, 11, 16, 21 and 26 s; the last comes after them all."""
IN_SLOTS = [[1, 0, 0], [1, 1, 0], [0, 0, 1], [0, 0, 0], [0, 0, 0]]


def _late_told(steps: list[bool], restarts: list[bool]) -> list[list[int]]:
    """Note what came late and close slots, in order of their clocks; take and restart after some of the slots."""
    reducer, parts = SlotReducer(SENSORS), []
    noted = 0
    for number in range(1, 6):
        known_at = T0 + number * SLOT_S + 1.0
        until = int(np.searchsorted(LATE_AT, known_at, side="right"))
        for one in range(noted, until):
            reducer.note_late(LATE_AT[one : one + 1], LATE[one : one + 1])
        noted = until
        reducer.close(T0 + number * SLOT_S, known_at)
        if steps[number - 1]:
            parts.append(reducer.take())
        if restarts[number - 1]:
            saved = reducer.save()
            reducer = SlotReducer(SENSORS)
            reducer.restore(saved)
    reducer.note_late(LATE_AT[noted:], LATE[noted:])
    found: list[list[int]] = _joined([*parts, reducer.take()]).late[:, 0].astype(int).tolist()
    return found


def test_what_came_late_counts_in_the_first_slot_known_later() -> None:
    """By clocks alone: noted beforehand in one go, it falls into the same slots as one by one."""
    reducer = SlotReducer(SENSORS)
    reducer.note_late(LATE_AT, LATE)

    assert _close_all(reducer).late[:, 0].astype(int).tolist() == IN_SLOTS


@given(st.lists(st.booleans(), min_size=5, max_size=5), st.lists(st.booleans(), min_size=5, max_size=5))
def test_what_came_late_counts_alike_for_any_blocks_and_restarts(takes: list[bool], restarts: list[bool]) -> None:
    """Two came in the very moment in which a slot was known: they count in the next."""
    assert _late_told(takes, restarts) == IN_SLOTS


def test_what_came_late_is_held_until_a_slot_is_known_and_stays_small() -> None:
    """Hours of late samples in which no slot closes: the state has a fixed size, and the next slot tells it."""
    reducer = SlotReducer(SENSORS)
    sizes = []
    for second in range(3):
        reducer.note_late(np.array([T0 + second]), np.array([[True, False, second == 1]]))
        sizes.append(len(reducer.save()))
    reducer.close(T0 + 60.0, T0 + 2.0)
    reducer.close(T0 + 65.0, T0 + 9.0)

    assert len(set(sizes)) == 1
    assert reducer.take().late[:, 0].astype(int).tolist() == [[1, 0, 1], [1, 0, 0]]


def test_slots_close_in_rising_order() -> None:
    """Closing the same or an earlier slot again is refused."""
    reducer = SlotReducer(1)
    reducer.close(T0 + 5.0, T0)

    with pytest.raises(ValueError, match="closes after slot"):
        reducer.close(T0 + 5.0, T0)


def test_a_state_of_another_number_of_sensors_is_refused() -> None:
    """The saved state says how many sensors it has."""
    with pytest.raises(ValueError, match="start without it"):
        SlotReducer(2).restore(SlotReducer(3).save())
