"""Stored scans of one node as columns, in order of arrival: what a block holds; pure.

The conversions between single scans, these columns and the columns that the conversion to temperatures takes.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice

import msgspec
import numpy as np
import numpy.typing as npt

from monitor.model import CodeArray, FloatArray, Reading, Scan, ScanBlock, Status
from monitor.store.cells import FAULTS, NUMBERS, Cells, decode_cells
from monitor.store.records import StoredScan

IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

ROWS_AT_ONCE = 256
"""Rows that are unpacked into Python's large numbers at a time."""

IS_THERE = 0x01
"""The input is in the scan."""
HAS_NUMBER = {name: 0x02 << i for i, name in enumerate(NUMBERS)}
HAS_CONTACT = 0x20
CONTACT = 0x40

_BY_ROW = ("row", "time", "clock", "late", "seq", "boot")
_STATUS_OF_FAULT = np.array([Status.OK, Status.OPEN, Status.RANGE, Status.COLD_JUNCTION], dtype=np.uint8)


@dataclass(frozen=True, slots=True, eq=False)
class ScanColumns:
    """n scans of one node by the S inputs met in them.

    `row`, `time`, `clock`, `late` (n,); `seq` (n,) is -1 and `boot` (n,), an index into `boots`, is -1 where not sent.
    `told` (n, S) holds the flags above, `fault` (n, S) indices into `cells.FAULTS`; `numbers` by the names of
    `cells.NUMBERS` (n, S), NaN where not sent, only those that any input sent.
    """

    node: str
    inputs: tuple[str, ...]
    boots: tuple[str, ...]
    row: IntArray
    time: FloatArray
    clock: FloatArray
    late: BoolArray
    seq: IntArray
    boot: IntArray
    told: CodeArray
    fault: CodeArray
    numbers: dict[str, FloatArray]

    def __len__(self) -> int:
        return len(self.row)


class TailRow(msgspec.Struct, frozen=True):
    """One scan as the tail keeps it."""

    row: int
    node: str
    boot: str | None
    seq: int | None
    time: float
    clock: float
    late: bool
    cells: bytes


def columns_of(rows: Iterable[TailRow]) -> ScanColumns:
    """Turn rows of one node, at least one, in order of arrival, into columns; a few at a time, to stay small."""
    source = iter(rows)
    parts = []
    while some := list(islice(source, ROWS_AT_ONCE)):
        parts.append(_columns_of_some(some))
    return parts[0] if len(parts) == 1 else joined(parts)


def joined(parts: Sequence[ScanColumns]) -> ScanColumns:
    """Put parts of one node, each later than the one before, together."""
    inputs = tuple(dict.fromkeys(name for part in parts for name in part.inputs))
    boots = tuple(dict.fromkeys(boot for part in parts for boot in part.boots))
    ends = np.cumsum([len(part) for part in parts]).tolist()
    shape = (ends[-1], len(inputs))
    told, fault = np.zeros(shape, np.uint8), np.zeros(shape, np.uint8)
    numbers = {name: np.full(shape, np.nan) for name in NUMBERS if any(name in part.numbers for part in parts)}
    boot = []
    for part, end in zip(parts, ends, strict=True):
        rows, columns = slice(end - len(part), end), [inputs.index(name) for name in part.inputs]
        told[rows, columns], fault[rows, columns] = part.told, part.fault
        for name, array in part.numbers.items():
            numbers[name][rows, columns] = array
        boot.append(np.array([*(boots.index(each) for each in part.boots), -1], np.int64)[part.boot])
    by_row = {name: np.concatenate([getattr(part, name) for part in parts]) for name in _BY_ROW}
    by_row["boot"] = np.concatenate(boot)
    return ScanColumns(parts[0].node, inputs, boots, **by_row, told=told, fault=fault, numbers=numbers)


def _columns_of_some(rows: Sequence[TailRow]) -> ScanColumns:
    cells = [decode_cells(row.cells) for row in rows]
    layouts: dict[tuple[str, ...], list[int]] = {}
    for at, cell in enumerate(cells):
        layouts.setdefault(cell.inputs, []).append(at)
    inputs = tuple(dict.fromkeys(name for layout in layouts for name in layout))
    shape = (len(rows), len(inputs))
    told, fault = np.zeros(shape, np.uint8), np.zeros(shape, np.uint8)
    numbers = {name: np.full(shape, np.nan) for name in NUMBERS}
    for layout, members in layouts.items():
        place = np.ix_(members, [inputs.index(name) for name in layout])
        _fill(place, [cells[at] for at in members], told, fault, numbers)
    boots = tuple(dict.fromkeys(row.boot for row in rows if row.boot is not None))
    index = {boot: i for i, boot in enumerate(boots)}
    return ScanColumns(
        node=rows[0].node,
        inputs=inputs,
        boots=boots,
        row=np.array([row.row for row in rows], np.int64),
        time=np.array([row.time for row in rows], np.float64),
        clock=np.array([row.clock for row in rows], np.float64),
        late=np.array([row.late for row in rows], np.bool_),
        seq=np.array([-1 if row.seq is None else row.seq for row in rows], np.int64),
        boot=np.array([-1 if row.boot is None else index[row.boot] for row in rows], np.int64),
        told=told,
        fault=fault,
        numbers={name: array for name, array in numbers.items() if (told & HAS_NUMBER[name]).any()},
    )


