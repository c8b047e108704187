"""Whether a stream keeps the pace that it was asked for, in words when it does not; pure."""

LATE_S = 1.0
"""Lateness that is told, seconds."""
TOLD_EVERY_S = 10.0


class Pace:
    """Lateness in, words out: at the first lateness, then at most every `TOLD_EVERY_S`, and when it is made good."""

    def __init__(self) -> None:
        self.worst_s = 0.0
        """Longest lateness so far, seconds."""
        self._told_at: float | None = None

    def note(self, late_s: float, now_s: float) -> str | None:
        """Return what is to be told when at `now_s` something goes out `late_s` after it was due, None for nothing."""
        self.worst_s = max(self.worst_s, late_s)
        if late_s < LATE_S:
            was_late, self._told_at = self._told_at is not None, None
            return "the stream is on time again" if was_late else None
        if self._told_at is not None and now_s < self._told_at + TOLD_EVERY_S:
            return None
        self._told_at = now_s
        return f"the stream is {late_s:.1f} s late: the host or this machine cannot keep up with the speed asked for"
