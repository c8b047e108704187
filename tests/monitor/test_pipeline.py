"""The chain from scans to alarms: the same for every way of cutting, and as if it had never stopped."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from monitor.alarms.records import AlarmChange
from monitor.alarms.state import Reason
from monitor.model import (
    Arrival,
    Entry,
    EntryKind,
    Event,
    Finding,
    FindingKind,
    FindingState,
    Reading,
    Scan,
    SensorFault,
    Status,
    Tick,
)
from monitor.pipeline import Accepted, LinkState, Pipeline, conversions_of
from monitor.site_file import parse_site
from monitor.thermocouple.convert import Conversion
from tests.made_up import BEGIN, SITE_TEXT, falling_events, made_up_site, shed_1, shed_2, tables, uneven_events

SITE = made_up_site()
TABLE = tables()
EVENTS = uneven_events()
cuts = st.lists(st.integers(0, len(EVENTS)), max_size=12).map(sorted)


@dataclass
class Followed:
    """All that followed from some feeds."""

    accepted: list[Accepted] = field(default_factory=list)
    celsius: list[np.ndarray] = field(default_factory=list)
    status: list[np.ndarray] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    changes: list[AlarmChange] = field(default_factory=list)
    slots: int = 0

    def feed(self, pipeline: Pipeline, events: Sequence[Arrival | Tick]) -> None:
        """Feed and keep."""
        outcome = pipeline.feed(events)
        self.accepted += outcome.accepted
        self.celsius.append(outcome.temperatures.celsius)
        self.status.append(outcome.temperatures.status)
        self.findings += outcome.findings
        self.changes += outcome.alarm_changes
        self.slots += outcome.slots

    def same_as(self, other: "Followed") -> bool:
        """Say whether all is equal, numbers to the bit."""
        assert (self.accepted, self.slots) == (other.accepted, other.slots)
        assert np.concatenate(self.celsius).tobytes() == np.concatenate(other.celsius).tobytes()
        assert np.concatenate(self.status).tobytes() == np.concatenate(other.status).tobytes()
        assert self.findings == other.findings
        assert self.changes == other.changes
        return True


def whole() -> tuple[Pipeline, Followed]:
    """Feed everything at once."""
    pipeline, followed = Pipeline(SITE, TABLE), Followed()
    followed.feed(pipeline, EVENTS)
    return pipeline, followed


AT_ONCE, AT_ONCE_FOLLOWED = whole()


@settings(max_examples=8, deadline=None)
@given(cuts)
def test_nothing_depends_on_how_events_are_cut_into_feeds(at: list[int]) -> None:
    """Any cutting gives the same scans, temperatures, findings, alarm changes, counts and climbs."""
    pipeline, followed = Pipeline(SITE, TABLE), Followed()
    for begin, end in pairwise([0, *at, len(EVENTS)]):
        followed.feed(pipeline, EVENTS[begin:end])

    assert followed.same_as(AT_ONCE_FOLLOWED)
    assert pipeline.alarms() == AT_ONCE.alarms()
    assert pipeline.node_counts() == AT_ONCE.node_counts()
    assert pipeline.climbs() == AT_ONCE.climbs()


def test_one_event_a_feed_gives_the_same_as_all_at_once() -> None:
    """The finest cutting, which is how a live run feeds."""
    pipeline, followed = Pipeline(SITE, TABLE), Followed()
    for event in EVENTS:
        followed.feed(pipeline, [event])

    assert followed.same_as(AT_ONCE_FOLLOWED)
    assert pipeline.save() == AT_ONCE.save()


@settings(max_examples=8, deadline=None)
@given(st.integers(0, len(EVENTS)))
def test_a_saved_pipeline_goes_on_as_if_it_had_never_stopped(at: int) -> None:
    """Saving and restoring at any event changes nothing that follows."""
    first, followed = Pipeline(SITE, TABLE), Followed()
    followed.feed(first, EVENTS[:at])
    second = Pipeline(SITE, TABLE)
    second.restore(first.save())
    followed.feed(second, EVENTS[at:])

    assert followed.same_as(AT_ONCE_FOLLOWED)
    assert second.alarms() == AT_ONCE.alarms()
    assert second.save() == AT_ONCE.save()


def test_the_uneven_recording_is_told_as_it_went() -> None:
    """The made-up mishaps are all in the counts and findings: the test above compares something."""
    counts = AT_ONCE.node_counts()["shed-1"]
    told = [(f.sensor, f.fault, f.state) for f in AT_ONCE_FOLLOWED.findings]

    assert (counts.late, counts.repeats, counts.missed - counts.recovered) == (1, 1, 1)
    assert ("firebox", SensorFault.OPEN, FindingState.BEGIN) in told
    assert ("middle", SensorFault.MISSING, FindingState.BEGIN) in told
    assert ("middle", SensorFault.MISSING, FindingState.END) in told
    assert {c.key for c in AT_ONCE_FOLLOWED.changes} == {"sensor:firebox", "sensor:middle", "sensor:back"}


def test_a_late_scan_is_accepted_but_not_judged() -> None:
    """A scan that comes 30 s late is there with its temperature, marked late, and changes no slot."""
    late = next(a for a in AT_ONCE_FOLLOWED.accepted if a.is_late)
    without = [e for e in EVENTS if not (isinstance(e, Arrival) and e.scan == late.arrival.scan)]
    followed = Followed()
    followed.feed(Pipeline(SITE, TABLE), without)

    assert late.arrival.scan.seq == 40
    assert len(AT_ONCE_FOLLOWED.accepted) == len(followed.accepted) + 1
    assert followed.findings == AT_ONCE_FOLLOWED.findings


def test_a_wild_late_scan_changes_nothing_that_was_judged() -> None:
    """Whatever a late scan says, no finding comes of it."""
    pipeline = Pipeline(SITE, TABLE)
    pipeline.feed([Arrival(shed_1(i, BEGIN + i), BEGIN + i) for i in range(100) if i != 50])
    outcome = pipeline.feed([Arrival(shed_1(50, BEGIN + 50, middle_c=5.0, is_open=True), BEGIN + 100)])

    assert [a.is_late for a in outcome.accepted] == [True]
    assert outcome.temperatures.celsius[0, 1] == 5.0
    assert outcome.temperatures.status[0, 0] == Status.OPEN
    assert (outcome.findings, outcome.alarm_changes) == ([], [])


def test_a_repeat_is_dropped_and_counted() -> None:
    """The same scan again is not accepted again."""
    pipeline = Pipeline(SITE, TABLE)
    scan = Arrival(shed_1(0, BEGIN), BEGIN)
    outcome = pipeline.feed([scan, scan])

    assert len(outcome.accepted) == 1
    assert outcome.temperatures.celsius.shape == (1, 3)
    assert pipeline.node_counts()["shed-1"].repeats == 1


def test_scans_become_temperatures_by_the_sensor_s_own_letter() -> None:
    """Type K at 20.644 mV is 500 degC (IEC 60584-1 prints whole microvolts); what is not sent is absent."""
    outcome = Pipeline(SITE, TABLE).feed([Arrival(shed_1(0, BEGIN, middle_c=900.0), BEGIN)])

    assert outcome.temperatures.celsius[0, 0] == pytest.approx(500.0, abs=0.02)
    assert outcome.temperatures.celsius[0, 1] == 900.0
    assert np.isnan(outcome.temperatures.celsius[0, 2])
    assert outcome.temperatures.status.tolist() == [[Status.OK, Status.OK, Status.ABSENT]]


def test_an_oxygen_probe_delivers_its_own_temperature() -> None:
    """A zirconia probe has no letter of IEC 60584-1 and no cold junction."""
    site = parse_site(SITE_TEXT.replace('type = "K"', 'type = "zirconia"'), "kiln.toml")

    assert conversions_of(site)[0] == Conversion(None)


def test_a_fall_raises_the_alarm_of_that_name() -> None:
    """Two zones that fall 4 degC a minute raise `fall`, by the finding, at the finding's own time."""
    followed, pipeline = Followed(), Pipeline(SITE, TABLE)
    followed.feed(pipeline, list(falling_events()))
    (finding,) = followed.findings
    (change,) = followed.changes
    (alarm,) = pipeline.alarms()

    assert (finding.kind, finding.state) == (FindingKind.FALL, FindingState.BEGIN)
    assert (change.key, change.change, change.time) == ("fall", Reason.BEGAN, finding.time)
    assert (alarm.key, alarm.active, alarm.text) == ("fall", True, finding.text)
    # 4 degC a minute from minute 10 on pass the 10 degC of the definition at 12.5 min, to be known within 10 min.
    assert BEGIN + 12.5 * 60 < finding.time < BEGIN + 22.5 * 60


