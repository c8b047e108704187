"""What people told, as host lines of a recording: one SenML pack each, at the record clock at which it was told."""

import re
from typing import Any, Final

import msgspec

from monitor.model import Entry, EntryKind
from monitor.wire.fields import HOST_NODE, LATEST_TIME_S, RELATIVE_BELOW_S, PackError, PackFault

DOORS: Final = ("front", "side")
MOST_WHO_CHARS: Final = 80
ID_PATTERN: Final = r"[A-Za-z0-9\-]{1,40}"

NOTED: Final = frozenset({EntryKind.TICKED, EntryKind.ANSWERED, EntryKind.HEARD})
"""What needs a note: which point, which answer, which voice."""
NOTE_PATTERN: Final = r"[A-Za-z0-9 ._\-]{1,80}/[a-z0-9\-]{1,39}"

_ID: Final = re.compile(ID_PATTERN)
_NOTE: Final = re.compile(NOTE_PATTERN)
_NAME: Final = "entry"


class _Part(msgspec.Struct, gc=False):
    n: str = ""
    bn: str = ""
    bt: float = 0.0
    v: float | None = None
    vs: str | None = None


_PARTS: Final = msgspec.json.Decoder(list[_Part])


def write_entry(entry: Entry) -> bytes:
    """Return the host line that tells `entry`."""
    parts: list[dict[str, Any]] = [
        {"bn": f"{HOST_NODE}/", "bt": entry.clock, "n": _NAME, "vs": entry.what.value},
        {"n": f"{_NAME}/id", "vs": entry.id},
        {"n": f"{_NAME}/time", "u": "s", "v": entry.time},
    ]
    if entry.door is not None:
        parts.append({"n": f"{_NAME}/door", "vs": entry.door})
    if entry.who is not None:
        parts.append({"n": f"{_NAME}/who", "vs": entry.who})
    if entry.note is not None:
        parts.append({"n": f"{_NAME}/note", "vs": entry.note})
    return msgspec.json.encode(parts)


def read_entry(payload: bytes) -> Entry | None:
    """Return the entry that a host line tells, None for one that tells something else.

    Raises:
        PackError: it begins as an entry and is none.
    """
    try:
        parts = _PARTS.decode(payload)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        return None  # whoever reads the line as a pack says what is wrong with it
    if not parts or (parts[0].bn, parts[0].n) != (f"{HOST_NODE}/", _NAME):
        return None
    words = {part.n: part.vs for part in parts if part.vs is not None}
    time = next((part.v for part in parts if part.n == f"{_NAME}/time"), None)
    return checked_entry(
        Entry(
            id=words.get(f"{_NAME}/id", ""),
            clock=parts[0].bt,
            time=parts[0].bt if time is None else time,
            what=_kind(words.get(_NAME)),
            door=words.get(f"{_NAME}/door"),
            who=words.get(f"{_NAME}/who"),
            note=words.get(f"{_NAME}/note"),
        )
    )


def checked_entry(entry: Entry) -> Entry:
    """Return `entry` if every part of it can be meant.

    Raises:
        PackError: it cannot, with the part that is wrong.
    """
    if not _ID.fullmatch(entry.id):
        raise PackError(PackFault.RANGE, "an entry's id is 1 to 40 letters, digits and hyphens")
    if not RELATIVE_BELOW_S <= entry.time <= entry.clock < LATEST_TIME_S:
        raise PackError(PackFault.RANGE, f"an entry of {entry.time} s, told at {entry.clock} s")
    if entry.door not in (DOORS if entry.what is EntryKind.STOKED else (None,)):
        raise PackError(PackFault.RANGE, f"{entry.what} with door {entry.door!r}; only a stoke has one, front or side")
    if entry.who is not None and len(entry.who) > MOST_WHO_CHARS:
        raise PackError(PackFault.RANGE, f"a name of {len(entry.who)} characters, at most {MOST_WHO_CHARS}")
    if (entry.note is None) is (entry.what in NOTED) or not _NOTE.fullmatch(entry.note or "a/b"):
        asks = "1 to 120 characters with a '/' between" if entry.what in NOTED else "none"
        raise PackError(PackFault.RANGE, f"{entry.what} with note {entry.note!r}; it takes {asks}")
    return entry


def _kind(word: str | None) -> EntryKind:
    try:
        return EntryKind(word or "")
    except ValueError:
        raise PackError(PackFault.RANGE, f"unknown entry {word!r}, one of {', '.join(EntryKind)}") from None
