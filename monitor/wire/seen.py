"""Which scans were seen: sequence numbers as disjoint ranges, times where a node sends no numbers.

Both remember for ever what they were told, in little memory, and go to bytes and back with the state they belong to.
"""

from bisect import bisect_left, bisect_right
from struct import Struct
from typing import Final

import msgspec

MAX_TIMES: Final = 500_000
"""Times remembered a node, 5.8 days at one a second; what is older counts as seen."""

_DOUBLE: Final = Struct("@d")


class SeenNumbers(msgspec.Struct):
    """Sequence numbers seen, as rising disjoint ranges `lows[i]` to `highs[i]`, both included."""

    lows: list[int] = msgspec.field(default_factory=list)
    highs: list[int] = msgspec.field(default_factory=list)

    @property
    def highest(self) -> int:
        """The highest number seen, -1 before the first."""
        return self.highs[-1] if self.highs else -1

    def add(self, number: int) -> bool:
        """Remember `number`; return whether it was new."""
        lows, highs = self.lows, self.highs
        if highs and number == highs[-1] + 1:
            highs[-1] = number
            return True
        at = bisect_right(lows, number)
        if at and number <= highs[at - 1]:
            return False
        meets_lower = at > 0 and highs[at - 1] == number - 1
        meets_upper = at < len(lows) and lows[at] == number + 1
        if meets_lower and meets_upper:
            highs[at - 1] = highs[at]
            del lows[at], highs[at]
        elif meets_lower:
            highs[at - 1] = number
        elif meets_upper:
            lows[at] = number
        else:
            lows.insert(at, number)
            highs.insert(at, number)
        return True

    def reach(self, number: int) -> int:
        """Return the highest number up to which all behind `number` were seen; `number` itself if the next was not."""
        at = bisect_right(self.lows, number + 1) - 1
        return max(number, self.highs[at]) if at >= 0 else number

    def missing_between(self, low: int, high: int) -> int:
        """Return how many of the numbers `low` to `high` were not seen."""
        missing = high - low + 1
        for at in range(max(bisect_right(self.lows, low) - 1, 0), bisect_right(self.lows, high)):
            missing -= max(0, min(high, self.highs[at]) - max(low, self.lows[at]) + 1)
        return missing


class SeenTimes(msgspec.Struct):
    """Scan times seen, as rising doubles in native order; what lies before `forgotten_before` counts as seen."""

    packed: bytearray = msgspec.field(default_factory=bytearray)
    newest: float = float("-inf")
    forgotten_before: float = float("-inf")

    def add(self, time: float) -> bool:
        """Remember `time`; return whether it was new."""
        if time > self.newest:
            self.packed += _DOUBLE.pack(time)
            self.newest = time
            self._forget_oldest()
            return True
        if time < self.forgotten_before:
            return False
        with memoryview(self.packed) as view, view.cast("d") as times:
            at = bisect_left(times, time)
            if times[at] == time:
                return False
        self.packed[at * _DOUBLE.size : at * _DOUBLE.size] = _DOUBLE.pack(time)
        return True

    def _forget_oldest(self) -> None:
        """Forget a tenth at a time, since moving all the rest costs as much for one as for many."""
        if len(self.packed) > MAX_TIMES * _DOUBLE.size:
            del self.packed[: MAX_TIMES // 10 * _DOUBLE.size]
            self.forgotten_before = _DOUBLE.unpack_from(self.packed)[0]