def test_no_data_holds_an_alarm_and_never_clears_it() -> None:
    """A node that falls silent in a fall leaves the alarm active, told as not judged any more."""
    pipeline = Pipeline(SITE, TABLE)
    pipeline.feed(list(falling_events()))
    silence = {"shed-1": 600.0, "shed-2": 600.0}
    changes = pipeline.feed([Tick(BEGIN + 1140 + 600)], LinkState(silence)).alarm_changes
    fall = next(a for a in pipeline.alarms() if a.key == "fall")

    assert ("fall", Reason.NO_DATA) in [(c.key, c.change) for c in changes]
    assert (fall.active, fall.no_data) == (True, True)


def test_a_silent_node_is_an_alarm_by_watching_the_links() -> None:
    """Between slots the links are judged: 119 s of silence are none, 120 s are (the table's delay)."""
    pipeline = Pipeline(SITE, TABLE)
    pipeline.feed([Arrival(shed_1(0, BEGIN), BEGIN)])

    assert pipeline.watch(LinkState({"shed-1": 119.0})) == []
    (change,) = pipeline.watch(LinkState({"shed-1": 120.0}))
    assert (change.key, change.change) == ("node:shed-1", Reason.BEGAN)
    (change,) = pipeline.watch(LinkState({"shed-1": 0.0}))
    assert change.change is Reason.ENDED_UNSEEN


