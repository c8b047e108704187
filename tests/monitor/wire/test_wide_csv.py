"""Firings recorded elsewhere, as a wide CSV."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from monitor.model import Arrival, Reading, Scan
from monitor.wire.wide_csv import CSV_NODE, CsvError, CsvFault, WideCsvReader, csv_input

BERLIN = ZoneInfo("Europe/Berlin")
HEADING = b"time,firebox degC,back degF\n"


def epoch(text: str) -> float:
    """Return the epoch seconds of an ISO 8601 time with offset."""
    return datetime.fromisoformat(text).timestamp()


def test_row_becomes_a_scan_of_finished_temperatures() -> None:
    """Celsius stays, Fahrenheit becomes Celsius: 2192 degF are 1200 degC by definition of the scale."""
    reader = WideCsvReader(UTC)
    events = list(reader.events([HEADING, b"2026-11-24T12:00:00.250+01:00,801.5,2192\n"]))

    time = epoch("2026-11-24T11:00:00.250+00:00")
    readings = (Reading("csv/firebox", temperature_c=801.5), Reading("csv/back", temperature_c=1200.0))
    assert events == [Arrival(Scan(CSV_NODE, time, readings), time)]
    assert csv_input("firebox") == "csv/firebox"


def test_empty_cells_and_nan_deliver_nothing() -> None:
    """A cell without a number is an input that was not there."""
    events = list(WideCsvReader(UTC).events([HEADING, b"2026-11-24T12:00:00Z, ,NaN\n"]))

    assert [event.scan.readings for event in events] == [()]


@pytest.mark.parametrize(
    ("local", "utc"),
    [
        ("2026-07-01 12:00:00", "2026-07-01T10:00:00+00:00"),
        ("2026-12-01T12:00:00", "2026-12-01T11:00:00+00:00"),
        ("2026-10-25T01:59:59", "2026-10-24T23:59:59+00:00"),
        ("2026-10-25T03:00:00", "2026-10-25T02:00:00+00:00"),
        ("2026-03-29T01:59:59", "2026-03-29T00:59:59+00:00"),
        ("2026-03-29T03:00:00", "2026-03-29T01:00:00+00:00"),
    ],
)
def test_time_without_offset_is_the_kilns(local: str, utc: str) -> None:
    """Local times up to the edges of the changes of clock of 2026 in Berlin (IANA time zone database) are read."""
    events = list(WideCsvReader(BERLIN).events([HEADING, f"{local},1,2\n".encode()]))

    assert [event.scan.time for event in events] == [epoch(utc)]


@pytest.mark.parametrize(
    ("row", "kind"),
    [
        (b"2026-10-25T02:30:00,1,2", CsvFault.LOCAL_TIME),
        (b"2026-03-29T02:30:00,1,2", CsvFault.LOCAL_TIME),
        (b"yesterday,1,2", CsvFault.TIME),
        (b"1764000000,1,2", CsvFault.TIME),
        (b",1,2", CsvFault.TIME),
        (b"1970-01-02T00:00:00Z,1,2", CsvFault.TIME),
        (b"0001-01-01T00:00:00,1,2", CsvFault.TIME),
        (b"2026-11-24T12:00:00,1", CsvFault.COLUMNS),
        (b"2026-11-24T12:00:00,1,2,3", CsvFault.COLUMNS),
        (b"2026-11-24T12:00:00,open,2", CsvFault.NUMBER),
        (b"2026-11-24T12:00:00,inf,2", CsvFault.NUMBER),
        (b"2026-11-24T12:00:00,1,1e6", CsvFault.NUMBER),
        (b"2026-11-24T12:00:00,-300,2", CsvFault.NUMBER),
        (b"2026-11-24T12:00:00,1_0,2", CsvFault.NUMBER),
        (b"2026-11-24T12:00:00,1," + b"9" * 140_000, CsvFault.FORM),
    ],
    ids=lambda part: str(part)[:40],
)
def test_broken_row_is_counted_and_skipped(row: bytes, kind: CsvFault) -> None:
    """A broken row costs nothing but itself."""
    reader = WideCsvReader(BERLIN)
    events = list(reader.events([HEADING, row + b"\n", b"\n", b"2026-11-24T12:00:00,1,2\n"]))

    assert len(events) == 1
    assert reader.counts.broken == {kind.value: 1}
    assert (reader.counts.lines, reader.counts.scans) == (2, 1)


def test_clock_is_the_highest_time_so_far() -> None:
    """A row from before stays in its place and does not turn the clock back."""
    rows = [HEADING, b"2026-11-24T12:00:10Z,1,2\n", b"2026-11-24T12:00:05Z,1,2\n"]
    events = list(WideCsvReader(UTC).events(rows))

    assert [event.clock - event.scan.time for event in events] == [0.0, 5.0]


def test_columns_without_a_unit_are_named_and_not_read() -> None:
    """A number without a unit means nothing; a byte order mark in front is no part of the heading."""
    reader = WideCsvReader(UTC)
    rows = [b"\xef\xbb\xbftime,firebox,note,back degC\n", b'2026-11-24T12:00:00Z,900,"a, b",700\n']

    assert [event.scan.readings for event in reader.events(rows)] == [(Reading("csv/back", temperature_c=700.0),)]
    assert reader.ignored == ("firebox", "note")


@pytest.mark.parametrize(
    "heading", [[], [b"time\n"], [b"time,firebox\n"], [b"time,a degC,a degF\n"], [b"time,Firebox degC\n"]]
)
def test_heading_without_one_sensor_each_is_refused(heading: list[bytes]) -> None:
    """Without a sensor and its unit, or with a sensor twice, nothing is read and the error says what is needed."""
    with pytest.raises(CsvError, match="'firebox degC'"):
        list(WideCsvReader(UTC).events(heading))
