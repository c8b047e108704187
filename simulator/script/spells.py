"""A spell: one thing that is wrong for a while."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum

from simulator.script.line_faults import LineFault
from simulator.script.mishaps import Mishap
from simulator.script.probe_faults import ProbeFault
from simulator.spec.kiln_file import KilnFileError, KilnSpec


class Anchor(StrEnum):
    """From which moment a spell's begin counts."""

    LIT = "lit"  # from lighting
    LIVE = "live"  # from where the run goes live


@dataclass(frozen=True, slots=True)
class Spell:
    """Something wrong from `begin_h` on for `hours`.

    A mishap of the crew (some at one `zone`, given by name or by place), a fault of a probe (then of `sensor`), or one
    of the node and its line.
    With a `stage`, the begin counts from where a run that starts from that stage goes live.
    """

    what: Mishap | ProbeFault | LineFault
    begin_h: float
    hours: float
    size: float = 1.0
    sensor: str | None = None
    anchor: Anchor = Anchor.LIT
    stage: str | None = None
    zone: str | None = None

    @property
    def end_h(self) -> float:
        """Hour of its end."""
        return self.begin_h + self.hours

    def covers(self, hour: float) -> bool:
        """Whether it is on at `hour`."""
        return self.begin_h <= hour < self.end_h


def settle_spells(spells: Iterable[Spell], spec: KilnSpec, live_h: float) -> tuple[Spell, ...]:
    """Return `spells` all counted from lighting, at the kiln `spec`, for a run that goes live at `live_h`."""
    return tuple(_settled(s, spec, live_h) for s in spells)


def _settled(spell: Spell, spec: KilnSpec, live_h: float) -> Spell:
    if spell.zone is not None:
        spell = replace(spell, zone=_zone_name(spec, spell.zone))
    if spell.stage is not None:
        return replace(spell, begin_h=spell.begin_h + spec.stage(spell.stage).start_h, stage=None)
    if spell.anchor is Anchor.LIVE:
        return replace(spell, begin_h=spell.begin_h + live_h, anchor=Anchor.LIT)
    return spell


def _zone_name(spec: KilnSpec, zone: str) -> str:
    for known in spec.zones:
        if zone in (known.name, known.place):
            return known.name
    raise KilnFileError(f"{spec.name}: no zone '{zone}'; choose one of {', '.join(z.name for z in spec.zones)}")
