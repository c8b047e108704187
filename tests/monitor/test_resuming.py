"""Going on where the service stopped, and in a store that opened late: nothing lost, nothing doubled."""

from dataclasses import replace
from pathlib import Path

import pytest

from monitor import recorder as recorder_module
from monitor import resuming as module
from monitor.clock import host_seconds
from monitor.model import Arrival, EntryKind
from monitor.pipeline import Pipeline
from monitor.resuming import retry
from monitor.site_file import parse_site
from monitor.store.errors import StoreUnavailableError
from monitor.telling import Told
from tests.made_up import (
    BEGIN,
    SITE_TEXT,
    SetClock,
    at,
    at_work,
    deliver,
    falling_events,
    made_up_site,
    shed_1,
    tables,
    until,
)

pytestmark = pytest.mark.usefixtures("quick_commits")


async def test_a_restart_still_waits_for_what_a_node_can_send_again(tmp_path: Path) -> None:
    """A gap that was open when the host died is not taken as lost by the next start."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock) as (live, _):
        for i in (0, 1, 3, 4):
            deliver(live, clock, Arrival(shed_1(i, BEGIN + i, oldest=0), BEGIN + i))
        assert await live.recorder.kept()
    async with at_work(tmp_path, clock=clock) as (again, ways):
        again._tell_nodes()
        deliver(again, clock, Arrival(shed_1(2, BEGIN + 2, oldest=0), BEGIN + 6))
        await until(lambda: ways.alive[-1]["shed-1"] == ("b1", 4))
        lost = again.all_counts()["lost"]

    assert ways.alive[0] == {"shed-1": ("b1", 1)}
    assert lost == 0


@pytest.mark.parametrize("state_fits", [True, False])
async def test_a_restart_goes_on_as_if_nothing_had_been(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, state_fits: bool
) -> None:
    """Alarms, climbs and findings are those of a service that ran through, from the state kept or from all rows."""
    monkeypatch.setattr(module, "CATCH_UP_SCANS", 100)
    events, clock = list(falling_events()), SetClock()
    through = Pipeline(made_up_site(), tables())
    through.feed(events)
    async with at_work(tmp_path / "data", clock=clock) as (live, _):
        for i, arrival in enumerate(events):
            deliver(live, clock, arrival)
            if i == len(events) // 2:
                live.keep_state()
        if not state_fits:
            live.recorder.keep_state(clock.now(), b"of another version")
        assert await live.recorder.kept()
    async with at_work(tmp_path / "data", clock=clock) as (again, _):
        counts, alarms, climbs = again.counts, again.pipeline.alarms(), again.pipeline.climbs()
        findings, values = list(again.present.findings), again.present.all_values(0.0)
        shown, snapshot = again.shown, again.hub.present()

    assert alarms == through.alarms()
    assert climbs == through.climbs()
    assert climbs[1].climb_c_per_h is not None
    assert [f.kind for f in findings] == ["fall"]
    assert counts["states_made_anew"] == (not state_fits)
    assert 0 < counts["caught_up"] <= len(events)
    assert (counts["caught_up"] == len(events)) == (not state_fits)
    assert values[1].celsius == pytest.approx(900.0 - 4.0 * 9.0, abs=2.0)
    assert shown is not None
    assert shown.id == "20251124T1600Z"
    assert [a.key for a in snapshot.alarms] == ["fall"]


async def test_a_restart_keeps_what_was_acknowledged(tmp_path: Path) -> None:
    """Nobody has to see the same alarm twice."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock) as (live, _):
        for arrival in falling_events():
            deliver(live, clock, arrival)
        await live.acknowledge("fall", "Rui")
    async with at_work(tmp_path, clock=clock) as (again, _):
        alarms = again.present.alarm_lines(again.pipeline.alarms(), clock.now())

    assert [(a.key, a.acked, a.acked_by) for a in alarms] == [("fall", True, "Rui")]


@pytest.mark.parametrize("state_fits", [True, False])
async def test_a_restart_knows_what_was_told(tmp_path: Path, state_fits: bool) -> None:
    """Closed up before it, closed up after it: by the state kept, or by all scans and entries again."""
    clock, events = SetClock(), list(falling_events())
    async with at_work(tmp_path, clock=clock) as (live, _):
        for arrival in events[:-40]:
            deliver(live, clock, arrival)
        await live.enter(Told("a1", EntryKind.STOKED, "side"))
        await live.enter(Told("a2", EntryKind.CLOSED_UP))
        closed = live.pipeline.closed_up()
        for arrival in events[-40:]:
            deliver(live, clock, arrival)
        if not state_fits:
            live.recorder.keep_state(clock.now(), b"of another version")
        assert await live.recorder.kept()
        findings = live.recorder.stored_findings()
    async with at_work(tmp_path, clock=clock) as (again, _):
        snapshot, found = again.hub.present(), again.recorder.stored_findings()
        repeated = await again.enter(Told("a2", EntryKind.CLOSED_UP))
        entries = again.recorder.stored_entries()

    assert ([e.id for e in snapshot.entries], snapshot.closed_up) == (["a1", "a2"], True)
    assert again.pipeline.closed_up() == closed
    assert repeated is not None
    assert [e.id for e in entries] == ["a1", "a2"]
    assert found == findings


