"""Time since the node started, in milliseconds, counted past the wrap of the tick counter.

`ticks_ms` starts again from 0 at a power of two (2**30 ms, 12.4 days, on the common ports), so the differences are
summed. It must be asked at least once in half that time; the node asks hundreds of times a second.
"""


class Uptime:
    """A clock that only goes on. `clock` offers `ticks_ms` and `ticks_diff` like the module `time`."""

    def __init__(self, clock):
        self._clock = clock
        self._last = clock.ticks_ms()
        self._sum_ms = 0

    def ms(self):
        """Return the milliseconds since this object was made."""
        now = self._clock.ticks_ms()
        self._sum_ms += self._clock.ticks_diff(now, self._last)
        self._last = now
        return self._sum_ms
