"""Switches at doors: from what nodes say of them to the moments at which a door was opened to stoke.

A door opens when its contact changes to open; one that stands open when it is first heard tells nothing. What is opened
within 75 s of the last opening of a door of that kind belongs to the same stoke (section "Findings" of DEVELOPERS.md).
Readings wait until their slot of record time is closed and are taken in order of time, then contact, so that neither
order of arrival nor cutting into blocks changes a moment.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import msgspec

from monitor.model import Scan
from monitor.site_file import ContactPart

ONE_STOKE_S = 75.0
"""Charges less than this apart are one stoke (definition)."""


@dataclass(frozen=True, slots=True)
class DoorOpened:
    """A door (front or side) was opened at epoch second `time`."""

    time: float
    door: str


class _State(msgspec.Struct):
    waiting: list[tuple[float, int, bool]] = msgspec.field(default_factory=list)  # time, contact, is it open
    is_open: dict[int, bool] = msgspec.field(default_factory=dict)  # by contact, as last taken
    opened: dict[str, float] = msgspec.field(default_factory=dict)  # by door, its newest opening


class Contacts:
    """The contacts of one site."""

    def __init__(self, parts: Sequence[ContactPart]) -> None:
        self._parts = tuple(parts)
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

    def opened(self, before: float) -> list[DoorOpened]:
        """Return in order what was opened before record time `before`, and forget the readings until then."""
        state = self._state
        due = sorted(entry for entry in state.waiting if entry[0] < before)
        state.waiting = [entry for entry in state.waiting if entry[0] >= before]
        told = []
        for time, place, is_open in due:
            if is_open and state.is_open.get(place) is False:
                door = self._parts[place].door
                if time - state.opened.get(door, float("-inf")) >= ONE_STOKE_S:
                    told.append(DoorOpened(time, door))
                state.opened[door] = time
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
