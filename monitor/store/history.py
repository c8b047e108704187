"""Charts of any stretch of a firing: heads of sealed blocks, the blocks themselves when close up, and the tail.

What was read is kept for the next chart of the same firing, within bounds: heads as they are (under 1 MB for four days
of twelve inputs), the tail as temperatures, and the temperatures of the last few blocks.
"""

import sqlite3
from collections import OrderedDict

import numpy as np
import numpy.typing as npt

from monitor.model import FloatArray
from monitor.store.codec import decode
from monitor.store.connection import transaction
from monitor.store.errors import BlockDamageError
from monitor.store.grid import Grid, choose_grid
from monitor.store.heads import BUCKET_S, STEPS_PER_C, Float32Array, Heads, build_heads, decode_heads, reduce_by
from monitor.store.records import Envelope, SiteConversion
from monitor.store.scan_columns import IntArray, ScanColumns, columns_of, scan_block_of
from monitor.store.tail import rows_of_firing

MOST_FIRINGS = 2
MOST_BLOCKS = 18
"""Enough for the longest chart of 2,000 columns finer than a minute, over hourly blocks."""

Span = tuple[float, float, int]
"""Begin and end in epoch seconds, and the columns allowed."""


class Charts:
    """Draws envelopes on a connection; keeps what it read."""

    def __init__(self) -> None:
        self._firings: OrderedDict[tuple[str, str], FiringChart] = OrderedDict()

    def envelope(self, connection: sqlite3.Connection, firing: str, span: Span, conversion: SiteConversion) -> Envelope:
        """Return the envelope of one firing over a span."""
        grid = choose_grid(*span)
        key = (firing, conversion.key)
        chart = self._firings.setdefault(key, FiringChart(firing, conversion))
        self._firings.move_to_end(key)
        while len(self._firings) > MOST_FIRINGS:
            self._firings.popitem(last=False)
        return chart.draw(connection, grid)


