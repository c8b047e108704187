"""Scans as columns: one row a scan, one column a sensor of the site."""

from collections.abc import Mapping, Sequence

import numpy as np

from monitor.model import CodeArray, FloatArray, InputFault, Scan, ScanBlock, Status

_FAULT_CODES: Mapping[InputFault, Status] = {
    InputFault.OPEN: Status.OPEN,
    InputFault.RANGE: Status.RANGE,
    InputFault.COLD_JUNCTION: Status.COLD_JUNCTION,
}
_NAN = float("nan")


def to_block(scans: Sequence[Scan], sensor_index: Mapping[str, int]) -> ScanBlock:
    """Return `scans` (n) as columns for the S sensors of `sensor_index` (full input name to column).

    Inputs that no sensor of the site hangs on are left out here; the store keeps them.
    """
    rows, width = len(scans), max(sensor_index.values(), default=-1) + 1
    cells = rows * width
    emf, cold = [_NAN] * cells, [_NAN] * cells
    celsius, oxygen = [_NAN] * cells, [_NAN] * cells
    fault = bytearray([Status.ABSENT]) * cells
    for row, scan in enumerate(scans):
        for reading in scan.readings:
            column = sensor_index.get(reading.input)
            if column is None:
                continue
            cell = row * width + column
            if reading.fault is not None:
                fault[cell] = _FAULT_CODES[reading.fault]
            elif reading.emf_volts is not None or reading.temperature_c is not None:
                fault[cell] = Status.OK
            if reading.emf_volts is not None:
                emf[cell] = reading.emf_volts
            if reading.cold_junction_c is not None:
                cold[cell] = reading.cold_junction_c
            if reading.temperature_c is not None:
                celsius[cell] = reading.temperature_c
            if reading.oxygen_emf_volts is not None:
                oxygen[cell] = reading.oxygen_emf_volts
    shape = (rows, width)
    codes: CodeArray = np.frombuffer(bytes(fault), dtype=np.uint8).reshape(shape)
    return ScanBlock(
        time=np.array([scan.time for scan in scans], dtype=np.float64),
        emf_volts=_matrix(emf, shape),
        cold_junction_c=_matrix(cold, shape),
        temperature_c=_matrix(celsius, shape),
        oxygen_emf_volts=_matrix(oxygen, shape),
        fault=codes,
    )


def _matrix(cells: list[float], shape: tuple[int, int]) -> FloatArray:
    return np.array(cells, dtype=np.float64).reshape(shape)
