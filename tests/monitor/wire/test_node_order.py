"""One node's identity, losses, waits and horizon."""

import msgspec
import pytest

from monitor.model import Scan
from monitor.wire import node_order
from monitor.wire.node_order import NodeOrder, Verdict

T = 1764000000.0
JUDGED, LATE, REPEAT = Verdict.JUDGED, Verdict.LATE, Verdict.REPEAT


def numbered(seq: int | None, *, time: float | None = None, boot: str | None = "a", oldest: int | None = None) -> Scan:
    """Make a scan numbered `seq`, taken at T + seq."""
    return Scan("n", T + (seq or 0) if time is None else time, (), boot=boot, seq=seq, oldest=oldest)


def take(order: NodeOrder, scan: Scan, clock: float | None = None, *, is_overdue: bool = False) -> Verdict:
    """Let `scan` arrive at `clock`, by default at its own time, after what is due by then."""
    clock = scan.time if clock is None else clock
    order.give_up(clock)
    return order.take(scan, clock, is_overdue=is_overdue)


def test_scans_in_order_raise_the_horizon() -> None:
    """Without gaps the horizon is the newest scan's time, and the node delivers for 10 s of clock from it."""
    order = NodeOrder()
    verdicts = [take(order, numbered(seq), T + seq + 0.5) for seq in (5, 6, 7)]

    assert verdicts == [JUDGED] * 3
    assert (order.horizon, order.active_until) == (T + 7, T + 17.5)
    assert order.contiguous() == ("a", 7)
    assert order.next_deadline() == float("inf")
    assert order.counts.missed == 0


def test_repeat_is_told_for_ever() -> None:
    """The same boot and seq is a repeat, also in another boot's time and after a restart."""
    order = NodeOrder()
    for seq in range(5):
        take(order, numbered(seq))
    take(order, numbered(0, boot="b", time=T + 100))
    again = msgspec.msgpack.decode(msgspec.msgpack.encode(order), type=NodeOrder)

    assert [take(again, numbered(seq), T + 200) for seq in range(5)] == [REPEAT] * 5
    assert again.counts.repeats == 5


def test_gap_is_lost_at_once_and_waited_for() -> None:
    """A node that cannot send again has lost the gap at once; the horizon still waits 10 s of clock for it."""
    order = NodeOrder()
    take(order, numbered(1))
    take(order, numbered(4))

    assert order.counts.missed == 2
    assert order.contiguous() == ("a", 4)
    assert (order.horizon, order.next_deadline()) == (T + 1, T + 14)
    order.give_up(T + 13.999)
    assert order.horizon == T + 1
    order.give_up(T + 14)
    assert order.horizon == T + 4


def test_scan_that_fills_its_gap_in_time_is_judged() -> None:
    """Reordered scans within the wait are judged, and the horizon goes on piece by piece."""
    order = NodeOrder()
    take(order, numbered(1))
    take(order, numbered(5))

    assert take(order, numbered(3), T + 6) is JUDGED
    assert order.horizon == T + 1
    assert take(order, numbered(2), T + 7) is JUDGED
    assert order.horizon == T + 3
    assert take(order, numbered(4), T + 14.999) is JUDGED
    assert order.horizon == T + 5
    assert (order.counts.missed, order.counts.recovered) == (3, 3)


def test_later_of_two_gaps_may_be_filled_first() -> None:
    """Each gap is waited for by itself; the horizon stands before the first."""
    order = NodeOrder()
    for seq in (1, 3, 5):
        take(order, numbered(seq))

    assert take(order, numbered(4), T + 6) is JUDGED
    assert order.horizon == T + 1
    assert take(order, numbered(2), T + 7) is JUDGED
    assert order.horizon == T + 5


def test_scan_that_comes_after_its_wait_is_late() -> None:
    """Beyond 10 s of clock a missing scan is accepted as late, once."""
    order = NodeOrder()
    take(order, numbered(1))
    take(order, numbered(3))

    assert take(order, numbered(2), T + 13) is LATE
    assert take(order, numbered(2), T + 14) is REPEAT
    assert (order.counts.late, order.counts.recovered) == (1, 1)


def test_overdue_scan_is_late_and_leaves_no_wait() -> None:
    """A scan whose slot is closed is late, and what it leaped would be late as well: nothing waits."""
    order = NodeOrder()
    take(order, numbered(1))

    assert take(order, numbered(4), T + 500, is_overdue=True) is LATE
    assert order.next_deadline() == float("inf")
    assert (order.horizon, order.active_until) == (T + 1, T + 11)


def test_scan_from_before_the_first_is_no_loss() -> None:
    """What a boot sent before we heard it was never counted as lost; it is judged if it comes in time."""
    order = NodeOrder()
    take(order, numbered(10))

    assert take(order, numbered(9), T + 10) is JUDGED
    assert (order.counts.missed, order.counts.recovered) == (0, 0)


def test_node_that_keeps_scans_has_lost_only_what_lies_below_oldest() -> None:
    """With `oldest` a gap stays open for the heartbeat until it is filled or passed over."""
    order = NodeOrder()
    take(order, numbered(1, oldest=0))
    take(order, numbered(5, oldest=0))

    assert order.counts.missed == 0
    assert order.contiguous() == (None, 0)
    take(order, numbered(0, oldest=0), T + 30)
    assert order.contiguous() == ("a", 1)
    take(order, numbered(6, oldest=3), T + 31)
    assert order.counts.missed == 1
    assert order.contiguous() == ("a", 2)
    take(order, numbered(3, oldest=3), T + 32)
    take(order, numbered(4, oldest=3), T + 33)
    assert order.contiguous() == ("a", 6)
    assert take(order, numbered(2, oldest=3), T + 34) is LATE
    assert (order.counts.missed, order.counts.recovered) == (1, 1)