def test_a_store_that_fails_is_an_alarm_with_its_reason() -> None:
    """The reason is in the alarm's words."""
    pipeline = Pipeline(SITE, TABLE)
    (change,) = pipeline.watch(LinkState(store_error="the disk is full"))

    assert (change.key, change.alarm.text) == ("store", "Scans cannot be stored: the disk is full")


def test_a_missing_input_alarms_although_the_node_s_clock_is_ahead() -> None:
    """The finding's record time then lies beyond the host's clock; the alarm comes all the same."""
    pipeline, ahead_s = Pipeline(SITE, TABLE), 40.0
    changes: list[AlarmChange] = []
    for i in range(120):
        scan = shed_1(i, BEGIN + i + ahead_s)
        if i >= 30:
            scan = replace(scan, readings=scan.readings[:1])
        changes += pipeline.feed([Arrival(scan, BEGIN + i)]).alarm_changes

    assert [(c.key, c.change) for c in changes] == [("sensor:middle", Reason.BEGAN)]


def test_acknowledging_names_who_and_is_saved() -> None:
    """An acknowledgement survives saving; an alarm that is not there cannot be acknowledged."""
    pipeline = Pipeline(SITE, TABLE)
    pipeline.watch(LinkState(store_error="full"))
    answer = pipeline.acknowledge("store", "Ines")
    again = Pipeline(SITE, TABLE)
    again.restore(pipeline.save())
    nothing = pipeline.acknowledge("fall", "Ines")

    assert answer is not None
    assert answer.reason is Reason.ACKNOWLEDGED
    assert [(a.acked, a.acked_by) for a in again.alarms()] == [(True, "Ines")]
    assert nothing is not None
    assert nothing.reason is Reason.NO_SUCH_ALARM


def test_without_a_table_nobody_is_alarmed_but_all_is_found() -> None:
    """A replay finds the same and has no alarms to acknowledge, watch or list."""
    pipeline, followed = Pipeline(SITE, None), Followed()
    followed.feed(pipeline, EVENTS)
    restored = Pipeline(SITE, None)
    restored.restore(pipeline.save())

    assert sorted(followed.findings, key=repr) == sorted(AT_ONCE_FOLLOWED.findings, key=repr)
    assert followed.changes == []
    assert (pipeline.alarms(), pipeline.acknowledge("fall", "Ines")) == ([], None)
    assert pipeline.watch(LinkState({"shed-1": 1e6})) == []
    assert restored.save() == pipeline.save()


