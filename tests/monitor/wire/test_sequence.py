"""The grid: closings, lateness, and that neither ticks nor restarts nor repeats change anything."""

import random
from collections.abc import Iterable
from itertools import pairwise

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.model import SLOT_S, Arrival, Scan, Tick
from monitor.wire.node_order import WAIT_S, Verdict
from monitor.wire.sequence import MAX_EMPTY_S, Closing, Sequencer, Step, slot_end

T = 1764000000.0
Event = Arrival | Tick


def scan(seq: int, *, node: str = "n", period_s: float = 1.0, oldest: int | None = None) -> Scan:
    """Make scan `seq` of a node that scans every `period_s` from T on."""
    return Scan(node, T + seq * period_s, (), boot="a", seq=seq, oldest=oldest)


def at(seq: int, delay_s: float = 0.1, *, node: str = "n") -> Arrival:
    """Let a scan arrive `delay_s` after its time."""
    told = scan(seq, node=node)
    return Arrival(told, told.time + delay_s)


def run(events: Iterable[Event], sequencer: Sequencer | None = None) -> list[Step]:
    """Take all events."""
    sequencer = sequencer or Sequencer()
    return [sequencer.take(event) for event in events]


def closings(steps: Iterable[Step]) -> list[Closing]:
    """Return all closings in order."""
    return [closing for step in steps for closing in step.closings]


def verdicts(steps: Iterable[Step]) -> list[Verdict]:
    """Return the verdicts on scans in order."""
    return [step.verdict for step in steps if step.verdict is not None]


@pytest.mark.parametrize(
    ("time", "end"), [(T, T + 5), (T + 4.999, T + 5), (T + 5, T + 10), (-3.0, 0.0), (T + 4.9999998, T + 5)]
)
def test_slot_holds_its_beginning_and_not_its_end(time: float, end: float) -> None:
    """A slot runs from a multiple of 5 s up to before the next."""
    assert slot_end(time) == end


def test_slot_closes_with_the_scan_that_completes_it() -> None:
    """The first scan at or behind the slot's end closes it at its own arrival."""
    steps = run(at(seq) for seq in range(11))

    assert closings(steps) == [Closing(T + 5, T + 5.1), Closing(T + 10, T + 10.1)]
    assert set(verdicts(steps)) == {Verdict.JUDGED}


def test_slot_waits_for_every_delivering_node() -> None:
    """The slower of two nodes closes the slot."""
    ours = [at(seq) for seq in range(8)]
    theirs = [at(seq, 3.0, node="m") for seq in range(6)]
    steps = run(sorted([*ours, *theirs], key=lambda arrival: arrival.clock))

    assert closings(steps) == [Closing(T + 5, T + 8.0)]


def test_silent_node_holds_a_slot_until_ten_seconds_after_its_last_scan() -> None:
    """A node unheard for 10 s of clock is waited for no longer, at that very moment, whatever arrives when."""
    events: list[Event] = [at(2, 0.5, node="m"), *[at(seq) for seq in range(3, 13)], Tick(T + 30)]

    assert closings(run(events))[:2] == [Closing(T + 5, T + 12.5), Closing(T + 10, T + 12.5)]


def test_lone_silent_node_is_closed_by_the_clock() -> None:
    """Without any delivering node a slot closes 10 s of clock after its end."""
    assert closings(run([at(2), Tick(T + 15), Tick(T + 19.9), Tick(T + 20)])) == [
        Closing(T + 5, T + 15),
        Closing(T + 10, T + 20),
    ]


def test_missing_scan_is_waited_for_ten_seconds() -> None:
    """The slot behind a gap stays open until the wait ends, at that very moment."""
    events: list[Event] = [at(seq) for seq in (0, 1, 3, 4, 5, 6, 7, 8)]

    assert closings(run([*events, Tick(T + 13.0)])) == []
    assert closings(run([*events, Tick(T + 40.0)]))[0] == Closing(T + 5, 3.1 + T + WAIT_S)


def test_scan_after_its_slot_is_late() -> None:
    """A scan whose slot closed, by completeness or by the clock, is accepted and late."""
    other_boot = Scan("n", T + 2.5, (), boot="b", seq=0)
    steps = run([at(0), at(1), at(6), Tick(T + 17), Arrival(scan(2), T + 17), Arrival(other_boot, T + 18)])

    assert verdicts(steps)[-2:] == [Verdict.LATE, Verdict.LATE]


