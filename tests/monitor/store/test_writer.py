"""Writing: what is acknowledged is there, whatever happens."""

import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

import pytest

from monitor.model import Alarm, Arrival, Entry, EntryKind, Finding, FindingKind, FindingState, Reading, Scan
from monitor.store.connection import FILE_NAME
from monitor.store.opening import Store, open_reader, open_store
from monitor.store.records import Committed, SiteConversion

ROOT = Path(__file__).parents[3]

CHILD = """
import sys
from pathlib import Path
from monitor.model import Arrival, Reading, Scan
from monitor.store.opening import open_store

store = open_store(Path(sys.argv[1]))
writer = store.start_writer(lambda committed: print(committed.row, flush=True), commit_every_s=0.0)
firing = (store.open_firing or writer.begin_firing(1764000000.0, "k", "")).id
number = store._start.newest_row
while True:  # a minute of the record clock a scan, so that blocks are sealed all the time
    clock = 1764000000.0 + 60.0 * number
    reading = Reading("n/t1", emf_volts=round(number * 1e-6, 9), cold_junction_c=25.0)
    number = writer.submit_scan(firing, Arrival(Scan("n", clock, (reading,), boot="b", seq=number), clock))
    if number % 50 == 0:
        writer.submit_snapshot(firing, clock, b"state of %d" % number)
        writer.flush()
"""


@dataclass(frozen=True)
class Change:
    """A change as the alarm room words it."""

    key: str
    change: StrEnum
    time: float
    who: str | None
    alarm: Alarm


class Word(StrEnum):
    """A change word."""

    SEEN = "seen"


ALARM = Alarm("fall", "fall", 1, True, False, False, 5.0, None, None, None, None, None, "front", "falling")
ENTRY = Entry("a1b2", 5.5, 5.0, EntryKind.STOKED, "side", "Ada")
FINDING = Finding(5.0, FindingKind.STOKE, FindingState.EVENT, "firebox", 4.0, 12.0, "Cel", "stoke", door="front")


def test_nothing_acknowledged_is_lost_when_killed(directory: Path) -> None:
    """Killed with SIGKILL at random moments, five times over: each acknowledged row is there, the file is whole."""
    chance = random.Random(4)
    acknowledged = 0
    for _ in range(5):
        child = subprocess.Popen(
            [sys.executable, "-c", CHILD, str(directory)], stdout=subprocess.PIPE, cwd=ROOT, env={**os.environ}
        )
        assert child.stdout is not None
        first = child.stdout.readline()
        time.sleep(chance.uniform(0.0, 0.25))
        child.send_signal(signal.SIGKILL)
        rest, _ = child.communicate()
        lines = (first + rest).decode().split("\n")[:-1]
        acknowledged = max(acknowledged, *(int(line) for line in lines))

        connection = sqlite3.connect(directory / FILE_NAME)
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        connection.close()
        reader = open_reader(directory)
        (firing,) = reader.firings()
        stored = list(reader.scans_in_arrival_order(firing.id))
        snapshot = reader.snapshot(firing.id)
        reader.close()
        assert [s.row for s in stored] == list(range(1, len(stored) + 1))
        assert [s.scan.seq for s in stored] == list(range(len(stored)))
        assert len(stored) >= acknowledged > 0
        if snapshot is not None:
            assert snapshot.state == b"state of %d" % snapshot.row
            assert snapshot.row <= len(stored)
    assert acknowledged > 50


def test_everything_submitted_comes_back(store: Store, make_arrival: Callable[..., Arrival]) -> None:
    """Firing, scans, findings, alarm changes and the newest state are read as they were given."""
    commits: list[Committed] = []
    writer = store.start_writer(commits.append)
    firing = writer.begin_firing(1_764_000_000.0, "demo-kiln", "[kiln]\n")
    rows = [writer.submit_scan(firing.id, make_arrival(number), late=number == 3) for number in range(5)]
    writer.submit_finding(firing.id, FINDING)
    writer.submit_entry(firing.id, ENTRY)
    writer.submit_alarm_change(firing.id, Change("fall", Word.SEEN, 6.0, "Ada", ALARM))
    writer.submit_snapshot(firing.id, 7.0, b"old")
    ticket = writer.submit_snapshot(firing.id, 8.0, b"new")
    assert writer.close() == 0

    reader = store.reader()
    assert rows == [1, 2, 3, 4, 5]
    assert reader.firings() == [firing]
    assert [s.scan for s in reader.scans_in_arrival_order(firing.id)] == [make_arrival(n).scan for n in range(5)]
    assert [s.late for s in reader.scans_in_arrival_order(firing.id)] == [False, False, False, True, False]
    assert reader.findings(firing.id) == [FINDING]
    assert reader.entries(firing.id) == [ENTRY]
    (line,) = reader.alarm_changes(firing.id)
    assert (line.key, line.change, line.time, line.who, line.alarm) == ("fall", "seen", 6.0, "Ada", ALARM)
    snapshot = reader.snapshot(firing.id)
    assert snapshot is not None
    assert (snapshot.row, snapshot.clock, snapshot.state) == (5, 8.0, b"new")
    assert commits[-1] == Committed(5, ticket)
    reader.close()


