"""Scans as columns: one row a scan, one column a sensor of the site."""

from collections.abc import Mapping, Sequence
from itertools import chain

import numpy as np

from monitor.model import CodeArray, FloatArray, InputFault, Scan, ScanBlock, Status

_FAULT_CODES: Mapping[InputFault, Status] = {
    InputFault.OPEN: Status.OPEN,
    InputFault.RANGE: Status.RANGE,
    InputFault.COLD_JUNCTION: Status.COLD_JUNCTION,
}
_NOBODY = -1


def to_block(scans: Sequence[Scan], sensor_index: Mapping[str, int]) -> ScanBlock:
    """Return `scans` (n) as columns for the S sensors of `sensor_index` (full input name to column).

    Inputs that no sensor of the site hangs on are left out here; the store keeps them.
    """
    shape = (len(scans), max(sensor_index.values(), default=-1) + 1)
    readings = list(chain.from_iterable([scan.readings for scan in scans]))
    column = np.array([sensor_index.get(reading.input, _NOBODY) for reading in readings], dtype=np.intp)
    row = np.repeat(np.arange(len(scans)), [len(scan.readings) for scan in scans])
    mine = column != _NOBODY
    cell = (row * shape[1] + column)[mine]

    def matrix(told: list[float | None]) -> FloatArray:
        """Place what readings told of one field; of what nobody told there is nothing to place."""
        placed = np.full(shape, np.nan)
        if told.count(None) < len(told):
            placed.ravel()[cell] = np.array(told, dtype=np.float64)[mine]  # None becomes NaN
        return placed

    emf_volts = matrix([reading.emf_volts for reading in readings])
    temperature_c = matrix([reading.temperature_c for reading in readings])
    fault: CodeArray = np.full(shape, Status.ABSENT, dtype=np.uint8)
    fault[np.isfinite(emf_volts) | np.isfinite(temperature_c)] = Status.OK
    for at, told in enumerate([reading.fault for reading in readings]):
        if told is not None and mine[at]:
            fault[row[at], column[at]] = _FAULT_CODES[told]
    return ScanBlock(
        time=np.array([scan.time for scan in scans], dtype=np.float64),
        emf_volts=emf_volts,
        cold_junction_c=matrix([reading.cold_junction_c for reading in readings]),
        temperature_c=temperature_c,
        oxygen_emf_volts=matrix([reading.oxygen_emf_volts for reading in readings]),
        fault=fault,
    )
