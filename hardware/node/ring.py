"""Scans kept in memory until the host reports them committed, and the rule for sending them again.

The memory is claimed once at the start: 8 + 7 bytes per input for each scan. When it is full the oldest scan goes;
every pack names the lowest number that is left, so the host knows what it will never get. Nothing here survives a
reset of the node.
"""

import struct

STANDS_STILL_MS = 10000
"""The reported number has stood still this long: send again from the first unreported scan."""
HOST_IS_HERE_MS = 15000
"""The host speaks at least every 5 s; silent for this long it is not listening, and sending again would be in vain."""

_READING = "<Bih"
_READING_BYTES = 7


class Ring:
    """The newest `capacity` scans of `inputs` readings each, numbered from 1."""

    def __init__(self, capacity, inputs):
        self._capacity = capacity
        self._slot_bytes = 8 + _READING_BYTES * inputs
        self._memory = bytearray(capacity * self._slot_bytes)
        self._reported = 0
        self.newest = 0

    def oldest(self):
        """Return the lowest number that is kept; one above the newest when everything is reported."""
        return max(self._reported, self.newest - self._capacity) + 1

    def keep(self, up_ms, readings):
        """Store a scan and return its number."""
        self.newest += 1
        at = self._place(self.newest)
        struct.pack_into("<Q", self._memory, at, up_ms)
        for kind, emf, cold in readings:
            struct.pack_into(_READING, self._memory, at + 8, kind, emf, cold)
            at += _READING_BYTES
        return self.newest

    def scan(self, seq):
        """Return (seq, up_ms, readings) of a kept scan."""
        at = self._place(seq)
        up_ms = struct.unpack_from("<Q", self._memory, at)[0]
        places = range(at + 8, at + self._slot_bytes, _READING_BYTES)
        return seq, up_ms, [struct.unpack_from(_READING, self._memory, place) for place in places]

    def report(self, seq):
        """Take the host's word that everything up to seq is committed; say whether that frees a kept scan.

        A number below that only follows what a full memory lost: taken for progress, nothing would ever be sent again.
        """
        if not self.oldest() <= seq <= self.newest:
            return False
        self._reported = seq
        return True

    def _place(self, seq):
        return seq % self._capacity * self._slot_bytes


class Resend:
    """Decides which scans go out again, and when."""

    def __init__(self, ring, now_ms):
        self._ring = ring
        self._still_since_ms = now_ms
        self._heard_ms = None
        self._next = None
        self._last = 0

    def heard(self, boot_is_ours, seq, now_ms):
        """Take in a heartbeat; a number of another boot only shows that the host is here."""
        self._heard_ms = now_ms
        if boot_is_ours and self._ring.report(seq):
            self._still_since_ms = now_ms

    def due(self, now_ms, most):
        """Return up to `most` numbers to send again now."""
        if self._next is None and self._is_time(now_ms):
            self._next = self._ring.oldest()
            self._last = self._ring.newest  # what comes later goes out fresh by itself
        if self._next is None:
            return []
        first = max(self._next, self._ring.oldest())
        after = min(first + most, self._last + 1)
        self._next = after
        if after > self._last or not self._is_host_here(now_ms):
            self._next = None
            self._still_since_ms = now_ms
        return range(first, after)

    def _is_time(self, now_ms):
        has_some = self._ring.oldest() <= self._ring.newest
        return has_some and self._is_host_here(now_ms) and now_ms - self._still_since_ms >= STANDS_STILL_MS

    def _is_host_here(self, now_ms):
        return self._heard_ms is not None and now_ms - self._heard_ms < HOST_IS_HERE_MS
