"""The service's hand on the store: firings begin and end, promises wait for the disk, a full disk is survived."""

import asyncio
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import numpy as np
import pytest

from monitor import recorder as module
from monitor.alarms.records import AlarmChange
from monitor.alarms.state import Reason
from monitor.exits import NOT_AVAILABLE, CommandError
from monitor.model import Alarm, Arrival, Finding, FindingKind, FindingState, Temperatures
from monitor.pipeline import Accepted, Outcome
from monitor.recorder import Recorder
from monitor.store.connection import FILE_NAME
from monitor.store.errors import StoreInUseError, StoreUnavailableError
from monitor.store.opening import Store, open_reader, open_store
from monitor.store.records import Committed
from tests.made_up import BEGIN, SITE_TEXT, made_up_site, make_recorder, shed_1

pytestmark = pytest.mark.usefixtures("quick_commits")

NOTHING = Temperatures(np.zeros(0), np.zeros((0, 3)), np.zeros((0, 3), np.uint8))
FALL = Finding(BEGIN + 9, FindingKind.FALL, FindingState.BEGIN, "middle", BEGIN, 12.0, "Cel", "middle has fallen.")
ALARM = Alarm("fall", "temperature-falling", 2, True, False, False, BEGIN, None, None, None, None, None, "middle", "t")
BEGAN = AlarmChange("fall", Reason.BEGAN, BEGIN + 9, None, ALARM)


def scans(first: int, last: int, **more: bool) -> Outcome:
    """Return what follows from scans of shed-1 and no more."""
    arrivals = [Arrival(shed_1(i, BEGIN + i), BEGIN + i + 0.1) for i in range(first, last)]
    return Outcome([Accepted(a, is_late=more.get("late", False)) for a in arrivals], NOTHING, [], [], 0)


@contextmanager
def opened(directory: Path) -> Iterator[Recorder]:
    """Open a recorder on a directory and close it."""
    recorder = make_recorder(directory, made_up_site())
    recorder.open("20251124T160000Z")
    try:
        yield recorder
    finally:
        recorder.close()


