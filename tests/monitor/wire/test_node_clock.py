"""Host times for nodes whose own clock cannot say them."""

import random
from itertools import pairwise

import pytest

from monitor.model import Arrival, Scan
from monitor.wire import node_clock
from monitor.wire.node_clock import SLEW_BACK, SLEW_ON, WINDOW_S, NodeClock

T = 1764000000.0


def told(up_s: float | None, clock: float, *, time: float = 0.0, boot: str | None = "a", node: str = "n") -> Arrival:
    """Let a scan with a relative time arrive."""
    return Arrival(Scan(node, time, (), boot=boot, seq=1, oldest=0, up_s=up_s), clock)


def placed(clock: NodeClock, arrival: Arrival) -> float:
    """Return the host time of a scan that arrives at a live host."""
    return clock.place(arrival, is_host_clock=True).scan.time


@pytest.mark.parametrize("time", [T, T - 86_400.0, T + 86_400.0, T + 30.5])
def test_clock_within_a_day_is_believed(time: float) -> None:
    """An absolute time within a day of the host's clock stays as it is."""
    arrival = Arrival(Scan("n", time, ()), T)
    clock = NodeClock()

    assert clock.place(arrival, is_host_clock=True) is arrival
    assert clock.counts() == {}


@pytest.mark.parametrize("time", [946_684_800.0, T - 86_401.0, T + 86_401.0, 4e9])
def test_clock_that_was_never_set_is_replaced_and_counted(time: float) -> None:
    """A node that believes in the year 2000, or in the future, gets the time of arrival."""
    clock = NodeClock()
    arrival = clock.place(Arrival(Scan("n", time, (), boot="a", seq=3), T + 0.25), is_host_clock=True)

    assert arrival == Arrival(Scan("n", T + 0.25, (), boot="a", seq=3), T + 0.25)
    assert clock.counts()["n"].replaced == 1


def test_recording_without_host_lines_is_believed() -> None:
    """Without a host's clock absolute times are all there is."""
    arrival = Arrival(Scan("n", 946_684_800.0, ()), T)

    assert NodeClock().place(arrival, is_host_clock=False) is arrival


def test_relative_time_without_up_counts_from_arrival() -> None:
    """RFC 8428 section 4.5.3: a time below 2**28 is relative to now."""
    clock = NodeClock()
    arrival = clock.place(told(None, T, time=-2.5), is_host_clock=True)

    assert arrival.scan == Scan("n", T - 2.5, (), boot="a", seq=1, oldest=0)
    assert clock.counts()["n"].mapped == 1


def test_steady_up_gives_steady_times_whatever_the_delays() -> None:
    """Delays of up to 2 s on the line do not show in the times once a quick line came through."""
    draw = random.Random(1)
    clock = NodeClock()
    placed(clock, told(0.0, T))
    times = [placed(clock, told(float(k), T + k + draw.uniform(0.0, 2.0))) for k in range(1, 500)]

    assert times == pytest.approx([T + k for k in range(1, 500)], abs=0.002)


def test_first_delay_is_slewed_out_and_time_never_runs_back() -> None:
    """A first line 3 s late puts the times 3 s late; they are drawn back by at most 5 % of the time that passes."""
    clock = NodeClock()
    times = [placed(clock, told(0.0, T + 3.0)), *[placed(clock, told(float(k), T + k)) for k in range(4, 100)]]
    steps = [b - a for a, b in pairwise(times[1:])]

    assert times[0] == T + 3.0
    assert min(steps) == pytest.approx(1 - SLEW_BACK, abs=0.0011)
    assert times[-1] == pytest.approx(T + 99, abs=0.001)


def test_drift_of_the_crystal_is_followed() -> None:
    """A node whose second is 200 ppm short (a poor crystal, common practice, no source) is followed within 0.2 s."""
    clock = NodeClock()
    times = [placed(clock, told(k * (1 - 200e-6), T + k)) for k in range(4000)]

    assert times == pytest.approx([T + k for k in range(4000)], abs=0.2)
    assert times[-1] - T - 3999 == pytest.approx(-WINDOW_S * 200e-6, abs=0.01)


def test_crystal_that_runs_fast_is_followed() -> None:
    """A node whose second is long is followed at once, since less delay is always believed."""
    clock = NodeClock()
    times = [placed(clock, told(k * (1 + 200e-6), T + k)) for k in range(2000)]

    assert times == pytest.approx([T + k for k in range(2000)], abs=0.002)


