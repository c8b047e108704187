"""The parts of a site file that concern people: what they agreed on, who is on watch when, whom to call."""

import re
from datetime import time
from itertools import pairwise
from typing import Annotated, Literal

from pydantic import Field, field_validator

from monitor.strict_toml import StrictPart

Words = Annotated[str, Field(min_length=1, max_length=400)]
_PHONE = re.compile(r"[0-9+*#()/. -]{2,40}")
_TIME = re.compile(r"([01][0-9]|2[0-3]):[0-5][0-9]")
_MOST_MINUTES = 240.0


class AgreedPart(StrictPart):
    """What the crew agreed on before lighting.

    `ware` says whether raw ware stands in the kiln, `spread_c` how far the chamber's sensors may be apart,
    `reduction_c` in which ranges of the guide's temperature reduction is wanted, `stoke_every` (degC at the guide,
    minutes) how often the front is stoked, linear between points and not agreed below the first.
    """

    ware: Literal["raw", "bisque"] = "raw"
    spread_c: Annotated[float, Field(gt=0)] | None = None
    reduction_c: tuple[tuple[float, float], ...] | None = None
    stoke_every: tuple[tuple[float, Annotated[float, Field(gt=0, le=_MOST_MINUTES)]], ...] = ()

    @field_validator("reduction_c")
    @classmethod
    def _ranges(cls, ranges: tuple[tuple[float, float], ...] | None) -> tuple[tuple[float, float], ...] | None:
        if any(low >= high for low, high in ranges or ()):
            raise ValueError("each range is two temperatures, the second above the first, such as [[900, 1250]]")
        return ranges

    @field_validator("stoke_every")
    @classmethod
    def _rising(cls, points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        if any(a[0] >= b[0] for a, b in pairwise(points)):
            raise ValueError("degC must rise from point to point, such as [[300, 20], [1000, 6]]")
        return points


class CrewPart(StrictPart):
    """The watch: local times at which it changes, and whether people are to show that they are there."""

    changes: tuple[str, ...] = ()
    sign_of_life: Annotated[bool, Field(strict=True)] = True

    @field_validator("changes")
    @classmethod
    def _times_of_day(cls, changes: tuple[str, ...]) -> tuple[str, ...]:
        if any(not _TIME.fullmatch(change) for change in changes):
            raise ValueError("local times of day such as '06:00' or '22:30'")
        return changes

    @property
    def change_hours(self) -> tuple[float, ...]:
        """The times of change as hours of the day, rising."""
        times = (time.fromisoformat(change) for change in self.changes)
        return tuple(sorted(t.hour + t.minute / 60.0 for t in times))


class PersonPart(StrictPart):
    """Somebody who can be called."""

    name: Annotated[str, Field(min_length=1, max_length=80)]
    phone: str

    @field_validator("phone")
    @classmethod
    def _can_be_dialled(cls, phone: str) -> str:
        return dialled(phone)


class EmergencyPart(StrictPart):
    """What whoever calls for help must say: the number, the address, how to find the shed, and who else to call."""

    number: str
    address: Words
    directions: Annotated[str, Field(max_length=400)] = ""
    person: Annotated[tuple[PersonPart, ...], Field(max_length=12)] = ()

    @field_validator("number")
    @classmethod
    def _can_be_dialled(cls, number: str) -> str:
        return dialled(number)


def dialled(phone: str) -> str:
    """Return `phone` if it can be dialled.

    Raises:
        ValueError: it holds something that no telephone has a key for.
    """
    if not _PHONE.fullmatch(phone):
        raise ValueError("a telephone number: digits, spaces and + * # ( ) / . -")
    return phone
