"""The prompts of one kiln: what is due, what was ticked by whom, what was answered; all of it can be saved.

A prompt is open while its moment lasts and it is not done: all points ticked, or answered. What cannot be known opens
and closes nothing. One whose row says so comes back some time after it was done.
"""

from collections.abc import Iterator

import msgspec

from monitor.alarms.moments import moments_of
from monitor.alarms.prompt_table import Moment, PromptRow, PromptTable
from monitor.alarms.sign import Sight
from monitor.model import Entry, EntryKind, Prompt, PromptPoint

SAVED_VERSION = 1
HANDOVER = "handover"
TRAIL_S = 300.0
"""The guide's temperature is remembered so often, to know how far it fell."""


class _Held(msgspec.Struct):
    """What is remembered of one prompt; `ticks` are (who, when) by point, `moment` its watch change."""

    since: float | None = None
    done_at: float | None = None
    ticks: dict[str, tuple[str, float]] = {}
    moment: float | None = None


class _Saved(msgspec.Struct):
    version: int = SAVED_VERSION
    held: dict[str, _Held] = {}
    trail: list[tuple[float, float]] = []


class PromptBook:
    """All prompts of one kiln; `version` grows with each change."""

    def __init__(self, table: PromptTable) -> None:
        self._table = table
        self._state = _Saved()
        self.version = 0

    def take(self, entry: Entry) -> None:
        """Note what somebody ticked or answered; anything else is no business of prompts."""
        if entry.note is None or entry.what not in {EntryKind.TICKED, EntryKind.ANSWERED}:
            return
        prompt_id, _, item = entry.note.partition("/")
        held = self._state.held.get(prompt_id)
        row = next((r for r in self._table.prompt if r.id == prompt_id), None)
        if held is None or held.since is None or row is None:
            return
        who = entry.who or ""
        if entry.what is EntryKind.TICKED and item in {p.id for p in row.points}:
            held.ticks.setdefault(item, (who, entry.time))
            if len(held.ticks) == len(row.points):
                held.done_at, held.since = entry.clock, None
        elif entry.what is EntryKind.ANSWERED and item in {a.id for a in row.answers}:
            held.done_at, held.since = entry.clock, None
        self.version += 1

    def step(self, sight: Sight) -> None:
        """Open and close prompts by what is seen at `sight.now`."""
        moments = moments_of(sight, self._table.settings, self._highest_c(sight))
        for row in self._table.prompt:
            self._follow(row, sight, is_there=moments[row.when])

    def open(self) -> list[Prompt]:
        """Return what is expected of people now, the most pressing first."""
        return list(self._open())

    def handover_due_since(self) -> float | None:
        """Return since when a handover is due of which nobody ticked a point, epoch seconds; None where none is."""
        held = self._state.held.get(HANDOVER)
        return None if held is None or held.ticks else held.since

    def save(self) -> bytes:
        """Return all state as JSON."""
        return msgspec.json.encode(self._state)

    def restore(self, saved: bytes) -> None:
        """Go on from what `save` returned.

        Raises:
            ValueError: where `saved` is damaged or of another version.
        """
        try:
            state = msgspec.json.decode(saved, type=_Saved)
        except msgspec.DecodeError as error:
            raise ValueError(f"the saved prompts cannot be read: {error}") from error
        if state.version != SAVED_VERSION:
            raise ValueError(f"the saved prompts have version {state.version}; this program reads {SAVED_VERSION}")
        self._state = state
        self.version += 1

    def _follow(self, row: PromptRow, sight: Sight, *, is_there: bool | None) -> None:
        now = sight.now
        held = self._state.held.get(row.id)
        if is_there is None:
            return
        if not is_there:
            if held is not None:
                del self._state.held[row.id]
                self.version += held.since is not None
            return
        moment = sight.seen.watch_changed if row.when is Moment.WATCH_CHANGE else None
        if held is None or held.moment != moment:
            self._open_anew(row, moment, now)
        elif held.since is not None:
            held.since = min(held.since, now)
        elif held.done_at is not None:
            held.done_at = min(held.done_at, now)
            if row.again_s and now - held.done_at >= row.again_s:
                self._open_anew(row, moment, now)

    def _open_anew(self, row: PromptRow, moment: float | None, now: float) -> None:
        self._state.held[row.id] = _Held(since=now, moment=moment)
        self.version += 1

    def _open(self) -> Iterator[Prompt]:
        for row in self._table.prompt:
            held = self._state.held.get(row.id)
            if held is not None and held.since is not None:
                points = tuple(PromptPoint(p.id, p.text, *held.ticks.get(p.id, (None, None))) for p in row.points)
                answers = tuple((a.id, a.text) for a in row.answers)
                yield Prompt(row.id, row.title, row.text, held.since, row.chime, points, answers)

    def _highest_c(self, sight: Sight) -> float | None:
        """Keep the guide's trail and return its highest within the time that counts; None before that time is over."""
        trail, falling_s = self._state.trail, self._table.settings.falling_s
        celsius = sight.seen.celsius.get(sight.seen.guide or "")
        trail[:] = [(at, c) for at, c in trail if sight.now - falling_s - TRAIL_S <= at <= sight.now]
        if celsius is not None and (not trail or sight.now - trail[-1][0] >= TRAIL_S):
            trail.append((sight.now, celsius))
        if not trail or sight.now - trail[0][0] < falling_s - TRAIL_S:
            return None
        return max(c for _, c in trail)
