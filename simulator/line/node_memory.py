"""A node's memory: scans kept until the host reports them committed, and when they are sent again; pure.

The rule is that of the firmware in `hardware/node/`: while the reported number stands still for 10 s and the host is
there, all that is unreported goes out again, a few scans beside each fresh one. A full memory forgets its oldest.
Seconds are those in which the host speaks: of life on a line, of kiln time where the host is imagined.
"""

from collections import deque
from itertools import islice

from monitor.model import Scan

KEPT_SCANS = 2_700
"""Scans kept: 45 minutes at one a second."""
STANDS_STILL_S = 10.0
"""The reported number has stood still this long: send again from the first unreported scan."""
HOST_IS_HERE_S = 15.0
"""The host speaks at least every 5 s; silent for this long it is not listening."""
SENT_AGAIN_AT_ONCE = 8
"""Scans sent again beside each fresh one."""


class NodeMemory:
    """The newest unreported scans of one boot, their numbers rising by one."""

    def __init__(self, capacity: int = KEPT_SCANS) -> None:
        self._kept: deque[Scan] = deque(maxlen=capacity)
        self._newest = -1
        self._still_since_s: float | None = None
        self._heard_s = float("-inf")
        self._next: int | None = None
        self._last = -1

    @property
    def oldest(self) -> int | None:
        """Lowest number that can still be sent, None where nothing is kept."""
        return self._kept[0].seq if self._kept else None

    def keep(self, scan: Scan) -> None:
        """Keep a fresh scan, which has a number."""
        self._kept.append(scan)
        self._newest = _number(scan)

    def forget(self) -> None:
        """Lose everything, as a start anew does."""
        self._kept.clear()
        self._still_since_s = None
        self._next = None

    def heard(self, boot: str | None, seq: int, now_s: float) -> None:
        """Take the host's word that all of `boot` up to `seq` is committed; any word shows that it is here."""
        self._heard_s = now_s
        if not self._kept or boot != self._kept[0].boot or not _number(self._kept[0]) <= seq <= self._newest:
            return  # a number that only follows the oldest that is lost frees nothing, and stands still in that
        self._still_since_s = now_s
        while self._kept and _number(self._kept[0]) <= seq:
            self._kept.popleft()

    def due(self, now_s: float) -> list[Scan]:
        """Return the scans to send again now."""
        if self._still_since_s is None:
            self._still_since_s = now_s
        if self._next is None and self._is_time(now_s):
            self._next = _number(self._kept[0])
            self._last = self._newest  # what comes later goes out fresh by itself
        if self._next is None:
            return []
        again = self._from(self._next)
        self._next = _number(again[-1]) + 1 if again else self._last + 1
        if self._next > self._last or not self._is_host_here(now_s):
            self._next = None
            self._still_since_s = now_s
        return again

    def _from(self, number: int) -> list[Scan]:
        """Return the next few kept scans from `number` on, up to the last one to be sent again."""
        if not self._kept:
            return []
        first = _number(self._kept[0])
        begin = max(number - first, 0)
        end = min(begin + SENT_AGAIN_AT_ONCE, self._last + 1 - first)
        return list(islice(self._kept, begin, max(begin, end)))

    def _is_time(self, now_s: float) -> bool:
        assert self._still_since_s is not None
        return bool(self._kept) and self._is_host_here(now_s) and now_s - self._still_since_s >= STANDS_STILL_S

    def _is_host_here(self, now_s: float) -> bool:
        return now_s - self._heard_s < HOST_IS_HERE_S


def _number(scan: Scan) -> int:
    assert scan.seq is not None
    return scan.seq