def test_first_scan_of_a_keeping_node_waits_for_the_kept_ones() -> None:
    """Scans that the node says it can still send are missing from the first one on."""
    order = NodeOrder()
    take(order, numbered(10, oldest=8))

    assert (order.next_deadline(), order.horizon) == (T + 20, float("-inf"))
    assert order.contiguous() == ("a", 7)
    assert take(order, numbered(8), T + 11) is JUDGED
    assert order.contiguous() == ("a", 8)


def test_passing_over_ends_the_wait() -> None:
    """What is known to be gone is not waited for; a repeat may bring the news."""
    order = NodeOrder()
    take(order, numbered(1, oldest=1))
    take(order, numbered(6, oldest=1))
    take(order, numbered(6, oldest=4), T + 7)
    assert order.gaps[0].low == 4

    take(order, numbered(6, oldest=6), T + 8)
    assert (order.gaps, order.horizon) == ([], T + 6)
    assert order.contiguous() == ("a", 6)
    assert order.counts.missed == 4


def test_passing_over_leaves_other_boots_waiting() -> None:
    """What a new boot cannot send says nothing of the gap of the boot before."""
    order = NodeOrder()
    take(order, numbered(1))
    take(order, numbered(3))
    take(order, numbered(5, boot="b", oldest=5), T + 5)

    assert [(gap.boot, gap.low) for gap in order.gaps] == [("ba", 2)]
    assert order.horizon == T + 1


def test_oldest_beyond_its_own_scan_passes_over_no_more_than_that() -> None:
    """An `oldest` that cannot be true does not throw away what is to come."""
    order = NodeOrder()
    take(order, numbered(1, oldest=10**15))
    take(order, numbered(3, oldest=10**15))

    assert order.contiguous() == ("a", 3)
    assert order.counts.missed == 1


def test_new_boot_begins_its_own_count() -> None:
    """After a reset seq begins anew: nothing is lost, nothing doubled, and the heartbeat speaks of the new boot."""
    order = NodeOrder()
    for seq in range(3):
        take(order, numbered(seq))
    verdict = take(order, numbered(0, boot="b", time=T + 20))

    assert verdict is JUDGED
    assert (order.counts.boots, order.counts.missed) == (2, 0)
    assert order.contiguous() == ("b", 0)


def test_scan_kept_from_an_earlier_boot_does_not_take_the_heartbeat() -> None:
    """A late scan of the earlier boot is accepted; the newest scan's boot stays the current one."""
    order = NodeOrder()
    take(order, numbered(0))
    take(order, numbered(0, boot="b", time=T + 100))
    take(order, numbered(1), T + 101, is_overdue=True)

    assert order.contiguous() == ("b", 0)
    take(order, numbered(1, boot="b", time=T + 101))
    assert order.contiguous() == ("b", 1)


def test_older_boot_met_first_yields_to_the_live_one() -> None:
    """A boot never heard before counts as current only until the live one speaks again."""
    order = NodeOrder()
    take(order, numbered(7, boot="b", time=T + 100))
    take(order, numbered(3, boot="a", time=T), T + 101, is_overdue=True)
    assert order.contiguous() == ("a", 3)

    take(order, numbered(8, boot="b", time=T + 101))
    assert order.contiguous() == ("b", 8)


def test_without_boot_a_low_seq_much_later_starts_a_boot() -> None:
    """Seq not above the highest, time more than 60 s after the newest: the host numbers a new boot."""
    order = NodeOrder()
    for seq in range(3):
        take(order, numbered(seq, boot=None))

    assert take(order, numbered(1, boot=None, time=T + 62)) is REPEAT
    assert take(order, numbered(1, boot=None, time=T + 62.5)) is JUDGED
    assert (order.counts.boots, order.contiguous()) == (2, (None, 1))
    assert take(order, numbered(2, boot=None), T + 63) is REPEAT
    assert take(order, numbered(2, boot=None, time=T + 63.5)) is JUDGED


def test_node_with_boot_and_then_without_is_two_boots() -> None:
    """Numbers under a word and numbers under the host's count never mix."""
    order = NodeOrder()
    take(order, numbered(3, boot="a"))

    assert take(order, numbered(3, boot=None, time=T + 200)) is JUDGED
    assert order.counts.boots == 2


def test_without_seq_identity_is_the_time() -> None:
    """A node without seq repeats itself only by the same time, and loses nothing that could be counted."""
    order = NodeOrder()

    assert take(order, numbered(None, time=T)) is JUDGED
    assert take(order, numbered(None, time=T)) is REPEAT
    assert take(order, numbered(None, time=T + 9)) is JUDGED
    assert take(order, numbered(None, time=T + 5), T + 10) is JUDGED
    assert take(order, numbered(None, time=T + 1), T + 400, is_overdue=True) is LATE
    assert (order.horizon, order.contiguous(), order.counts.missed) == (T + 9, (None, 0), 0)


def test_boots_are_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    """A node that resets without end costs bounded memory: the oldest boot is forgotten."""
    monkeypatch.setattr(node_order, "MAX_BOOTS", 3)
    order = NodeOrder()
    for boot in "abcde":
        take(order, numbered(0, boot=boot, time=T + ord(boot)))

    assert sorted(order.boots) == ["bc", "bd", "be"]
