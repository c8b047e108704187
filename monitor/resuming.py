"""Going on where the service stopped: from the state that was kept, through the scans stored since.

Also for a store that had no room when the service started and opens later: what was held meanwhile is judged anew after
what is stored, as if it came then.
"""

from dataclasses import replace
from math import inf

from monitor.clock import host_seconds
from monitor.live import Live
from monitor.model import Arrival, Entry, Event, Finding
from monitor.pipeline import Outcome
from monitor.publish.messages import Frame
from monitor.recorder import Recorder
from monitor.watch import LinkState
from monitor.wire.recording import by_clock

CATCH_UP_SCANS = 1000


def resume(live: Live, recorder: Recorder) -> None:
    """Let `live` go on in the open firing of `recorder`, if one is open."""
    live.recorder = recorder
    if recorder.firing is None:
        return
    live.show(recorder.firing)
    known = recorder.stored_findings()
    for finding in known:
        live.present.note(finding)
    entries = recorder.stored_entries()
    live.present.note_entries(entries)
    kept = recorder.saved_state()
    if kept is None or not _take_up(live, kept.state):
        kept = None
    since = -inf if kept is None else kept.clock
    told = [entry for entry in entries if entry.clock > since]
    _catch_up(live, 0 if kept is None else kept.row, told, frozenset(known))
    live.know_as_kept()


def retry(live: Live, stamp: str) -> None:
    """Try again to open a store that had no room at the start, and see to what was held until then."""
    if row := live.recorder.retry(stamp, lambda held: _judged_again(live, held)):
        live.settle(row, live.pipeline.node_counts())
        live.keep_state()


def _take_up(live: Live, state: bytes) -> bool:
    """Go on from a kept state; of another site or version it is of no use, and what is stored tells the same."""
    try:
        live.pipeline.restore(state)
    except ValueError:
        live.counts["states_made_anew"] += 1
        live.renew_pipeline()
        return False
    return True


def _catch_up(live: Live, row: int, told: list[Entry], known: frozenset[Finding]) -> None:
    events: list[Event] = []
    arrivals = (Arrival(stored.scan, stored.clock) for stored in live.recorder.scans_after(row))
    for event in by_clock(arrivals, told):
        events.append(event)
        if len(events) >= CATCH_UP_SCANS:
            _feed_again(live, events, known)
            events = []
    _feed_again(live, events, known)


def _feed_again(live: Live, events: list[Event], known: frozenset[Finding]) -> None:
    outcome = live.pipeline.feed(events)
    news = [finding for finding in outcome.findings if finding not in known]
    live.present.take(replace(outcome, findings=news), live.pipeline.climbs(), host_seconds(), clock=live.clock.now())
    live.recorder.record(replace(outcome, accepted=[], entries=()))
    live.counts["caught_up"] += len(events)


def _judged_again(live: Live, held: list[Outcome]) -> list[Outcome]:
    """Go on in the open firing of a store that opened late, and judge anew what was held meanwhile."""
    live.renew_pipeline()
    live.present.forget_fire()
    resume(live, live.recorder)
    again = [_judged_after(live, outcome) for outcome in held]
    now = live.clock.now()
    live.hub.publish(Frame("", 0, now, firing=live.shown, alarms=live.alarm_lines()))
    return again


def _judged_after(live: Live, held: Outcome) -> Outcome:
    events = by_clock([a.arrival for a in held.accepted], held.entries)
    again = live.judged(list(events), LinkState())
    if again is None:
        return held
    live.present.take(again, live.pipeline.climbs(), host_seconds(), clock=live.clock.now())
    return replace(again, alarm_changes=held.alarm_changes + again.alarm_changes)