@contextmanager
def blocked(directory: Path) -> Iterator[None]:
    """Hold the database, so that nothing can be committed."""
    holder = sqlite3.connect(directory / FILE_NAME, isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    try:
        yield
    finally:
        holder.execute("ROLLBACK")
        holder.close()


def stored_seqs(directory: Path, firing: str) -> list[int | None]:
    """Return the numbers of all stored scans in order of arrival."""
    reader = open_reader(directory)
    try:
        return [stored.scan.seq for stored in reader.scans_in_arrival_order(firing)]
    finally:
        reader.close()


async def test_the_first_scan_begins_a_firing(tmp_path: Path) -> None:
    """Its id is the scan's time in UTC; site text and kiln are kept with it."""
    with opened(tmp_path) as recorder:
        before = recorder.firing
        row = recorder.record(scans(0, 3))
        assert await recorder.kept()
        firing = recorder.firing

    assert before is None
    assert firing is not None
    assert (firing.id, firing.begun, firing.ended) == ("20251124T1600Z", BEGIN, None)
    assert (firing.kiln, firing.site) == ("made-up-kiln", SITE_TEXT)
    assert row == 3
    assert stored_seqs(tmp_path, firing.id) == [0, 1, 2]


async def test_after_an_end_the_next_scan_begins_another_firing(tmp_path: Path) -> None:
    """What comes after the end is no part of what ended."""
    with opened(tmp_path) as recorder:
        recorder.record(scans(0, 2))
        ended = recorder.end_firing(BEGIN + 100)
        recorder.record(scans(200, 202))
        assert await recorder.kept()
        second = recorder.firing

    assert ended is not None
    assert ended.ended == BEGIN + 100
    assert second is not None
    assert second.begun == BEGIN + 200
    assert stored_seqs(tmp_path, ended.id) == [0, 1]
    assert stored_seqs(tmp_path, second.id) == [200, 201]


async def test_a_restart_goes_on_in_the_open_firing(tmp_path: Path) -> None:
    """The same firing, with its findings, its state, and the scans after that state."""
    with opened(tmp_path) as recorder:
        recorder.record(scans(0, 3))
        recorder.keep_state(BEGIN + 3, b"state")
        recorder.record(Outcome(scans(3, 5).accepted, NOTHING, [FALL], [BEGAN], 1))
        assert await recorder.kept()
    with opened(tmp_path) as again:
        state = again.saved_state()
        assert again.firing is not None
        assert again.firing.id == "20251124T1600Z"
        assert state is not None
        assert (state.row, state.state) == (3, b"state")
        assert [stored.scan.seq for stored in again.scans_after(state.row)] == [3, 4]
        assert again.stored_findings() == [FALL]
        assert again.newest_clock == BEGIN + 4.1
        assert again.record(scans(5, 6)) == 6


async def test_kept_waits_for_the_commit(tmp_path: Path) -> None:
    """A promise is not kept while the disk takes nothing, and is once it does."""
    with opened(tmp_path) as recorder:
        recorder.record(scans(0, 1))
        assert await recorder.kept()
        with blocked(tmp_path):
            recorder.record(scans(1, 2))
            waiting = asyncio.create_task(recorder.kept())
            await asyncio.sleep(0.1)
            was_done = waiting.done()
        kept = await waiting

    assert not was_done
    assert kept
    assert stored_seqs(tmp_path, "20251124T1600Z") == [0, 1]


async def test_a_commit_of_less_than_was_handed_over_keeps_no_promise(tmp_path: Path) -> None:
    """All that was handed over must be on disk: a commit that was on its way already does not count."""
    with opened(tmp_path) as recorder:
        recorder.record(scans(0, 1))
        assert await recorder.kept()
        with blocked(tmp_path):
            row = recorder.record(scans(1, 3))
            waiting = asyncio.create_task(recorder.kept())
            await asyncio.sleep(0)
            recorder._committed(Committed(row - 1, recorder._writer.newest_ticket - 1))
            await asyncio.sleep(0)
            was_done = waiting.done()
        kept = await waiting

    assert not was_done
    assert kept


async def test_the_end_of_a_firing_is_kept_like_everything_else(tmp_path: Path) -> None:
    """Who ends a firing is answered once the end itself is on disk, and at once where nothing waits."""
    with opened(tmp_path) as recorder:
        recorder.record(scans(0, 1))
        assert await recorder.kept()
        assert await recorder.kept()
        with blocked(tmp_path):
            recorder.end_firing(BEGIN + 10.0)
            waiting = asyncio.create_task(recorder.kept())
            await asyncio.sleep(0.1)
            was_done = waiting.done()
        kept = await waiting

    assert not was_done
    assert kept


async def test_kept_gives_up_after_a_while(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody who presses a button waits for ever for a disk that does not answer."""
    monkeypatch.setattr(module, "COMMIT_LIMIT_S", 0.05)
    with opened(tmp_path) as recorder:
        recorder.record(scans(0, 1))
        assert await recorder.kept()
        with blocked(tmp_path):
            recorder.record(scans(1, 2))
            kept = await recorder.kept()

    assert not kept


class FullDisk:
    """A disk on which the store does not open until `is_full` is taken away."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.is_full = True
        monkeypatch.setattr(module, "open_store", self.open)
        monkeypatch.setattr(module, "LEAST_FREE_BYTES", 2**62)  # however much is free, it is too little

    def open(self, directory: Path) -> Store:
        """Open the store if there is room."""
        if self.is_full:
            raise StoreUnavailableError(f"{directory}: the disk is full; free some space")
        return open_store(directory)


async def test_a_full_disk_at_the_start_is_waited_out_and_nothing_is_lost(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Scans, findings and alarms wait in memory and are stored once there is room."""
    disk = FullDisk(monkeypatch)
    with opened(tmp_path) as recorder:
        error = recorder.error
        row = recorder.record(scans(0, 3))
        recorder.record(Outcome([], NOTHING, [FALL], [BEGAN], 1))
        recorder.keep_state(BEGIN, b"state")
        kept = await recorder.kept()
        recorder.retry("20251124T160100Z")
        still = recorder.error
        disk.is_full = False
        recorder.retry("20251124T160200Z")
        recorder.record(scans(3, 4))
        assert await recorder.kept()
        after, firing, findings = recorder.error, recorder.firing, recorder.stored_findings()
        journal = await recorder.read(lambda reader: reader.alarm_changes("20251124T1600Z"))

    assert error == f"{tmp_path}: the disk is full; free some space; going on from memory"
    assert (row, kept, still, after) == (0, False, error, None)
    assert firing is not None
    assert stored_seqs(tmp_path, firing.id) == [0, 1, 2, 3]
    assert findings == [FALL]
    assert [line.key for line in journal] == ["fall"]


async def test_what_is_held_is_bounded_and_what_goes_is_counted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The oldest go first; outcomes of nothing, one a second, take no room."""
    disk = FullDisk(monkeypatch)
    monkeypatch.setattr(module, "HELD_OUTCOMES", 3)
    with opened(tmp_path) as recorder:
        for i in range(5):
            recorder.record(scans(i, i + 1))
            recorder.record(scans(0, 0))
        counts = recorder.counts()
        disk.is_full = False
        recorder.retry("20251124T160200Z")
        assert await recorder.kept()
        later = recorder.counts()

    assert counts == {"held_dropped": 2}
    assert later["held_dropped"] == 2
    assert (later["dropped_scans"], later["failed_commits"]) == (0, 0)
    assert stored_seqs(tmp_path, "20251124T1600Z") == [2, 3, 4]


async def test_while_nothing_can_be_kept_firings_neither_begin_nor_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever asks gets None, reading says why, and what is still held at the end is counted as lost."""
    FullDisk(monkeypatch)
    recorder = make_recorder(tmp_path, made_up_site())
    recorder.open("20251124T160000Z")
    recorder.record(scans(0, 2))

    assert recorder.begin_firing(BEGIN) is None
    assert recorder.end_firing(BEGIN) is None
    assert recorder.saved_state() is None
    assert recorder.stored_findings() == []
    assert list(recorder.scans_after(0)) == []
    with pytest.raises(StoreUnavailableError, match="going on from memory"):
        await recorder.read(lambda reader: reader.firings())
    assert recorder.close() == 1


async def test_a_store_whose_reader_does_not_open_is_tried_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A try that fails half way lets go of the directory, or the next would find it in use by ourselves."""
    monkeypatch.setattr(module, "LEAST_FREE_BYTES", 2**62)

    def no_reader(self: Store) -> None:
        raise StoreUnavailableError("no room for the index of the write-ahead log")

    with monkeypatch.context() as patched:
        patched.setattr(Store, "reader", no_reader)
        recorder = make_recorder(tmp_path, made_up_site())
        recorder.open("20251124T160000Z")
        error = recorder.error
    recorder.retry("20251124T160100Z")
    try:
        assert error == "no room for the index of the write-ahead log; going on from memory"
        assert recorder.error is None
    finally:
        recorder.close()


async def test_a_damaged_database_is_set_aside(tmp_path: Path) -> None:
    """The firing goes on in a new one; the damaged one stays for whoever can read it."""
    (tmp_path / FILE_NAME).write_bytes(b"no database at all" * 1000)
    with opened(tmp_path) as recorder:
        recorder.record(scans(0, 1))
        assert await recorder.kept()
        aside, error = recorder.set_aside_at, recorder.error

    assert aside == tmp_path / "damaged-20251124T160000Z"
    assert (aside / FILE_NAME).read_bytes().startswith(b"no database")
    assert error is None
    assert stored_seqs(tmp_path, "20251124T1600Z") == [0]


async def test_a_data_directory_in_use_is_refused_with_code_4(tmp_path: Path) -> None:
    """The message names the directory and the process that has it."""
    with opened(tmp_path):
        second = make_recorder(tmp_path, made_up_site())
        with pytest.raises(CommandError, match=r"is in use by process \d+; stop that one") as caught:
            second.open("20251124T160000Z")
        second.close()

    assert caught.value.code == NOT_AVAILABLE == 4
    assert isinstance(caught.value.__cause__, StoreInUseError)


async def test_a_data_directory_that_cannot_be_made_is_refused_with_code_4(tmp_path: Path) -> None:
    """A file in the place of the directory is no full disk: nothing is waited for."""
    (tmp_path / "data").write_text("a file")
    recorder = make_recorder(tmp_path / "data", made_up_site())
    with pytest.raises(CommandError, match="cannot be written: File exists; choose another") as caught:
        recorder.open("20251124T160000Z")
    recorder.close()

    assert caught.value.code == 4


async def test_before_opening_the_error_says_so(tmp_path: Path) -> None:
    """Nothing is pretended before the store is open, and a retry opens nothing by itself."""
    recorder = make_recorder(tmp_path, made_up_site())
    recorder.retry("20251124T160000Z")

    assert recorder.error == "the store is not open"
    recorder.close()


async def test_between_firings_alarm_changes_go_to_no_firing(tmp_path: Path) -> None:
    """A node that is lost before anything burns is journalled under no firing."""
    with opened(tmp_path) as recorder:
        recorder.record(Outcome([], NOTHING, [], [BEGAN], 0))
        assert await recorder.kept()
        journal = await recorder.read(lambda reader: reader.alarm_changes(""))

    assert [line.key for line in journal] == ["fall"]


async def test_late_scans_are_stored_as_late(tmp_path: Path) -> None:
    """A scan that was not judged says so when it is read."""
    with opened(tmp_path) as recorder:
        recorder.record(scans(0, 1, late=True))
        assert await recorder.kept()
        late = [stored.late for stored in recorder.scans_after(0)]

    assert late == [True]


async def test_a_commit_after_the_loop_ended_is_no_fault(tmp_path: Path) -> None:
    """The writer's thread may outlive the loop; nobody waits any more."""
    recorder = make_recorder(tmp_path, made_up_site())
    recorder.open("20251124T160000Z")
    recorder._loop = asyncio.new_event_loop()
    recorder._loop.close()
    recorder.record(scans(0, 1))
    with suppress(asyncio.CancelledError):
        await asyncio.sleep(0.05)
    writer = recorder._writer
    recorder.close()

    assert writer is not None
    assert writer.status().failed_commits == 0
    assert stored_seqs(tmp_path, "20251124T1600Z") == [0]
