"""From converted scans to cells of the engine's grid: mean, count, last status and emf extremes per slot and sensor.

A slot ends at a multiple of `SLOT_S` and holds the samples from the end before it up to, not including, its own end.
Samples are summed in order of time, then key, so that order of arrival and cutting into blocks change nothing. When a
slot closes is the caller's to decide. Of samples that come after their slot closed only that they came is kept: in the
first slot that is known later than they came, by clocks alone, so that blocks make no difference here either.
"""

from typing import Any

import numpy as np
import numpy.typing as npt

from monitor.engine.state import pack_arrays, unpack
from monitor.model import SLOT_S, CodeArray, FloatArray, Slots, Status

KeyArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]


def slot_end_of(time: FloatArray) -> FloatArray:
    """Return the end of the slot that holds each sample at epoch seconds `time` (n,)."""
    end: FloatArray = (np.floor(time / SLOT_S) + 1.0) * SLOT_S
    return end


class SlotReducer:
    """Gather the rows of one kiln of `sensors` sensors and reduce them when their slots close.

    `left_out` counts rows whose slot had closed, or was passed over, before they were added.
    """

    def __init__(self, sensors: int) -> None:
        self._sensors = sensors
        self._rows: list[_Rows] = []
        self._ends: list[float] = []
        self._known_at: list[float] = []
        self._late = np.full((2, sensors), np.nan)
        self._closed = -np.inf
        self.left_out = 0

    def add(
        self,
        time: FloatArray,
        celsius: FloatArray,
        *,
        status: CodeArray,
        emf_volts: FloatArray,
        cold_c: FloatArray,
        key: KeyArray,
    ) -> None:
        """Hold rows: `time` (n,) in epoch seconds; the columns (n, S); `key` (n,) breaks ties."""
        self._rows.append((time, key, celsius, status, emf_volts, cold_c))

    def note_late(self, clock: FloatArray, heard: BoolArray) -> None:
        """Note that samples came late at `clock` (n,), rising, of the sensors `heard` (n, S); add them nowhere else."""
        self._late = np.concatenate([self._held_late(), np.where(heard, clock[:, None], np.nan)])

    def close(self, end: float, known_at: float) -> None:
        """Close the slot that ends at `end`, known at clock `known_at`; slots close in rising order.

        Raises:
            ValueError: where `end` does not lie beyond every slot closed before.
        """
        if end <= self._closed:
            raise ValueError(f"slot {end} closes after slot {self._closed}")
        self._closed = end
        self._ends.append(end)
        self._known_at.append(known_at)

    def take(self) -> Slots:
        """Return all slots closed since the last call (n, 1, S); rows of slots still open stay held."""
        ends = np.array(self._ends, dtype=np.float64)
        known_at = np.array(self._known_at, dtype=np.float64)[:, None]
        self._ends, self._known_at = [], []
        rows = _joined(self._rows, self._sensors)
        late = self._late_in(known_at[:, 0])
        slot_end = slot_end_of(rows[0])
        due = slot_end <= self._closed
        self._rows = [_picked(rows, np.flatnonzero(~due))] if not due.all() else []
        placed = due & np.isin(slot_end, ends)
        self.left_out += int(np.count_nonzero(due & ~placed))
        order = np.lexsort((rows[1], rows[0]))
        return _reduced(ends, known_at, _picked(rows, order[placed[order]]), late)

    def _late_in(self, known_at: FloatArray) -> BoolArray:
        """Return in which slots, known at `known_at` (n,), late samples count as come (n, 1, S); hold the rest."""
        late = np.zeros((len(known_at) + 1, self._sensors), bool)
        row, sensor = np.nonzero(np.isfinite(self._late))
        slot = np.searchsorted(known_at, self._late[row, sensor], side="right")
        late[slot, sensor] = True
        done = slot < len(known_at)
        self._late[row[done], sensor[done]] = np.nan
        return late[:-1, None, :]

    def _held_late(self) -> FloatArray:
        """Return the clocks of late samples that no slot has taken up (n, S).

        Where no slot waits to be taken, the next one to close is known no earlier than any of these came: of each
        sensor the first and the last tell whether some came before it, and whether some must wait for the one after.
        """
        if self._ends:
            return self._late
        return np.stack([np.fmin.reduce(self._late, axis=0), np.fmax.reduce(self._late, axis=0)])

    def save(self) -> bytes:
        """Return the state as bytes."""
        arrays: dict[str, npt.NDArray[Any]] = dict(zip(_COLUMNS, _joined(self._rows, self._sensors), strict=True))
        arrays["ends"] = np.array([self._ends, self._known_at], dtype=np.float64)
        arrays["late"] = self._held_late()
        arrays["marks"] = np.array([self._closed, self.left_out], dtype=np.float64)
        return pack_arrays(arrays, f"slots {self._sensors}")

    def restore(self, saved: bytes) -> None:
        """Go on from what `save` returned.

        Raises:
            ValueError: where `saved` is damaged or belongs to another number of sensors.
        """
        found = unpack(saved, f"slots {self._sensors}")
        time, key, celsius, status, emf_volts, cold_c = (found[name] for name in _COLUMNS)
        self._rows = [(time, key, celsius, status, emf_volts, cold_c)]
        self._ends, self._known_at = found["ends"].tolist()
        self._late = found["late"].copy()
        self._closed, self.left_out = float(found["marks"][0]), int(found["marks"][1])


