"""A spell: one thing that is wrong for a while."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum

from simulator.line_faults import LineFault
from simulator.mishaps import Mishap
from simulator.probe_faults import ProbeFault


class Anchor(StrEnum):
    """From which moment a spell's begin counts."""

    LIT = "lit"  # from lighting
    LIVE = "live"  # from where the run goes live


@dataclass(frozen=True, slots=True)
class Spell:
    """Something wrong from `begin_h` on for `hours`: a mishap of the crew, a fault of the line or of a `sensor`'s probe."""

    what: Mishap | ProbeFault | LineFault
    begin_h: float
    hours: float
    size: float = 1.0
    sensor: str | None = None
    anchor: Anchor = Anchor.LIT

    @property
    def end_h(self) -> float:
        """Hour of its end."""
        return self.begin_h + self.hours

    def covers(self, hour: float) -> bool:
        """Whether it is on at `hour`."""
        return self.begin_h <= hour < self.end_h


def settle_spells(spells: Iterable[Spell], live_h: float) -> tuple[Spell, ...]:
    """Return `spells` all counted from lighting, for a run that goes live `live_h` hours after it."""
    return tuple(
        replace(s, begin_h=s.begin_h + live_h, anchor=Anchor.LIT) if s.anchor is Anchor.LIVE else s for s in spells
    )
