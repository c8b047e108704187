"""The node's clock past the wrap of the tick counter (F46)."""

from fake_board import TICKS_PERIOD, FakeClock
from uptime import Uptime


def test_uptime_goes_on_when_the_ticks_wrap():
    """Ticks pass 2**30 ms between two questions and the sum grows by what has passed."""
    clock = FakeClock(TICKS_PERIOD - 1500)
    uptime = Uptime(clock)
    seen = []
    for _ in range(4):
        clock.sleep_ms(1000)
        seen.append(uptime.ms())

    assert seen == [1000, 2000, 3000, 4000]


def test_uptime_sums_beyond_the_period():
    """After more than one period the uptime is larger than any tick."""
    clock = FakeClock(7)
    uptime = Uptime(clock)
    for _ in range(8):
        clock.sleep_ms(TICKS_PERIOD // 4)
        uptime.ms()

    assert uptime.ms() == 2 * TICKS_PERIOD
