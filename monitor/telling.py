"""What a panel tells, as the entry that is kept of it; pure: the clock comes in."""

from dataclasses import dataclass

from monitor.model import Entry, EntryKind

CLOSING_ANSWER = "phase/closed-up"


@dataclass(frozen=True, slots=True)
class Told:
    """What a panel tells: see `monitor.model.Entry`; `ago_s` seconds ago it was done."""

    id: str
    what: EntryKind
    door: str | None = None
    ago_s: float = 0.0
    who: str | None = None
    note: str | None = None


def entry_of(told: Told, clock: float, begun: float, speed: float) -> Entry:
    """Return the entry of `told` at record clock `clock`, in a firing begun at `begun`, `speed` times as fast as life.

    To answer that the kiln is closed up is to tell it.
    """
    is_closing = told.what is EntryKind.ANSWERED and told.note == CLOSING_ANSWER
    what, note = (EntryKind.CLOSED_UP, None) if is_closing else (told.what, told.note)
    time = min(max(begun, clock - told.ago_s * speed), clock)
    return Entry(told.id, clock, time, what, told.door, told.who, note)