def test_kept_scan_gets_the_time_it_was_taken() -> None:
    """A scan sent again carries its age and its own up: it lands where it belongs, and teaches nothing wrong."""
    clock = NodeClock()
    for k in range(100):
        placed(clock, told(float(k), T + k))

    assert placed(clock, told(20.0, T + 100, time=-80.0)) == T + 20
    assert placed(clock, told(101.0, T + 101)) == T + 101


def test_new_boot_starts_anew() -> None:
    """After a reset up begins at 0 under a new boot, and the time goes on."""
    clock = NodeClock()
    placed(clock, told(5000.0, T))

    assert placed(clock, told(0.5, T + 12, boot="b")) == T + 12


@pytest.mark.parametrize(("up_s", "boot"), [(0.5, None), (5.0, "a")])
def test_up_that_falls_back_starts_anew(up_s: float, boot: str | None) -> None:
    """Without a new boot word too, an up far below the highest is a new count, wrapped or reset: no jump."""
    clock = NodeClock()
    placed(clock, told(2.0**30 / 1000, T, boot=boot))

    assert placed(clock, told(up_s, T + 12, boot=boot)) == T + 12
    assert placed(clock, told(up_s + 1, T + 13, boot=boot)) == T + 13


def test_up_beyond_two_to_the_thirty_milliseconds_goes_on() -> None:
    """Nothing happens at the up where a node's millisecond counter wraps, as long as the node sums it."""
    clock = NodeClock()
    wrap_s = 2.0**30 / 1000

    assert [placed(clock, told(wrap_s + k, T + k)) for k in range(-2, 3)] == [T + k for k in range(-2, 3)]


def test_reordered_line_is_not_a_reset() -> None:
    """A line that was overtaken keeps its time."""
    clock = NodeClock()
    placed(clock, told(100.0, T + 100))

    assert placed(clock, told(99.0, T + 100.5)) == T + 99


def test_host_clock_that_was_set_back_steps_at_once() -> None:
    """No line arrives before it was sent: an arrival more than 10 s too early means that the clock was set."""
    clock = NodeClock()
    placed(clock, told(100.0, T + 100))

    assert placed(clock, told(101.0, T - 3499)) == T - 3499


def test_host_clock_that_was_set_on_steps_after_nine_minutes() -> None:
    """A mapping that looks early by 3 h may be a slow line; after 540 s without one quick line it is believed."""
    clock = NodeClock()
    for k in range(100):
        placed(clock, told(float(k), T + k))
    shifted = [placed(clock, told(float(k), T + k + 10_800)) - T - k for k in range(100, 900)]

    assert max(shifted[:539]) < 1.0
    assert shifted[545] == 10_800


def test_slow_line_that_gets_quick_again_changes_little() -> None:
    """Ten minutes of packs 30 s late draw the times on by at most 0.1 % of the time that passes."""
    clock = NodeClock()
    for k in range(100):
        placed(clock, told(float(k), T + k))
    late = [placed(clock, told(float(k), T + k + 30)) - T - k for k in range(100, 500)]

    assert max(late) <= 400 * SLEW_ON + 0.001
    assert placed(clock, told(500.0, T + 500)) == pytest.approx(T + 500, abs=0.5)


def test_boots_with_a_mapping_are_bounded() -> None:
    """A node that resets without end costs bounded memory."""
    clock = NodeClock()
    for boot in "abcdefgh":
        placed(clock, told(1.0, T + ord(boot), boot=boot))

    assert len(clock._nodes["n"].mappings) == node_clock.MAX_BOOTS


def test_window_forgets() -> None:
    """Only delays of the last 10 min count, and few of them are kept."""
    clock = NodeClock()
    for k in range(2000):
        placed(clock, told(float(k), T + k + (0.0 if k == 0 else 0.5)))
    mapping = clock._nodes["n"].mappings["a"]

    assert mapping.offset == pytest.approx(T + 0.5)
    assert len(mapping.least) == 1


def test_restart_goes_on_with_the_mapping() -> None:
    """Saved and restored at any point, the times are the same."""
    draw = random.Random(2)
    arrivals = [told(float(k), T + k + draw.uniform(0.0, 2.0)) for k in range(200)]
    unbroken, cut = NodeClock(), NodeClock()
    plain = [placed(unbroken, arrival) for arrival in arrivals]
    times = []
    for arrival in arrivals:
        cut = NodeClock.restore(cut.save())
        times.append(placed(cut, arrival))

    assert times == plain
    assert cut.counts() == unbroken.counts()


def test_foreign_bytes_are_not_restored() -> None:
    """Bytes of something else are refused."""
    with pytest.raises(ValueError, match="Expected"):
        NodeClock.restore(b"\x01")
