"""The queue between those who submit and the one who commits."""

import threading
import time
import tracemalloc
from collections.abc import Callable

import pytest

from monitor.model import Arrival
from monitor.store import backlog as backlogs
from monitor.store import statements as sql
from monitor.store.backlog import Backlog


def add_scans(backlog: Backlog, numbers: range, *, every_s: float = 1.0, size: int = 350) -> None:
    """Add scans by number, each so much later than the one before."""
    for number in numbers:
        backlog.add_scan("scan", (number,), row=number, clock=number * every_s, size=size)


def rows(backlog: Backlog) -> list[int]:
    """Return the rows that wait."""
    return [pending.row for pending in backlog.take(10**6) if pending.row]


def test_what_is_taken_stays_until_forgotten() -> None:
    """A commit that fails loses nothing: the same batch is taken again."""
    backlog = Backlog()
    add_scans(backlog, range(1, 4))
    backlog.add_record("finding", ("x",))

    first, second = backlog.take(10), backlog.take(10)
    backlog.forget(second[-1].ticket)

    assert [p.ticket for p in first] == [p.ticket for p in second] == [1, 2, 3, 4]
    assert len(backlog) == 0
    assert backlog.take(10) == []


def test_a_limited_batch_takes_no_record_beyond_its_scans() -> None:
    """Records stay in order with scans, so that a state never goes to disk before the scans it tells of."""
    backlog = Backlog()
    backlog.add_record("before", ())
    add_scans(backlog, range(1, 4))
    backlog.add_record("after", ())

    assert [p.statement for p in backlog.take(2)] == ["before", "scan", "scan"]
    assert [p.statement for p in backlog.take(3)] == ["before", "scan", "scan", "scan", "after"]


def test_four_hours_of_scans_wait_and_the_oldest_beyond_are_counted() -> None:
    """Scan by scan beyond four hours of the record clock the oldest goes, each counted."""
    backlog = Backlog()
    add_scans(backlog, range(4 * 3600 + 1 + 100), size=0)

    assert len(backlog) == 4 * 3600 + 1
    assert rows(backlog)[-1] == 4 * 3600 + 100
    assert backlog.dropped_scans == 100


def test_bytes_are_bounded_too() -> None:
    """However fast scans come, those waiting take no more than the bound."""
    backlog = Backlog()
    add_scans(backlog, range(1, 40), every_s=0.001, size=2**20)

    assert len(backlog) == backlogs.MOST_BYTES // (2**20 + backlogs.SCAN_OVERHEAD_BYTES)
    assert backlog.dropped_scans == 39 - len(backlog)


def test_the_newest_scan_is_kept_however_large() -> None:
    """A single scan is never dropped."""
    backlog = Backlog()
    add_scans(backlog, range(1, 2), size=2 * backlogs.MOST_BYTES)

    assert rows(backlog) == [1]


def test_other_records_are_bounded_and_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    """The oldest record goes beyond the bound."""
    monkeypatch.setattr(backlogs, "MOST_RECORDS", 3)
    backlog = Backlog()
    for number in range(5):
        backlog.add_record("finding", (number,))

    assert [p.values[0] for p in backlog.take(1)] == [2, 3, 4]
    assert backlog.dropped_records == 2


def test_only_the_newest_of_replaceable_records_waits() -> None:
    """An older state of the same firing is replaced, that of another stays."""
    backlog = Backlog()
    for name, number in (("a", 1), ("b", 2), ("a", 3)):
        backlog.add_record("snapshot", (number,), replaces=name)

    assert [p.values[0] for p in backlog.take(1)] == [2, 3]


def test_the_room_for_a_waiting_scan_is_counted_truly(make_arrival: Callable[..., Arrival]) -> None:
    """What is counted for waiting scans is at least what they take, and at most twice that."""
    backlog = Backlog()
    arrivals = [make_arrival(number) for number in range(1000)]
    tracemalloc.start()
    before = tracemalloc.get_traced_memory()[0]

    for number, arrival in enumerate(arrivals):
        values = sql.scan_values(number, "f", arrival, late=False)
        backlog.add_scan(sql.ADD_SCAN, values, row=number, clock=arrival.clock, size=len(values[-1]))

    taken = tracemalloc.get_traced_memory()[0] - before
    tracemalloc.stop()
    assert taken <= backlog._bytes <= 2 * taken


def test_work_is_due_at_its_time_and_at_once_where_urgent() -> None:
    """A scan waits for its turn, an urgent record does not."""
    backlog = Backlog()
    add_scans(backlog, range(1, 2))
    begun = time.monotonic()

    backlog.wait_for_work(begun + 0.05, float("inf"))
    waited_s = time.monotonic() - begun
    backlog.add_record("alarm", (), is_urgent=True)
    backlog.wait_for_work(begun + 60, float("inf"))

    assert waited_s >= 0.05
    assert time.monotonic() - begun < 30


def test_flush_waits_until_all_is_done_or_time_is_up() -> None:
    """Flush tells whether everything before it was forgotten in time."""
    backlog = Backlog()
    add_scans(backlog, range(1, 3))

    assert not backlog.flush(0.01)
    timer = threading.Timer(0.02, backlog.forget, (2,))
    timer.start()
    assert backlog.flush(10.0)
    timer.join()


def test_stop_ends_every_wait() -> None:
    """Neither waiting for work nor a pause outlasts the word to stop."""
    backlog = Backlog()
    threading.Timer(0.02, backlog.stop).start()
    begun = time.monotonic()

    assert backlog.wait_for_work(0.0, float("inf"))
    backlog.pause(60.0)
    assert time.monotonic() - begun < 30