def scans_of(columns: ScanColumns) -> Iterator[StoredScan]:
    """Turn columns back into scans, in order of arrival; the inputs come in the order of the columns."""
    for begin in range(0, len(columns), ROWS_AT_ONCE):
        yield from _some_scans(_cut(columns, slice(begin, begin + ROWS_AT_ONCE)))


def _some_scans(columns: ScanColumns) -> Iterator[StoredScan]:
    told, fault = columns.told.tolist(), columns.fault.tolist()
    lists = {name: columns.numbers[name].tolist() for name in columns.numbers}
    heads = zip(
        columns.row.tolist(),
        columns.time.tolist(),
        columns.clock.tolist(),
        columns.late.tolist(),
        columns.seq.tolist(),
        columns.boot.tolist(),
        strict=True,
    )
    for at, (row, time, clock, late, seq, boot) in enumerate(heads):
        by_kind = {name: rows[at] for name, rows in lists.items()}
        readings = tuple(
            _reading(name, i, told[at][i], fault[at][i], by_kind)
            for i, name in enumerate(columns.inputs)
            if told[at][i]
        )
        scan = Scan(
            columns.node,
            time,
            readings,
            boot=None if boot < 0 else columns.boots[boot],
            seq=None if seq < 0 else seq,
        )
        yield StoredScan(row, scan, clock, late)


def rows_between(columns: ScanColumns, after: int, upto: int) -> ScanColumns:
    """Return the scans with `after` < row <= `upto`."""
    begin, end = np.searchsorted(columns.row, [after, upto], side="right")
    if begin == 0 and end == len(columns):
        return columns
    return _cut(columns, slice(begin, end))


def scan_block_of(columns: ScanColumns, inputs: Sequence[str]) -> ScanBlock:
    """Return the columns as n scans by the sensors that hang on `inputs` (S,), for the conversion to temperatures."""
    ours = {name: i for i, name in enumerate(columns.inputs)}
    pairs = [(sensor, ours[name]) for sensor, name in enumerate(inputs) if name in ours]
    sensors, found = [pair[0] for pair in pairs], [pair[1] for pair in pairs]
    shape = (len(columns), len(inputs))
    numbers = {name: np.full(shape, np.nan) for name in NUMBERS}
    for name, array in columns.numbers.items():
        numbers[name][:, sensors] = array[:, found]
    told, fault = columns.told[:, found], columns.fault[:, found]
    measured = (told & (HAS_NUMBER["emf_volts"] | HAS_NUMBER["temperature_c"])) != 0
    status = np.full(shape, Status.ABSENT, np.uint8)
    status[:, sensors] = np.where(measured | (fault != 0), _STATUS_OF_FAULT[fault], Status.ABSENT)
    return ScanBlock(time=columns.time, fault=status, **numbers)


def _cut(columns: ScanColumns, part: slice) -> ScanColumns:
    cut = {name: getattr(columns, name)[part] for name in (*_BY_ROW, "told", "fault")}
    return replace(columns, **cut, numbers={name: array[part] for name, array in columns.numbers.items()})


def _fill(
    place: tuple[npt.NDArray[np.intp], ...],
    cells: Sequence[Cells],
    told: CodeArray,
    fault: CodeArray,
    numbers: dict[str, FloatArray],
) -> None:
    """Put scans of one layout of inputs in their place of the columns."""
    width = len(cells[0].inputs)
    blank: list[None] = [None] * width
    flags = np.full((len(cells), width), IS_THERE, np.uint8)
    for name in NUMBERS:
        lists = [getattr(cell, name) or blank for cell in cells]
        array = np.array(lists, dtype=np.float64).reshape(len(cells), width)
        numbers[name][place] = array
        sent = ~np.isnan(array)
        if not sent.all():
            sent |= np.array([[number is not None for number in row] for row in lists], np.bool_).reshape(sent.shape)
        flags |= np.where(sent, HAS_NUMBER[name], 0).astype(np.uint8)
    contacts = np.array([_contact_flags(cell.contact or blank) for cell in cells], np.uint8)
    told[place] = flags | contacts.reshape(flags.shape)
    zeros = [0] * width
    fault[place] = np.array([cell.fault or zeros for cell in cells], np.uint8).reshape(flags.shape)


def _contact_flags(contacts: Sequence[bool | None]) -> list[int]:
    return [0 if closed is None else HAS_CONTACT | CONTACT * closed for closed in contacts]


def _reading(name: str, column: int, told: int, fault: int, by_kind: dict[str, list[float]]) -> Reading:
    numbers = {kind: row[column] for kind, row in by_kind.items() if told & HAS_NUMBER[kind]}
    contact = bool(told & CONTACT) if told & HAS_CONTACT else None
    return Reading(name, fault=FAULTS[fault], contact=contact, **numbers)
