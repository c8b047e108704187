"""Records as statements."""

import pytest

from monitor.model import Alarm, Arrival, Finding, FindingKind, FindingState, Scan, SensorFault
from monitor.store import statements as sql
from monitor.store.records import JournalLine

FINDING = Finding(
    1764003600.0, FindingKind.SENSOR, FindingState.BEGIN, "t1", 1764003590.0, None, None, "open", SensorFault.OPEN
)
ALARM = Alarm("fall", "fall", 1, True, False, False, 5.0, None, None, None, None, None, "front", "falling")


@pytest.mark.parametrize(
    ("begun", "taken", "expected"),
    [
        (1795559760.0, set(), "20261124T2236Z"),  # 2026-11-24T22:36:00Z, by `date -u -d @1795559760`
        (1795559819.9, set(), "20261124T2236Z"),
        (1795559760.0, {"20261124T2236Z"}, "20261124T2236Z-2"),
        (1795559760.0, {"20261124T2236Z", "20261124T2236Z-2"}, "20261124T2236Z-3"),
        (0.0, set(), "19700101T0000Z"),
    ],
)
def test_a_firings_id_is_its_utc_start(begun: float, taken: set[str], expected: str) -> None:
    """Minutes of UTC, with a number where two began in one minute."""
    assert sql.firing_id(begun, taken) == expected


def test_a_finding_comes_back() -> None:
    """A finding is the same after the way through its record."""
    *_, record = sql.finding_values("f", FINDING)

    assert sql.decode_finding(record) == FINDING


def test_a_journal_line_comes_back() -> None:
    """A line of the alarm journal is the same after the way through its record."""
    line = JournalLine("fall", "begin", 5.0, None, ALARM)

    *_, record = sql.alarm_change_values("f", line)

    assert sql.decode_journal_line(record) == line


def test_equal_records_have_equal_digests_and_others_not() -> None:
    """The digest is SQLite's signed 64 bits, the same at every run."""
    assert sql.digest_of(b"one") == sql.digest_of(b"one") != sql.digest_of(b"two")
    assert all(-(2**63) <= sql.digest_of(bytes([i])) < 2**63 for i in range(50))


def test_a_scans_values_stand_in_the_order_of_the_statement() -> None:
    """Row, firing, node, boot, seq, time, clock, late, cells."""
    values = sql.scan_values(3, "f", Arrival(Scan("n", 1.0, (), boot="b", seq=2), 1.5), late=True)

    assert values[:-1] == (3, "f", "n", "b", 2, 1.0, 1.5, 1)
