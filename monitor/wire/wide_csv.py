"""A firing recorded elsewhere: a wide CSV with a time column and one column a sensor.

The first column is an ISO 8601 time, without offset in the kiln's time zone; the others are headed `<sensor id> degC`
or `<sensor id> degF` and hold finished temperatures. Fahrenheit ends here. A column with another heading is named in
`ignored`, since a number without a unit means nothing. To replay one, map each sensor of the site to the input
`csv_input(sensor id)` and take away its type letter: the temperatures are finished.
"""

import csv
import re
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime, timedelta, tzinfo
from enum import StrEnum
from math import isfinite
from typing import Final, NamedTuple

from monitor.model import Arrival, Reading, Scan
from monitor.wire.fields import RELATIVE_BELOW_S
from monitor.wire.recording import RecordingCounts

CSV_NODE: Final = "csv"
_HEADING: Final = re.compile(r"([a-z][a-z0-9-]*) deg([CF])")
_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
_LOWEST_C: Final = -273.15
_HIGHEST_C: Final = 5000.0


class CsvFault(StrEnum):
    """Why a line was skipped."""

    TIME = "time"  # no ISO 8601 time, or one before July 1978, which on the wire would be a relative one
    LOCAL_TIME = "local-time"  # ambiguous or missing in the kiln's time zone
    COLUMNS = "columns"  # more or fewer cells than headings, as at the end of a file cut off
    NUMBER = "number"  # a cell that is no temperature
    FORM = "form"  # quotes that do not end, a cell of more than 131,072 characters


class CsvError(ValueError):
    """A heading line from which nothing can be read."""


class _BrokenLineError(ValueError):
    def __init__(self, kind: CsvFault) -> None:
        super().__init__(kind)
        self.kind = kind


class _Column(NamedTuple):
    at: int
    input: str
    is_fahrenheit: bool


def csv_input(sensor_id: str) -> str:
    """Return the input name under which a sensor's column is delivered."""
    return f"{CSV_NODE}/{sensor_id}"


class WideCsvReader:
    """Lines in, arrivals out; the clock is the highest scan time so far. `ignored` holds headings without a unit."""

    def __init__(self, zone: tzinfo) -> None:
        """Take `zone` as the time zone of times without offset."""
        self.counts = RecordingCounts()
        self.ignored: tuple[str, ...] = ()
        self._zone = zone
        self._clock: float | None = None

    def events(self, lines: Iterable[bytes]) -> Iterator[Arrival]:
        """Yield one arrival a row; a broken row is counted and skipped.

        Raises:
            CsvError: the first line does not name a sensor with its unit, or names one twice.
        """
        rows = csv.reader(line.decode("utf-8-sig", errors="replace") for line in lines)
        heading = next(rows, [])
        columns = self._columns(heading)
        for row in self._rows(rows):
            try:
                scan = self._scan(row, columns, len(heading))
            except _BrokenLineError as error:
                self.counts.broken[error.kind.value] += 1
                continue
            self.counts.scans += 1
            self._clock = scan.time if self._clock is None else max(self._clock, scan.time)
            yield Arrival(scan, self._clock)

    def _rows(self, rows: Iterator[list[str]]) -> Iterator[list[str]]:
        """Yield the rows that hold anything; count those that are no CSV."""
        while True:
            try:
                row = next(rows, None)
            except csv.Error:
                self.counts.lines += 1
                self.counts.broken[CsvFault.FORM.value] += 1
                continue
            if row is None:
                return
            if any(cell.strip() for cell in row):
                self.counts.lines += 1
                yield row

    def _columns(self, heading: list[str]) -> tuple[_Column, ...]:
        columns = []
        ignored = []
        for at, cell in enumerate(heading[1:], 1):
            match = _HEADING.fullmatch(cell.strip())
            if match is None:
                ignored.append(cell.strip())
            else:
                columns.append(_Column(at, csv_input(match[1]), match[2] == "F"))
        self.ignored = tuple(ignored)
        names = [column.input for column in columns]
        if not columns or len(set(names)) != len(names):
            raise CsvError(
                "the first line must head the time column and, once each, columns such as 'firebox degC' or "
                f"'firebox degF'; it reads {','.join(heading)[:200]!r}"
            )
        return tuple(columns)

    def _scan(self, row: list[str], columns: tuple[_Column, ...], width: int) -> Scan:
        if len(row) != width:
            raise _BrokenLineError(CsvFault.COLUMNS)
        time = self._time(row[0].strip())
        readings = [
            Reading(column.input, temperature_c=_celsius(cell, column))
            for column in columns
            if (cell := row[column.at].strip()) and cell.lower() != "nan"
        ]
        return Scan(CSV_NODE, time, tuple(readings))

    def _time(self, text: str) -> float:
        try:
            moment = datetime.fromisoformat(text)
            if moment.tzinfo is None:
                moment = self._local(moment)
            time = (moment - _EPOCH) / timedelta(seconds=1)
        except _BrokenLineError:
            raise
        except (ValueError, OverflowError):
            raise _BrokenLineError(CsvFault.TIME) from None
        if time < RELATIVE_BELOW_S:
            raise _BrokenLineError(CsvFault.TIME)
        return time

    def _local(self, moment: datetime) -> datetime:
        local = moment.replace(tzinfo=self._zone, fold=0)
        # Where the clock is put forward or back, the two readings of a local time differ (PEP 495).
        if local.utcoffset() != local.replace(fold=1).utcoffset():
            raise _BrokenLineError(CsvFault.LOCAL_TIME)
        return local


def _celsius(cell: str, column: _Column) -> float:
    try:
        number = float(cell.replace("_", "?"))  # Python's own digit groups are nobody's CSV
    except ValueError:
        raise _BrokenLineError(CsvFault.NUMBER) from None
    celsius = (number - 32.0) / 1.8 if column.is_fahrenheit else number
    if not (isfinite(celsius) and _LOWEST_C <= celsius <= _HIGHEST_C):
        raise _BrokenLineError(CsvFault.NUMBER)
    return celsius
