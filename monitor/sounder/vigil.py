"""What should sound now, from what the service says and from its silence; pure: seconds come in.

While a firing is open a service that gives no good answer, or whose work does not go on, is itself an alarm of the
first priority. Whether one is open is remembered, since a dead service cannot say. Until then, and for no longer, what
it said last counts: one answer that is missed silences no alarm.
"""

from dataclasses import dataclass

from monitor.sounder.pattern import Pattern

SILENT_S = 10.0
"""So long without a good answer and the service counts as stuck (starting value)."""
HUSH_S = 60.0

_PATTERNS = {1: Pattern.FIRST, 2: Pattern.SECOND, 3: Pattern.THIRD}


@dataclass(frozen=True, slots=True)
class Word:
    """One answer of the service.

    `beats` grows with each second of its work. `sounding` is the priority that should be heard, None for quiet,
    `louder` whether it was not seen for too long, `silenced` whether somebody switched all sound off for a short while.
    `stuck` says why nothing is judged, None while it is. `armed` says whether a firing is open.
    """

    beats: int
    sounding: int | None
    louder: bool
    silenced: bool
    stuck: str | None
    armed: bool


class Vigil:
    """The state of one sounder; `armed` as remembered from before, `now_s` seconds of a clock that only grows."""

    def __init__(self, now_s: float, *, armed: bool) -> None:
        self.armed = armed
        self.trouble: str | None = None
        self._well_s = self._heard_s = now_s
        self._beats: int | None = None
        self._word: Word | None = None
        self._hushed_until_s = now_s

    def hear(self, word: Word, now_s: float) -> None:
        """Take in an answer; one that shows no progress is no good one."""
        self.armed, self._word, self._heard_s = word.armed, word, now_s
        if word.stuck is not None:
            self.trouble = word.stuck
        elif word.beats == self._beats:
            self.trouble = "the service answers, but its work does not go on"
        else:
            self.trouble, self._well_s = None, now_s
        self._beats = word.beats

    def miss(self, why: str) -> None:
        """Note that no answer came."""
        self.trouble = why

    def hush(self, now_s: float) -> None:
        """Let nothing sound for a minute: somebody is at the host."""
        self._hushed_until_s = now_s + HUSH_S

    def wanted(self, now_s: float) -> tuple[Pattern, bool] | None:
        """Return the pattern that should be heard now and whether it is to be louder, None for quiet."""
        word = self._word if now_s - self._heard_s < SILENT_S else None
        if now_s < self._hushed_until_s or (word is not None and word.silenced):
            return None
        if self.armed and now_s - self._well_s >= SILENT_S:
            return Pattern.FIRST, True
        if word is None or word.sounding is None:
            return None
        return _PATTERNS[word.sounding], word.louder