def test_what_is_told_again_after_a_restart_is_stored_once(store: Store) -> None:
    """Replaying from a snapshot tells the same findings and changes again: they are not doubled."""
    writer = store.start_writer(lambda _: None)
    firing = writer.begin_firing(1_764_000_000.0, "k", "").id
    for _ in range(2):
        writer.submit_finding(firing, FINDING)
        writer.submit_entry(firing, ENTRY)
        writer.submit_alarm_change(firing, Change("fall", Word.SEEN, 6.0, None, ALARM))
    assert writer.close() == 0

    reader = store.reader()
    assert len(reader.findings(firing)) == len(reader.entries(firing)) == len(reader.alarm_changes(firing)) == 1
    reader.close()


def test_submitting_never_waits_for_the_disk(store: Store, make_arrival: Callable[..., Arrival]) -> None:
    """While another connection holds the database locked, a hundred scans are taken in well under a second."""
    writer = store.start_writer(lambda _: None, commit_every_s=0.0)
    firing = writer.begin_firing(1_764_000_000.0, "k", "").id
    assert writer.flush(10.0)
    blocker = sqlite3.connect(store.directory / FILE_NAME, isolation_level=None)
    blocker.execute("BEGIN IMMEDIATE")
    begun = time.monotonic()

    for number in range(100):
        writer.submit_scan(firing, make_arrival(number))
    took_s = time.monotonic() - begun
    waiting = writer.status().waiting
    blocker.execute("ROLLBACK")
    blocker.close()

    assert took_s < 0.5
    assert waiting == 100
    assert writer.flush(10.0)
    assert writer.close() == 0


def test_two_firings_in_one_minute_have_two_ids(store: Store) -> None:
    """Ended and begun again within a minute, the second gets a number."""
    writer = store.start_writer(lambda _: None)
    first = writer.begin_firing(1_795_559_760.0, "k", "")
    ended = writer.end_firing(first.id, 1_795_559_770.0)
    second = writer.begin_firing(1_795_559_780.0, "k", "")
    assert writer.close() == 0

    reader = store.reader()
    assert (first.id, second.id) == ("20261124T2236Z", "20261124T2236Z-2")
    assert reader.firings() == [ended, second]
    reader.close()


def test_a_refused_scan_takes_no_row(store: Store, make_arrival: Callable[..., Arrival]) -> None:
    """An input named twice is refused where it is submitted; the next scan gets the row."""
    writer = store.start_writer(lambda _: None)
    firing = writer.begin_firing(1_764_000_000.0, "k", "").id
    twice = Scan("n", 1.0, (Reading("n/a", emf_volts=1.0), Reading("n/a", emf_volts=2.0)))

    with pytest.raises(ValueError, match="named twice"):
        writer.submit_scan(firing, Arrival(twice, 1.0))
    assert writer.submit_scan(firing, make_arrival(0)) == 1
    assert writer.close() == 0


def test_the_end_of_a_firing_seals_its_last_hour(
    store: Store, make_arrival: Callable[..., Arrival], conversion: SiteConversion
) -> None:
    """Soon after the end all scans are in blocks with heads."""
    writer = store.start_writer(lambda _: None)
    firing = writer.begin_firing(1_764_000_000.0, "k", "").id
    writer.use_conversion(firing, conversion)
    for number in range(30):
        writer.submit_scan(firing, make_arrival(number))
    writer.end_firing(firing, 1_764_000_030.0)
    end = time.monotonic() + 10
    while writer.status().sealed_blocks == 0 and time.monotonic() < end:
        time.sleep(0.005)
    assert writer.close() == 0

    connection = sqlite3.connect(store.directory / FILE_NAME)
    assert connection.execute("SELECT sum(scans), heads_key FROM block").fetchone() == (30, "straight")
    assert connection.execute("SELECT count(*) FROM tail").fetchone() == (0,)
    connection.close()


def test_closing_is_quick_and_counts_what_could_not_be_stored(
    store: Store, make_arrival: Callable[..., Arrival]
) -> None:
    """With the database locked by another, close gives up in time and says how many records are not on disk."""
    writer = store.start_writer(lambda _: None, commit_every_s=60.0)
    firing = writer.begin_firing(1_764_000_000.0, "k", "").id
    assert writer.flush(10.0)
    blocker = sqlite3.connect(store.directory / FILE_NAME, isolation_level=None)
    blocker.execute("BEGIN IMMEDIATE")
    for number in range(3):
        writer.submit_scan(firing, make_arrival(number))
    begun = time.monotonic()

    lost = writer.close(0.2)

    assert lost == 3
    assert time.monotonic() - begun < 1.0
    blocker.execute("ROLLBACK")
    blocker.close()
    writer._committer.join(10.0)
    reader = open_reader(store.directory)
    assert reader.scan_count(firing) in (0, 3)
    reader.close()


def test_a_store_opened_again_knows_where_it_was(directory: Path, make_arrival: Callable[..., Arrival]) -> None:
    """Rows go on after the highest ever given, sealed ones included."""
    for expected in (1, 2, 3):
        store = open_store(directory)
        writer = store.start_writer(lambda _: None)
        firing = store.open_firing or writer.begin_firing(1_764_000_000.0, "k", "")
        hours = 3600.0 * expected
        assert writer.submit_scan(firing.id, make_arrival(expected, clock=1_764_000_000.0 + hours)) == expected
        assert writer.close() == 0
        store.release()