_Rows = tuple[FloatArray, KeyArray, FloatArray, CodeArray, FloatArray, FloatArray]
_COLUMNS = ("time", "key", "celsius", "status", "emf_volts", "cold_c")


def _joined(blocks: list[_Rows], sensors: int) -> _Rows:
    if len(blocks) == 1:
        return blocks[0]
    wide = np.empty((0, sensors))
    empty: _Rows = (np.empty(0), np.empty(0, np.int64), wide, wide.astype(np.uint8), wide, wide)
    time, key, celsius, status, emf, cold = zip(empty, *blocks, strict=True)
    return (
        np.concatenate(time), np.concatenate(key), np.concatenate(celsius), np.concatenate(status),
        np.concatenate(emf), np.concatenate(cold),
    )  # fmt: skip


def _picked(rows: _Rows, index: npt.NDArray[np.intp]) -> _Rows:
    time, key, celsius, status, emf, cold = rows
    return time[index], key[index], celsius[index], status[index], emf[index], cold[index]


def _reduced(ends: FloatArray, known_at: FloatArray, rows: _Rows, late: BoolArray) -> Slots:
    """Reduce rows, sorted and all within `ends`, to slots; one flat cell per slot and sensor."""
    time, _, celsius, status, emf, cold = rows
    shape = (len(ends), 1, celsius.shape[1])
    cells = shape[0] * shape[2]
    slot = np.searchsorted(ends, slot_end_of(time))
    cell = slot[:, None] * shape[2] + np.arange(shape[2])
    valid = status == Status.OK
    count = np.bincount(cell[valid], minlength=cells)
    total = np.bincount(cell[valid], weights=celsius[valid], minlength=cells)
    mean = np.divide(total, count, out=np.full(cells, np.nan), where=count > 0)
    heard = status != Status.ABSENT
    last = np.full(cells, Status.ABSENT, dtype=np.uint8)
    last[cell[heard]] = status[heard]  # of repeated cells the last value stays
    newest_cold = np.full(cells, np.nan)
    told = np.isfinite(cold)
    newest_cold[cell[told]] = cold[told]
    low, high = np.full(cells, np.nan), np.full(cells, np.nan)
    np.fmin.at(low, cell.ravel(), emf.ravel())
    np.fmax.at(high, cell.ravel(), emf.ravel())
    return Slots(
        end=ends,
        known_at=known_at,
        mean_c=mean.reshape(shape),
        count=count.reshape(shape).astype(np.int64),
        status=last.reshape(shape),
        emf_min_volts=low.reshape(shape),
        emf_max_volts=high.reshape(shape),
        cold_c=newest_cold.reshape(shape),
        late=late,
    )