def test_a_new_firing_forgets_the_fire_but_not_who_sent_what() -> None:
    """Alarms and judgements begin anew; a scan that came in the last firing is still a repeat."""
    pipeline = Pipeline(SITE, TABLE)
    events = list(falling_events())
    pipeline.feed(events)
    pipeline.begin_firing()
    outcome = pipeline.feed(events[-2:])

    assert pipeline.alarms() == []
    assert outcome.accepted == []
    assert pipeline.contiguous("shed-1") == ("b1", len(events) // 2 - 1)


def test_inputs_and_conversions_may_be_a_recording_s_own() -> None:
    """A wide CSV brings finished temperatures under its own names."""
    inputs = {"csv/firebox": 0, "csv/middle": 1, "csv/back": 2}
    pipeline = Pipeline(SITE, None, inputs=inputs, conversions=[Conversion(None)] * 3, guard_clock=False)
    scan = Scan("csv", BEGIN, (Reading("csv/firebox", temperature_c=321.5),))
    outcome = pipeline.feed([Arrival(scan, BEGIN)])

    assert outcome.temperatures.celsius[0, 0] == 321.5


@pytest.mark.parametrize(("guards", "time"), [(True, BEGIN + 2e6), (False, BEGIN)])
def test_a_clock_that_was_never_set_is_told_by_a_host_s_clock_only(guards: bool, time: float) -> None:
    """A scan weeks from the host's clock gets the time of arrival, and is counted; a bare recording keeps its times."""
    pipeline = Pipeline(SITE, TABLE, guard_clock=guards)
    outcome = pipeline.feed([Arrival(shed_1(0, BEGIN), BEGIN + 2e6)])

    assert outcome.accepted[0].arrival.scan.time == time
    assert sum(c.replaced for c in pipeline.clock_counts().values()) == guards


def test_the_guide_is_named_and_nothing_is_known_before_the_first_scan() -> None:
    """Before anything came there is a guide by the site file, and no climb."""
    pipeline = Pipeline(SITE, TABLE)

    assert pipeline.guide() == "middle"
    assert {c.climb_c_per_h for c in pipeline.climbs()} == {None}
    assert pipeline.contiguous("shed-2") == (None, 0)


@pytest.mark.parametrize("saved", [b"", b"nonsense", b"\x81\xa5clock\x00"])
def test_a_damaged_state_is_refused(saved: bytes) -> None:
    """What cannot be read is a ValueError, so that the wiring makes the state anew."""
    with pytest.raises(ValueError, match="saved state cannot be read"):
        Pipeline(SITE, TABLE).restore(saved)


@pytest.mark.parametrize(
    ("was", "became"),
    [
        ('type = "K"', 'type = "N"'),
        ('type = "K"', 'type = "K"\ncorrection = [[0.0, 1.0]]'),
        ('input = "shed-1/t1"', 'input = "shed-1/t9"'),
        ('id = "back"', 'id = "rear"'),
    ],
)
def test_a_state_of_other_inputs_letters_or_corrections_is_refused(was: str, became: str) -> None:
    """What was judged in other degrees is not taken up: the fire is judged again from what is stored."""
    pipeline = Pipeline(parse_site(SITE_TEXT.replace(was, became), "kiln.toml"), TABLE)

    with pytest.raises(ValueError, match="start"):
        pipeline.restore(AT_ONCE.save())


DOORS = made_up_site('[[contact]]\ninput = "shed-1/d1"\ndoor = "side"\n')


def _with_a_door(event: Arrival) -> Arrival:
    """Let the first node tell of its door as well: open for 20 s from minutes 5 and 12 on."""
    scan = event.scan
    if scan.node != "shed-1":
        return event
    into_s = scan.time - BEGIN
    is_open = any(begin <= into_s < begin + 20.0 for begin in (300.0, 720.0))
    return Arrival(replace(scan, readings=(*scan.readings, Reading("shed-1/d1", contact=is_open))), event.clock)


def _stokes(findings: Sequence[Finding]) -> list[tuple[float, str | None]]:
    return [(f.onset - BEGIN, f.door) for f in findings if f.kind is FindingKind.STOKE]


def test_a_door_s_switch_tells_a_stoke_however_events_are_cut() -> None:
    """At the moment of its opening, once, in one feed, scan by scan and across restarts; with an alarm table or not."""
    events = [_with_a_door(event) for event in falling_events()]
    at_once = Pipeline(DOORS, TABLE).feed(events).findings
    replayed = Pipeline(DOORS, None).feed(events).findings
    pipeline, one_by_one = Pipeline(DOORS, TABLE), []
    for i, event in enumerate(events):
        one_by_one += pipeline.feed([event]).findings
        if i % 11 == 0:
            saved = pipeline.save()
            pipeline = Pipeline(DOORS, TABLE)
            pipeline.restore(saved)

    assert _stokes(at_once) == [(300.0, "side"), (720.0, "side")]
    assert at_once == replayed == one_by_one


def _with_entries(*entries: Entry, minutes: float = 19.0) -> list[Event]:
    """The falling firing with entries, each behind the events of its clock."""
    return sorted([*falling_events(minutes=minutes), *entries], key=lambda event: event.clock)


def _entry(at_s: float, what: EntryKind, door: str | None = None, ago_s: float = 0.0) -> Entry:
    return Entry(f"e{at_s:.0f}", BEGIN + at_s, BEGIN + at_s - ago_s, what, door)


TAPS = (
    _entry(125.0, EntryKind.STOKED, "side"),
    _entry(330.0, EntryKind.STOKED, "front", ago_s=40.0),
    _entry(355.0, EntryKind.STOKED, "front", ago_s=0.0),
    _entry(930.2, EntryKind.CLOSED_UP, ago_s=30.0),
    _entry(1050.1, EntryKind.FIRED_ON),
)


def test_what_people_tell_counts_the_same_however_events_are_cut() -> None:
    """Stokes once, at the moment told; in one feed, event by event, across restarts, with an alarm table or not."""
    events = _with_entries(*TAPS)
    whole_outcome = Pipeline(SITE, TABLE).feed(events)
    replayed = Pipeline(SITE, None).feed(events).findings
    pipeline, one_by_one, entries = Pipeline(SITE, TABLE), [], []
    for i, event in enumerate(events):
        outcome = pipeline.feed([event])
        one_by_one += outcome.findings
        entries += outcome.entries
        if i % 11 == 0 or isinstance(event, Entry):
            saved = pipeline.save()
            pipeline = Pipeline(SITE, TABLE)
            pipeline.restore(saved)

    assert _stokes(whole_outcome.findings) == [(125.0, "side"), (290.0, "front")]
    assert whole_outcome.findings == replayed == one_by_one
    assert tuple(entries) == whole_outcome.entries == TAPS


def test_entries_and_events_of_one_clock_may_come_in_either_order() -> None:
    """A host that stores both cannot always tell which was first."""
    after = _with_entries(_entry(600.1, EntryKind.CLOSED_UP))
    at = next(i for i, event in enumerate(after) if isinstance(event, Entry))
    before = [*after[: at - 1], after[at], after[at - 1], *after[at + 1 :]]
    assert before[at].clock == after[at].clock == BEGIN + 600.1

    assert Pipeline(SITE, TABLE).feed(before).findings == Pipeline(SITE, TABLE).feed(after).findings


def test_a_kiln_closed_up_raises_no_alarm_for_falling_until_it_is_fired_on() -> None:
    """Closed up in the fall, its alarm ends; fired on, a fall that goes on is told again; the pipeline says which."""
    closing, on = _entry(1230.2, EntryKind.CLOSED_UP), _entry(1500.1, EntryKind.FIRED_ON)
    pipeline = Pipeline(SITE, TABLE)
    told, closed = [], []
    for event in _with_entries(closing, on, minutes=30.0):
        told += pipeline.feed([event]).findings
        closed.append(pipeline.closed_up())

    assert [(f.kind, f.state) for f in told] == [
        (FindingKind.FALL, FindingState.BEGIN),
        (FindingKind.FALL, FindingState.END),
        (FindingKind.FALL, FindingState.BEGIN),
    ]
    assert told[1].onset == BEGIN + 1230.2
    assert BEGIN + 1230.0 < told[1].time <= BEGIN + 1270.0
    assert told[2].time > BEGIN + 1500.0
    assert set(closed) == {None, BEGIN + 1230.2}
    assert closed[0] is closed[-1] is None


def test_a_state_of_other_contacts_is_refused() -> None:
    """A switch that was moved to another door means another thing."""
    with pytest.raises(ValueError, match="contacts"):
        Pipeline(DOORS, TABLE).restore(AT_ONCE.save())


def test_slots_are_counted() -> None:
    """The count that panels see as the engine's sign of life."""
    assert AT_ONCE.slots_judged == AT_ONCE_FOLLOWED.slots > 40


def test_the_other_node_numbers_without_a_boot() -> None:
    """A node without `boot` is acknowledged by number alone."""
    pipeline = Pipeline(SITE, TABLE)
    pipeline.feed([Arrival(shed_2(7, BEGIN), BEGIN)])

    assert pipeline.contiguous("shed-2") == (None, 7)


def held_up_events(seed: int = 3) -> list[Arrival | Tick]:
    """Return twelve minutes of one node whose packs are held up for up to a minute each from minute 2 to 10.

    From minute 8 on it sends nothing more; what was on its way still comes.
    """
    rng = np.random.default_rng(seed)
    on_way: list[tuple[float, int]] = []
    for i in range(480):
        held_s = float(rng.uniform(0.0, 60.0)) if i >= 120 else 0.0
        on_way.append((BEGIN + i + 0.1 + round(held_s, 3), i))
    events: list[Arrival | Tick] = [Arrival(shed_1(i, BEGIN + i), clock) for clock, i in on_way]
    events += [Tick(BEGIN + i + 0.5) for i in range(720)]
    return sorted(events, key=lambda event: event.clock)


HELD_UP = held_up_events()


def test_packs_that_are_held_up_leave_no_sensor_missing_until_none_comes() -> None:
    """Most come beyond the wait and are not judged; only once the last has come is the node's silence told."""
    pipeline, followed = Pipeline(SITE, TABLE), Followed()
    followed.feed(pipeline, HELD_UP)
    last_came = max(e.clock for e in HELD_UP if isinstance(e, Arrival))
    missing = [f for f in followed.findings if f.fault is SensorFault.MISSING]

    assert pipeline.node_counts()["shed-1"].late > 240
    assert [(f.sensor, f.state) for f in missing] == [("firebox", FindingState.BEGIN), ("middle", FindingState.BEGIN)]
    assert all(last_came < f.time <= last_came + 20.0 for f in missing)


@settings(max_examples=6, deadline=None)
@given(st.lists(st.integers(0, len(HELD_UP)), max_size=12).map(sorted), st.booleans())
def test_held_up_packs_are_told_alike_for_any_cutting_and_restart(at: list[int], restarts: bool) -> None:
    """That something came late is known by its clock alone."""
    at_once, followed = Pipeline(SITE, TABLE), Followed()
    followed.feed(at_once, HELD_UP)
    pipeline, parts = Pipeline(SITE, TABLE), Followed()
    for begin, end in pairwise([0, *at, len(HELD_UP)]):
        parts.feed(pipeline, HELD_UP[begin:end])
        if restarts:
            saved = pipeline.save()
            pipeline = Pipeline(SITE, TABLE)
            pipeline.restore(saved)

    assert parts.same_as(followed)
    assert pipeline.save() == at_once.save()


@pytest.mark.parametrize("after_s", [90.0, 200.0, 400.0, 510.0, 560.0])
def test_no_finding_knows_what_came_after_its_time(after_s: float) -> None:
    """Cut off at any clock, the findings up to a wait before it are the same, whatever was still on its way."""
    whole, cut = Followed(), Followed()
    whole.feed(Pipeline(SITE, TABLE), HELD_UP)
    cut.feed(Pipeline(SITE, TABLE), [e for e in HELD_UP if e.clock <= BEGIN + after_s])

    assert cut.findings == [f for f in whole.findings if f.time <= BEGIN + after_s][: len(cut.findings)]
    assert [f for f in cut.findings if f.time <= BEGIN + after_s - 10.0] == [
        f for f in whole.findings if f.time <= BEGIN + after_s - 10.0
    ]
