"""Switches at doors, and buttons: from what nodes say of them to the moments at which one was opened or pressed.

A door opens when its contact changes to open; one that stands open when it is first heard tells nothing, and so it is
with a button that is pressed. What is opened within 75 s of the last opening of a door of that kind belongs to the same
stoke (section "Findings" of DEVELOPERS.md); a second press of a button counts after a second.
Readings wait until their slot of record time is closed and are taken in order of time, then contact, so that neither
order of arrival nor cutting into blocks changes a moment.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import msgspec

from monitor.model import Scan
from monitor.site_file import ButtonPart, ContactPart

ONE_STOKE_S = 75.0
"""Charges less than this apart are one stoke (definition)."""
ONE_PRESS_S = 1.0


@dataclass(frozen=True, slots=True)
class Opened:
    """At epoch second `time` a door (front, side) was opened, or a button pressed that means `what` (seen, present)."""

    time: float
    what: str


@dataclass(frozen=True, slots=True)
class _Part:
    """One switch; openings less than `one_s` apart are one."""

    input: str
    what: str
    open: bool
    one_s: float


class _State(msgspec.Struct):
    waiting: list[tuple[float, int, bool]] = msgspec.field(default_factory=list)  # time, contact, is it open
    is_open: dict[int, bool] = msgspec.field(default_factory=dict)  # by contact, as last taken
    opened: dict[str, float] = msgspec.field(default_factory=dict)  # by door or meaning, its newest opening


class Contacts:
    """The contacts and buttons of one site."""

    def __init__(self, contacts: Sequence[ContactPart], buttons: Sequence[ButtonPart] = ()) -> None:
        self._parts = [_Part(c.input, c.door, c.open, ONE_STOKE_S) for c in contacts]
        self._parts += [_Part(b.input, b.means, b.pressed, ONE_PRESS_S) for b in buttons]
        self._places = {part.input: i for i, part in enumerate(self._parts)}
        self._state = _State()

    def hold(self, scan: Scan) -> None:
        """Keep what a scan of absolute time says of contacts until its slot closes."""
        if not self._parts:
            return
        for reading in scan.readings:
            place = self._places.get(reading.input)
            if place is not None and reading.contact is not None:
                is_open = reading.contact == self._parts[place].open
                self._state.waiting.append((scan.time, place, is_open))

    def opened(self, before: float) -> list[Opened]:
        """Return in order what was opened before record time `before`, and forget the readings until then."""
        state = self._state
        due = sorted(entry for entry in state.waiting if entry[0] < before)
        state.waiting = [entry for entry in state.waiting if entry[0] >= before]
        told = []
        for time, place, is_open in due:
            if is_open and state.is_open.get(place) is False:
                part = self._parts[place]
                if time - state.opened.get(part.what, float("-inf")) >= part.one_s:
                    told.append(Opened(time, part.what))
                state.opened[part.what] = time
            state.is_open[place] = is_open
        return told

    def save(self) -> bytes:
        """Return the state as bytes."""
        return msgspec.msgpack.encode(self._state)

    def restore(self, saved: bytes) -> None:
        """Go on from what `save` returned.

        Raises:
            ValueError: where `saved` is damaged or belongs to other contacts.
        """
        try:
            state = msgspec.msgpack.decode(saved, type=_State)
        except msgspec.DecodeError as error:
            raise ValueError(f"the saved contacts cannot be read: {error}") from error
        places = {place for _, place, _ in state.waiting} | set(state.is_open)
        if any(place >= len(self._parts) for place in places):
            raise ValueError("the saved contacts belong to another site file")
        self._state = state
