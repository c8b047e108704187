"""The names that a pack may hold, what their values may be, and why a pack is refused.

Names, units and words are those of DEVELOPERS.md, "A scan on the wire"; the rules for names are RFC 8428 section 4.5.1.
Limits are far outside any instrument: they refuse nonsense, while a converter's own fault codes (a cold junction of 128
or -64 degC) pass, since those are a fault of that input and not of the pack.
"""

import re
from enum import StrEnum
from functools import lru_cache
from typing import Final, NamedTuple

from monitor.model import InputFault

HOST_NODE: Final = "host"
"""Node name reserved for the service itself."""

RELATIVE_BELOW_S: Final = 2.0**28
"""RFC 8428 section 4.5.3: a time below this is relative to now, seconds."""

LATEST_TIME_S: Final = 253402300800.0
"""Year 10000, the first time that ISO 8601 with four digits cannot write."""

MAX_NAME_CHARS: Final = 256


class PackFault(StrEnum):
    """Why a pack was refused."""

    TOO_LONG = "too-long"
    NOT_JSON = "not-json"
    WRONG_TYPE = "wrong-type"
    UNKNOWN_LABEL = "unknown-label"  # RFC 8428 section 4.4: a label ending in _ must be understood
    VERSION = "version"
    NAME = "name"
    UNIT = "unit"
    NO_VALUE = "no-value"
    RANGE = "range"
    REPEATED = "repeated-record"


class PackError(ValueError):
    """A pack that is refused whole; `reason` says which kind of fault it has."""

    def __init__(self, reason: PackFault, what: str) -> None:
        super().__init__(f"{reason}: {what}")
        self.reason = reason


class NumberField(NamedTuple):
    """A number, whose unit must be `unit` and whose value from `low` to `high`; `at` is its place in a reading."""

    name: str
    at: int | None
    unit: str
    low: float
    high: float
    is_whole: bool = False


class WordField(NamedTuple):
    """A word in `vs`, or true or false in `vb`; `at` is its place in a reading."""

    name: str
    at: int | None


_LAST_WHOLE: Final = 2.0**53 - 1
_KELVIN_ZERO_C: Final = -273.15

EMF, COLD_JUNCTION, FAULT, TEMPERATURE, OXYGEN, CONTACT = range(6)
"""Places of the fields in a reading, in the order of `Reading` after its name."""

INPUT_FIELDS: Final[dict[str, NumberField | WordField]] = {
    "emf": NumberField("emf", EMF, "V", -1.0, 1.0),
    "cj": NumberField("cj", COLD_JUNCTION, "Cel", _KELVIN_ZERO_C, 1000.0),
    "fault": WordField("fault", FAULT),
    "temp": NumberField("temp", TEMPERATURE, "Cel", _KELVIN_ZERO_C, 5000.0),
    "o2emf": NumberField("o2emf", OXYGEN, "V", -5.0, 5.0),
    "contact": WordField("contact", CONTACT),
}
NODE_FIELDS: Final[dict[str, NumberField | WordField]] = {
    "boot": WordField("boot", None),
    "seq": NumberField("seq", None, "count", 0.0, _LAST_WHOLE, is_whole=True),
    "oldest": NumberField("oldest", None, "count", 0.0, _LAST_WHOLE, is_whole=True),
    "up": NumberField("up", None, "s", 0.0, 1e12),
    "tick": NumberField("tick", None, "count", 0.0, _LAST_WHOLE),
}
_FAULTS: Final = {fault.value: fault for fault in InputFault}
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9\-:./_]*")
_BOOT = re.compile(r"[!-~]{1,64}")


class KnownName(NamedTuple):
    """A resolved name that we understand; `input` is the input's full name, empty for the node's own fields."""

    node: str
    input: str
    field: NumberField | WordField


@lru_cache(maxsize=4096)
def known_name(name: str) -> KnownName | None:
    """Return what a resolved name stands for, None for one that we do not know.

    Raises:
        PackError: RFC 8428 does not allow such a name.
    """
    if not name:
        return None
    if len(name) > MAX_NAME_CHARS or not _NAME.fullmatch(name):
        raise PackError(PackFault.NAME, f"{name[:MAX_NAME_CHARS]!r} is no name of RFC 8428 section 4.5.1")
    parts = name.split("/")
    if not all(parts):
        return None
    if len(parts) == 2 and parts[1] in NODE_FIELDS:
        return KnownName(parts[0], "", NODE_FIELDS[parts[1]])
    if len(parts) == 3 and parts[2] in INPUT_FIELDS:
        return KnownName(parts[0], f"{parts[0]}/{parts[1]}", INPUT_FIELDS[parts[2]])
    return None


def checked_boot(boot: str) -> str:
    """Return `boot` if the heartbeat line can carry it: one word, and not the "-" that stands for none."""
    if not _BOOT.fullmatch(boot) or boot == "-":
        raise PackError(PackFault.RANGE, "boot must be 1 to 64 printable characters without spaces, not '-'")
    return boot


def checked_fault(word: str) -> InputFault:
    """Return the fault that `word` names."""
    if word not in _FAULTS:
        raise PackError(PackFault.RANGE, f"unknown fault {word[:40]!r}, one of {', '.join(_FAULTS)}")
    return _FAULTS[word]


def checked_time(time: float) -> float:
    """Return `time` if it is a relative one of RFC 8428 or lies before the year 10000."""
    if not -RELATIVE_BELOW_S < time < LATEST_TIME_S:
        raise PackError(PackFault.RANGE, f"time {time} s")
    return time
