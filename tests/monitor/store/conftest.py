"""Scans, rows and conversions to try the store with."""

from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from monitor.model import Arrival, InputFault, Reading, Scan, ScanBlock, Status, Temperatures
from monitor.store.cells import cells_of, encode_cells
from monitor.store.opening import Store, open_store
from monitor.store.records import SiteConversion
from monitor.store.scan_columns import TailRow

BEGIN = 1_764_000_000.0  # 2025-11-24T16:00:00Z, a whole hour
STEP_VOLTS = 78.125e-3 / 2**17  # MAX31856 datasheet: full scale 78.125 mV at gain 8, 2**17 steps

MakeScan = Callable[..., Scan]


def _scan(number: int, *, node: str = "shed-1", time: float | None = None, celsius: float | None = None) -> Scan:
    """Make scan `number`: two thermocouples, the second open each hundredth time."""
    chance = np.random.default_rng(number)
    at = BEGIN + number if time is None else time
    mean = 100.0 + 0.01 * number if celsius is None else celsius
    emf = round(round((mean - 25.0) * 41e-6 / STEP_VOLTS + chance.normal(0, 2.2)) * STEP_VOLTS, 9)
    first = Reading(f"{node}/t1", emf_volts=emf, cold_junction_c=25.0)
    second = Reading(f"{node}/t2", emf_volts=emf, cold_junction_c=24.98)
    if number % 100 == 99:
        second = Reading(f"{node}/t2", cold_junction_c=24.98, fault=InputFault.OPEN)
    return Scan(node, at, (first, second), boot="9f3ac2d1", seq=number)


def _row(number: int, *, clock: float | None = None, late: bool = False, **more: object) -> TailRow:
    scan = _scan(number, **more)  # type: ignore[arg-type]
    at = BEGIN + number + 0.09 if clock is None else clock
    cells = encode_cells(cells_of(scan.readings))
    return TailRow(number + 1, scan.node, scan.boot, scan.seq, scan.time, at, late, cells)


def _convert(block: ScanBlock) -> Temperatures:
    celsius = np.where(block.fault == Status.OK, block.cold_junction_c + block.emf_volts / 41e-6, np.nan)
    return Temperatures(block.time, celsius, block.fault)


@pytest.fixture
def begin() -> float:
    """Return the epoch seconds of scan 0, a whole hour."""
    return BEGIN


@pytest.fixture
def make_scan() -> MakeScan:
    """Return a maker of scans by number, one a second."""
    return _scan


@pytest.fixture
def make_row() -> Callable[..., TailRow]:
    """Return a maker of tail rows by number."""
    return _row


@pytest.fixture
def make_arrival() -> Callable[..., Arrival]:
    """Return a maker of scans as they arrive, 0.09 s after their time."""

    def make(number: int, *, clock: float | None = None, **more: object) -> Arrival:
        return Arrival(_scan(number, **more), BEGIN + number + 0.09 if clock is None else clock)  # type: ignore[arg-type]

    return make


@pytest.fixture
def conversion() -> SiteConversion:
    """Return a straight-line conversion of both inputs of shed-1."""
    return SiteConversion("straight", ("shed-1/t1", "shed-1/t2"), _convert)


@pytest.fixture
def directory(tmp_path: Path) -> Path:
    """Return a data directory that does not exist yet."""
    return tmp_path / "kiln"


@pytest.fixture
def store(directory: Path) -> Iterator[Store]:
    """Return a new store, released in the end."""
    opened = open_store(directory)
    yield opened
    opened.release()
