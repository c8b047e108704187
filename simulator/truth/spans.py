"""A true condition of kiln or sensor, from when to when."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from monitor.model import FindingKind, SensorFault


@dataclass(frozen=True, slots=True)
class TrueSpan:
    """A condition of `kind` from `begin_h` to `end_h`, hours from lighting.

    `zones` are the names of those that had it (fall, reduction), `ratio` says how much too long stoke intervals were
    (rhythm), `sensor` and `fault` what failed how, and `cause` what was wrong with it in the simulator's own words.
    """

    kind: FindingKind
    begin_h: float
    end_h: float
    zones: tuple[str, ...] = ()
    ratio: float | None = None
    sensor: str | None = None
    fault: SensorFault | None = None
    cause: str | None = None


def within(spans: Sequence[TrueSpan], begin_h: float, end_h: float) -> list[TrueSpan]:
    """Return `spans` cut to what lies between `begin_h` and `end_h`, those wholly outside left out."""
    return [
        replace(s, begin_h=max(s.begin_h, begin_h), end_h=min(s.end_h, end_h))
        for s in spans
        if s.end_h > begin_h and s.begin_h < end_h
    ]
