"""What arrives, judged by the service's own reading of the wire contract."""

from collections.abc import Sequence
from itertools import pairwise

import pytest
from msgspec.structs import replace

from monitor.model import Arrival, Scan
from monitor.wire.node_clock import NodeClock
from monitor.wire.node_order import Verdict
from monitor.wire.sequence import Sequencer
from simulator.line.delivery import Beginning, Delivery, delivered
from simulator.script.line_faults import LineFault
from simulator.script.spells import Spell

LIT = 1_764_000_000
NODE = "shed-1"
MINUTE_H = 1.0 / 60.0


def _arrivals(spells: Sequence[Spell], seconds: int = 3600) -> list[Arrival]:
    delivery = Delivery(spells, Beginning(LIT, LIT, NODE, seed=1))
    scans = (Scan(NODE, LIT + 1.0 + n, (), boot="a", seq=n) for n in range(seconds))
    return [Arrival(s.what, s.at) for s in delivered(scans, delivery) if isinstance(s.what, Scan)]


def _judged(arrivals: Sequence[Arrival]) -> tuple[list[tuple[float, Verdict]], Sequencer]:
    """Return time and verdict of each arrival, after the service placed it on its clock."""
    clock, order = NodeClock(), Sequencer()
    found = []
    for arrival in arrivals:
        placed = clock.place(arrival, is_host_clock=True)
        verdict = order.take(placed).verdict
        assert verdict is not None
        found.append((placed.scan.time, verdict))
    return found, order


def _accepted(found: Sequence[tuple[float, Verdict]]) -> list[float]:
    return sorted(time - LIT for time, verdict in found if verdict is not Verdict.REPEAT)


ALL = [1.0 + n for n in range(3600)]


@pytest.mark.parametrize(
    "spells",
    [
        [],
        [Spell(LineFault.TWICE, 0.1, 0.5)],
        [Spell(LineFault.REPLAY, 0.5, 0.1, size=1_000.0)],
        [Spell(LineFault.LOSS, 0.1, 0.5, size=0.01)],
        [Spell(LineFault.HOLES, 0.0, 0.9, size=30.0)],
        [Spell(LineFault.SHUFFLE, 0.1, 0.5, size=60.0)],
        [Spell(LineFault.OUTAGE, 0.2, 10 * MINUTE_H)],
        [Spell(LineFault.REPLUG, 0.2, MINUTE_H)],
        [Spell(LineFault.DELAY, 0.2, 0.1, size=0.5)],
    ],
    ids=["sound", "twice", "replay", "loss", "holes", "shuffle", "outage", "replug", "delay"],
)
def test_a_node_that_keeps_has_every_scan_there_once(spells: list[Spell]) -> None:
    """F32 to F35 and F40: whatever the line does to it in the first 40 minutes, after the hour nothing is missing."""
    found, order = _judged(_arrivals(spells))

    assert _accepted(found) == ALL
    assert order.counts()[NODE].missed == order.counts()[NODE].recovered


def test_back_fill_after_an_outage_is_late() -> None:
    """F40: what was taken meanwhile comes within minutes, eight a second, and is never judged."""
    found, _ = _judged(_arrivals([Spell(LineFault.OUTAGE, 0.2, 10 * MINUTE_H)]))
    late = [time - LIT for time, verdict in found if verdict is Verdict.LATE]

    assert sorted(late) == [720.0 + n for n in range(600)]


def test_an_outage_longer_than_the_memory_loses_the_rest() -> None:
    """F40: of two hours the last 45 minutes come; the service knows what is gone."""
    found, order = _judged(_arrivals([Spell(LineFault.OUTAGE, 0.2, 2.0)], 4 * 3600))
    lost = 4 * 3600 - len(_accepted(found))

    assert 7200 - 2700 <= lost <= 7200 - 2700 + 30
    assert order.counts()[NODE].missed == lost


def test_without_a_memory_loss_is_loss() -> None:
    """F34: counted at once, and never sent again."""
    spells = [Spell(LineFault.FORGETS, 0.0, 9.0), Spell(LineFault.LOSS, 0.0, 9.0, size=0.01)]
    found, order = _judged(_arrivals(spells))

    assert 15 < order.counts()[NODE].missed == 3600 - len(_accepted(found)) < 65
    assert order.counts()[NODE].repeats == 0


def test_without_a_memory_late_is_hours_late() -> None:
    """F33: what was held up for three hours comes then, once, late."""
    spells = [Spell(LineFault.FORGETS, 0.0, 9.0), Spell(LineFault.DELAY, 0.1, 0.1, size=3.0)]
    found, _ = _judged(_arrivals(spells, 4 * 3600))

    assert len(_accepted(found)) == 4 * 3600
    assert [time - LIT for time, verdict in found if verdict is Verdict.LATE] == [360.0 + n for n in range(360)]


def test_resets_are_boots_and_nothing_is_doubled() -> None:
    """F30: three boots; four seconds between the scans around each reset."""
    spells = [Spell(LineFault.RESET, 0.2, 0.1), Spell(LineFault.RESET, 0.6, 0.1)]
    found, order = _judged(_arrivals(spells))
    gaps = [b - a for a, b in pairwise(_accepted(found)) if b - a > 1.0]

    assert (order.counts()[NODE].boots, order.counts()[NODE].repeats) == (3, 0)
    assert gaps == [4.0, 4.0]


@pytest.mark.parametrize(
    "spell",
    [
        Spell(LineFault.CLOCKLESS, 0.0, 9.0),
        Spell(LineFault.TICKS_WRAP, 0.0, 1.0, size=0.0),
        Spell(LineFault.TICKS_WRAP, 0.0, 1.0, size=1.0),
        Spell(LineFault.WRONG_CLOCK, 0.0, 9.0, size=-9000.0),
        Spell(LineFault.WRONG_CLOCK, 0.0, 9.0, size=300.0),
    ],
)
def test_a_wrong_or_absent_clock_costs_no_time(spell: Spell) -> None:
    """F45, F46: on a line without delay the host makes every time right, across the wrap too."""
    found, _ = _judged(_arrivals([spell]))

    assert [time - LIT for time, _ in found] == pytest.approx(ALL, abs=0.001)


def test_back_fill_without_a_clock_finds_its_time() -> None:
    """F40 with F45: by its age and `up`."""
    spells = [Spell(LineFault.CLOCKLESS, 0.0, 9.0), Spell(LineFault.OUTAGE, 0.2, 10 * MINUTE_H)]
    found, _ = _judged(_arrivals(spells))

    assert _accepted(found) == pytest.approx(ALL, abs=0.001)


def test_the_host_is_not_heard_through_an_outage() -> None:
    """A word spoken into a dead line frees nothing in the memory."""
    delivery = Delivery([Spell(LineFault.OUTAGE, 0.0, 1.0)], Beginning(LIT, LIT, NODE, seed=1))
    first = Scan(NODE, LIT + 1.0, (), boot="a", seq=0)
    delivery.step(first, 0.0)
    delivery.heard("a", 0, 0.0)
    after = delivery.step(replace(first, time=LIT + 3600.0, seq=1), 0.0)

    assert [s.what.oldest for s in after if isinstance(s.what, Scan)] == [0]
    assert delivery.now == LIT + 3600.0
