"""A truth file read back, for whoever scores findings against it."""

from collections.abc import Iterator
from dataclasses import dataclass, fields
from pathlib import Path

import msgspec
import numpy as np

from monitor.model import FindingKind, FloatArray
from simulator.truth.lines import ConeLine, HeaderLine, Line, MinuteLine, SpanLine, StokeLine, parse_line


class TruthFileError(Exception):
    """A file that is no truth file; says which line is wrong."""


@dataclass(frozen=True, slots=True, eq=False)
class MinuteTable:
    """The minute lines as columns: `time` (m,) epoch seconds, per zone (m, Z) or sensor (m, S); NaN where null."""

    time: FloatArray
    gas_c: FloatArray
    ware_c: FloatArray
    junction_c: FloatArray
    excess_air: FloatArray
    air_kg_s: FloatArray
    demand_kg_s: FloatArray
    embers_kg: FloatArray
    door: FloatArray
    ports: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class TruthFile:
    """A truth file as it was read."""

    header: HeaderLine
    stokes: tuple[StokeLine, ...]
    spans: tuple[SpanLine, ...]
    cones: tuple[ConeLine, ...]
    minutes: MinuteTable

    def of(self, kind: FindingKind) -> tuple[SpanLine, ...]:
        """Return the spans of `kind`."""
        return tuple(s for s in self.spans if s.kind is kind)


def read_truth(path: Path) -> TruthFile:
    """Return the truth file at `path`.

    Raises:
        OSError: where it cannot be read.
        TruthFileError: where it is no truth file.
    """
    lines = list(_lines(path))
    header = lines[0] if lines else None
    if not isinstance(header, HeaderLine):
        raise TruthFileError(f"{path.name}: no header of a truth file in the first line")
    rows = [x for x in lines if isinstance(x, MinuteLine)]
    columns = (np.array([getattr(r, f.name) for r in rows], dtype=np.float64) for f in fields(MinuteTable))
    return TruthFile(
        header=header,
        stokes=tuple(x for x in lines if isinstance(x, StokeLine)),
        spans=tuple(x for x in lines if isinstance(x, SpanLine)),
        cones=tuple(x for x in lines if isinstance(x, ConeLine)),
        minutes=MinuteTable(*columns),
    )


def _lines(path: Path) -> Iterator[Line]:
    with path.open("rb") as file:
        for number, text in enumerate(file, start=1):
            try:
                yield parse_line(text)
            except msgspec.MsgspecError as error:
                raise TruthFileError(f"{path.name}: line {number}: {error}") from error