class FiringChart:
    """All that charts of one firing under one conversion need, brought up to date before each."""

    def __init__(self, firing: str, conversion: SiteConversion) -> None:
        self._firing = firing
        self._conversion = conversion
        self._heads = empty_heads(len(conversion.inputs))
        self._newest_block = 0
        self._tail = Tail(len(conversion.inputs))
        self._blocks: OrderedDict[int, tuple[FloatArray, Float32Array]] = OrderedDict()
        self._damaged: set[int] = set()

    def draw(self, connection: sqlite3.Connection, grid: Grid) -> Envelope:
        """Return the envelope on a grid."""
        with transaction(connection, "DEFERRED"):
            self._catch_up(connection)
            blocks = [] if grid.is_of_buckets else self._blocks_within(connection, grid)
            canvas = _Canvas(grid, len(self._conversion.inputs))
            if grid.is_of_buckets:
                canvas.add(self._heads.bucket // round(grid.step_s / BUCKET_S), self._heads.low, self._heads.high)
            for block in blocks:
                time, celsius = self._temperatures(connection, block)
                canvas.add(np.floor(time / grid.step_s).astype(np.int64), celsius, celsius)
        canvas.add(np.floor(self._tail.time / grid.step_s).astype(np.int64), self._tail.celsius, self._tail.celsius)
        return canvas.envelope(tuple(sorted(self._damaged)))

    def _catch_up(self, connection: sqlite3.Connection) -> None:
        """Read the heads of blocks sealed since, and the scans that came since."""
        new = connection.execute(
            "SELECT id, node, last_row, heads_key, heads FROM block WHERE firing = ? AND id > ? ORDER BY id",
            (self._firing, self._newest_block),
        ).fetchall()
        found = [self._heads]
        for block, node, last_row, key, heads in new:
            found.append(self._block_heads(connection, block, heads if key == self._conversion.key else None))
            self._tail.drop(node, last_row)
            self._newest_block = block
        if new:
            self._heads = joined(found)
        self._tail.extend(connection, self._firing, self._conversion)

    def _block_heads(self, connection: sqlite3.Connection, block: int, heads: bytes | None) -> Heads:
        if heads is not None:
            try:
                return decode_heads(heads)
            except BlockDamageError:
                pass  # the scans tell the same, as long as they are whole
        return build_heads(*self._temperatures(connection, block))

    def _blocks_within(self, connection: sqlite3.Connection, grid: Grid) -> list[int]:
        end = grid.begin + grid.count * grid.step_s
        rows = connection.execute(
            "SELECT id FROM block WHERE firing = ? AND first_time < ? AND last_time >= ? ORDER BY id",
            (self._firing, end, grid.begin),
        )
        return [row[0] for row in rows]

    def _temperatures(self, connection: sqlite3.Connection, block: int) -> tuple[FloatArray, Float32Array]:
        """Return time (n,) and degC (n, S) of a block's scans; none where it is damaged."""
        if block in self._blocks:
            self._blocks.move_to_end(block)
            return self._blocks[block]
        (payload,) = connection.execute("SELECT payload FROM block WHERE id = ?", (block,)).fetchone()
        try:
            found = converted(decode(payload), self._conversion)
        except BlockDamageError:
            self._damaged.add(block)
            found = np.zeros(0), np.zeros((0, len(self._conversion.inputs)), np.float32)
        self._blocks[block] = found
        while len(self._blocks) > MOST_BLOCKS:
            self._blocks.popitem(last=False)
        return found


class Tail:
    """The scans not yet sealed, as temperatures, in order of arrival."""

    def __init__(self, sensors: int) -> None:
        self.row: IntArray = np.zeros(0, np.int64)
        self.node: npt.NDArray[np.object_] = np.zeros(0, object)
        self.time: FloatArray = np.zeros(0)
        self.celsius: Float32Array = np.zeros((0, sensors), np.float32)
        self._newest_row = 0

    def extend(self, connection: sqlite3.Connection, firing: str, conversion: SiteConversion) -> None:
        """Read and convert the scans that came since."""
        rows = rows_of_firing(connection, firing, self._newest_row, -1)
        for node in dict.fromkeys(row.node for row in rows):
            columns = columns_of([row for row in rows if row.node == node])
            time, celsius = converted(columns, conversion)
            self.row = np.append(self.row, columns.row)
            self.node = np.append(self.node, np.full(len(time), node, object))
            self.time = np.append(self.time, time)
            self.celsius = np.concatenate([self.celsius, celsius])
        self._newest_row = max([self._newest_row, *(row.row for row in rows[-1:])])

    def drop(self, node: str, last_row: int) -> None:
        """Let go of what was sealed."""
        keep = (self.node != node) | (self.row > last_row)
        self.row, self.node, self.time, self.celsius = (
            self.row[keep],
            self.node[keep],
            self.time[keep],
            self.celsius[keep],
        )


class _Canvas:
    """An envelope in the making."""

    def __init__(self, grid: Grid, sensors: int) -> None:
        self._grid = grid
        self._low = np.full((grid.count, sensors), np.nan, np.float32)
        self._high = self._low.copy()

    def add(self, cell: IntArray, low: Float32Array, high: Float32Array) -> None:
        """Take in values (n, S) in columns `cell` (n,), counted from the epoch; what lies outside is left out."""
        column = cell - self._grid.first
        inside = (column >= 0) & (column < self._grid.count)
        if not inside.all():
            column, low, high = column[inside], low[inside], high[inside]
        at, lowest, highest = reduce_by(column, low, high)
        self._low[at] = np.fmin(self._low[at], lowest)
        self._high[at] = np.fmax(self._high[at], highest)

    def envelope(self, damaged: tuple[int, ...]) -> Envelope:
        """Return what was drawn, sensors first."""
        low, high = self._low, self._high
        if self._grid.is_of_buckets:
            low = (np.floor(low * STEPS_PER_C) / STEPS_PER_C).astype(np.float32)
            high = (np.ceil(high * STEPS_PER_C) / STEPS_PER_C).astype(np.float32)
        return Envelope(
            self._grid.begin, self._grid.step_s, np.ascontiguousarray(low.T), np.ascontiguousarray(high.T), damaged
        )


def converted(columns: ScanColumns, conversion: SiteConversion) -> tuple[FloatArray, Float32Array]:
    """Return time (n,) and degC (n, S) of stored scans."""
    temperatures = conversion.convert(scan_block_of(columns, conversion.inputs))
    return temperatures.time, temperatures.celsius.astype(np.float32)


def empty_heads(sensors: int) -> Heads:
    """Return heads of no bucket."""
    nothing = np.zeros((0, sensors), np.float32)
    return Heads(np.zeros(0, np.int64), nothing, nothing)


def joined(parts: list[Heads]) -> Heads:
    """Return the buckets of all parts, rising; a bucket that several have comes several times."""
    bucket = np.concatenate([part.bucket for part in parts])
    order = np.argsort(bucket, kind="stable")
    low = np.concatenate([part.low for part in parts])[order]
    high = np.concatenate([part.high for part in parts])[order]
    return Heads(bucket[order], low, high)