def test_first_scan_that_is_already_overdue_starts_no_grid() -> None:
    """A first scan older than the wait is late; the grid starts with the first one that can be judged."""
    steps = run([Arrival(scan(0), T + 300), Tick(T + 400), Arrival(scan(500), T + 500.1), Tick(T + 515)])

    assert verdicts(steps) == [Verdict.LATE, Verdict.JUDGED]
    assert closings(steps) == [Closing(T + 505, T + 515)]


def test_no_slot_holds_a_scan_that_came_after_it_was_known() -> None:
    """A scan that comes when its slot is due at that very clock is late."""
    assert verdicts(run([at(0), Arrival(scan(1), T + 15)])) == [Verdict.JUDGED, Verdict.LATE]


def test_long_silence_closes_four_hours_and_then_sleeps() -> None:
    """Empty slots are closed one by one for 4 h, each 10 s after its end; then nothing until a scan."""
    late = 10 * 3600
    steps = run([at(0), Tick(T + 9 * 3600), at(late), Tick(T + late + 15)])
    closed = closings(steps)

    assert [closing.end for closing in closed] == [
        *[T + SLOT_S * (k + 1) for k in range(1 + int(MAX_EMPTY_S // SLOT_S))],
        T + late + 5,
    ]
    assert all(closing.known_at == closing.end + WAIT_S for closing in closed)


def test_scan_ahead_by_hours_jumps_the_empty_slots() -> None:
    """A scan from a clock far ahead closes 4 h of empty slots at once and jumps to its own."""
    sequencer = Sequencer()
    ahead = [Arrival(Scan("n", T + 6 * 3600 + s, ()), T + 1) for s in (0, 5)]
    steps = run([at(0), *ahead], sequencer)
    ends = [closing.end for closing in closings(steps)]

    assert (len(ends), ends[-1]) == (int(MAX_EMPTY_S // SLOT_S) + 2, T + 6 * 3600 + 5)
    between = Scan("m", T + 5 * 3600, (), seq=0)
    assert sequencer.take(Arrival(between, T + 3)).verdict is Verdict.LATE


def test_lost_scans_are_told_by_the_step_that_finds_them() -> None:
    """Losses are counted at once where the node cannot send again."""
    sequencer = Sequencer()

    assert [step.lost for step in run([at(0), at(1), at(5), at(3, 3.0)], sequencer)] == [0, 0, 3, 0]
    counts = sequencer.counts()["n"]
    assert (counts.judged, counts.missed, counts.recovered) == (4, 3, 1)


def test_passing_over_can_close_a_slot() -> None:
    """A late word that a gap is gone for good completes the slot that waited for it."""
    events = [Arrival(scan(seq, oldest=0), T + seq + 0.1) for seq in (0, 1, 4, 5, 6)]
    repeat = Arrival(scan(6, oldest=4), T + 6.5)

    assert closings(run([*events, repeat])) == [Closing(T + 5, T + 6.5)]


def test_horizon_and_heartbeat_of_an_unknown_node_are_empty() -> None:
    """Nothing is said of a node that was never heard, and no horizon before its first complete scan."""
    sequencer = Sequencer()
    sequencer.take(Arrival(scan(5, node="k", oldest=3), T + 5))

    assert (sequencer.horizon("n"), sequencer.contiguous("n")) == (None, (None, 0))
    assert (sequencer.horizon("k"), sequencer.contiguous("k")) == (None, ("a", 2))
    sequencer.take(at(5))
    assert (sequencer.horizon("n"), sequencer.contiguous("n")) == (T + 5, ("a", 5))


def test_clock_that_goes_back_stands_still() -> None:
    """An event with an earlier clock happens at the clock reached before."""
    steps = run([at(0), Tick(T + 14), *[Arrival(scan(seq), T + 3) for seq in range(1, 6)]])

    assert closings(steps) == [Closing(T + 5, T + 14)]


def test_foreign_bytes_are_not_restored() -> None:
    """Bytes of something else are refused."""
    with pytest.raises(ValueError, match="Expected `object`"):
        Sequencer.restore(b"\x93\x01")


arrivals_of = st.lists(
    st.tuples(
        st.sampled_from(["n", "m"]),
        st.integers(0, 40),
        st.sampled_from([0.1, 0.1, 0.1, 0.6, 3.0, 9.5, 10.0, 11.0, 60.0]),
        st.sampled_from([None, None, None, 0, 2]),
    ),
    min_size=1,
    max_size=40,
)


def stream(drawn: list[tuple[str, int, float, int | None]]) -> list[Event]:
    """Make arrivals of drawn (node, seq, delay, how far back `oldest` lies), in order of arrival."""
    arrivals = []
    for node, seq, delay_s, back in drawn:
        oldest = None if back is None or node == "n" else max(0, seq - back)
        told = scan(seq, node=node, period_s=1.7, oldest=oldest)
        arrivals.append(Arrival(told, told.time + delay_s))
    return sorted(arrivals, key=lambda arrival: arrival.clock)


@given(arrivals_of, st.lists(st.floats(-5, 200), max_size=30))
@settings(max_examples=150)
def test_ticks_between_change_nothing(drawn: list[tuple[str, int, float, int | None]], ticks: list[float]) -> None:
    """However often the clock is told between arrivals, verdicts, losses and closings are the same."""
    events = [*stream(drawn), Tick(T + 300)]
    ticked = sorted([*events, *[Tick(T + tick) for tick in ticks]], key=lambda event: (event.clock, 0))
    plain, more = run(events), run(ticked)

    assert closings(more) == closings(plain)
    assert verdicts(more) == verdicts(plain)
    assert sum(step.lost for step in more) == sum(step.lost for step in plain)


@given(arrivals_of, st.sets(st.integers(0, 40)))
@settings(max_examples=150)
def test_restarts_change_nothing(drawn: list[tuple[str, int, float, int | None]], cuts: set[int]) -> None:
    """Saved and restored at any point, the sequencer goes on as if nothing had been."""
    events = [*stream(drawn), Tick(T + 300)]
    sequencer = Sequencer()
    steps = []
    for i, event in enumerate(events):
        if i in cuts:
            sequencer = Sequencer.restore(sequencer.save())
        steps.append(sequencer.take(event))
    unbroken = Sequencer()

    assert steps == run(events, unbroken)
    assert sequencer.save() == unbroken.save()


@given(arrivals_of)
@settings(max_examples=150)
def test_repeats_change_nothing(drawn: list[tuple[str, int, float, int | None]]) -> None:
    """With each pack sent twice the closings are the same, and each second one is a repeat."""
    events = list({(a.scan.node, a.scan.seq): a for a in reversed(stream(drawn)) if isinstance(a, Arrival)}.values())[
        ::-1
    ]
    events.sort(key=lambda arrival: arrival.clock)
    once = run([*events, Tick(T + 300)])
    twice = run([*[event for event in events for _ in range(2)], Tick(T + 300)])

    assert closings(twice) == closings(once)
    assert verdicts(twice)[::2] == verdicts(once)
    assert set(verdicts(twice)[1::2]) == {Verdict.REPEAT}


@given(arrivals_of)
@settings(max_examples=150)
def test_closings_are_in_order_and_use_nothing_from_the_future(drawn: list[tuple[str, int, float, int | None]]) -> None:
    """Slots follow each other, are known in order and in time, and hold only scans that came before."""
    events = [*stream(drawn), Tick(T + 300)]
    steps = run(events)
    closed = closings(steps)
    judged = [
        event
        for event, step in zip(events, steps, strict=True)
        if isinstance(event, Arrival) and step.verdict is Verdict.JUDGED
    ]
    known = {closing.end: closing.known_at for closing in closed}

    assert all(b.end - a.end == SLOT_S and b.known_at >= a.known_at for a, b in pairwise(closed))
    assert all(closing.known_at <= closing.end + WAIT_S for closing in closed)
    assert all(known[slot_end(arrival.scan.time)] >= arrival.clock for arrival in judged)
    assert {slot_end(arrival.scan.time) for arrival in judged} <= known.keys()


@given(st.integers(1, 60), st.floats(0, 0.5), st.integers(0, 2**32))
@settings(max_examples=60)
def test_losses_are_what_never_came(count: int, share: float, seed: int) -> None:
    """Shuffled within a minute and with holes, missed less recovered is the number of scans between that never came."""
    draw = random.Random(seed)
    sent = [seq for seq in range(count) if draw.random() >= share] or [0]
    events = sorted((at(seq, draw.uniform(0, 60)) for seq in sent), key=lambda arrival: arrival.clock)
    sequencer = Sequencer()
    steps = run(events, sequencer)
    counts = sequencer.counts()["n"]
    first = next(event.scan.seq for event in events)
    assert first is not None

    assert Verdict.REPEAT not in verdicts(steps)
    assert counts.judged + counts.late == len(sent)
    assert counts.missed - counts.recovered == len([seq for seq in range(first, max(sent)) if seq not in sent])


def test_saved_state_stays_small() -> None:
    """Ten thousand scans in order are saved in under a kilobyte."""
    sequencer = Sequencer()
    run((at(seq) for seq in range(10_000)), sequencer)

    assert len(sequencer.save()) < 1000
    assert msgspec.msgpack.decode(sequencer.save())["clock"] == T + 9999.1