async def test_after_a_wrong_letter_was_put_right_all_is_judged_again(tmp_path: Path) -> None:
    """What is stored is emf: the restart converts and judges the whole firing by the new letter."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock) as (live, _):
        for i in range(20):
            deliver(live, clock, at(i))
        live.keep_state()
        assert await live.recorder.kept()
    right = parse_site(SITE_TEXT.replace('type = "K"', 'type = "N"'), "kiln.toml")
    async with at_work(tmp_path, site=right, clock=clock) as (again, _):
        celsius = again.present.all_values(0.0)[0].celsius

    assert again.counts["states_made_anew"] == 1
    assert again.counts["caught_up"] == 20
    # IEC 60584-1 prints 20,613 microvolts at 600 degC for type N and 39 a degree there (from memory).
    assert celsius == pytest.approx(600.8, abs=0.1)


async def test_findings_known_but_not_stored_are_found_again(tmp_path: Path) -> None:
    """The scans were committed, the finding was not: the restart finds it, shows it once and stores it."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock) as (live, _):
        for arrival in falling_events():
            clock.at = arrival.clock
            outcome = live.pipeline.feed([arrival])
            live.recorder.record(replace(outcome, findings=[], alarm_changes=[]))
        assert await live.recorder.kept()
    async with at_work(tmp_path, clock=clock) as (again, _):
        shown = [f.kind for f in again.present.findings]
        assert await again.recorder.kept()
        stored = [f.kind for f in again.recorder.stored_findings()]
    async with at_work(tmp_path, clock=clock) as (third, _):
        shown_later = [f.kind for f in third.present.findings]

    assert shown == stored == shown_later == ["fall"]


async def test_a_store_that_opens_late_goes_on_in_its_open_firing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What came while the disk was full follows upon what is stored: alarms, climbs and rows as if it never was."""
    events, clock = list(falling_events()), SetClock()
    half = len(events) // 2
    through = Pipeline(made_up_site(), tables())
    through.feed(events)
    async with at_work(tmp_path, clock=clock) as (live, _):
        for arrival in events[:half]:
            deliver(live, clock, arrival)
        assert await live.recorder.kept()

    def full(directory: Path) -> None:
        raise StoreUnavailableError(f"{directory}: the disk is full")

    with monkeypatch.context() as patched:
        patched.setattr(recorder_module, "open_store", full)
        patched.setattr(recorder_module, "LEAST_FREE_BYTES", 2**62)
        opening = at_work(tmp_path, clock=clock)
        again, ways = await opening.__aenter__()
        for arrival in events[half:]:
            deliver(again, clock, arrival)
        retry(again, "20251124T170000Z")
        told_while_full = list(ways.alive)
    retry(again, "20251124T170001Z")
    assert await again.recorder.kept()
    await until(lambda: again._kept.known.get("shed-1") == through.contiguous("shed-1"))
    stored, firing = list(again.recorder.scans_after(0)), again.shown
    alarms, climbs, findings = again.pipeline.alarms(), again.pipeline.climbs(), again.recorder.stored_findings()
    await opening.__aexit__(None, None, None)

    assert told_while_full == []
    assert firing is not None
    assert firing.id == "20251124T1600Z"
    assert [s.scan.time for s in stored] == [event.scan.time for event in events]
    assert alarms == through.alarms()
    assert climbs == through.climbs()
    assert [f.kind for f in findings] == ["fall"]


async def test_after_a_long_stop_the_numbers_are_as_old_as_they_are(tmp_path: Path) -> None:
    """A service that was off for an hour does not show the last number of then as one of now."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock) as (live, _):
        for i in range(3):
            deliver(live, clock, at(i))
        assert await live.recorder.kept()
    later = SetClock()
    later.at = at(2).clock + 3600.0
    async with at_work(tmp_path, clock=later) as (live, _):
        ages = [value.age_s for value in live.present.all_values(host_seconds()) if value.celsius is not None]

    assert ages
    assert all(age is not None and 3600.0 <= age < 3660.0 for age in ages)
