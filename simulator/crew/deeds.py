"""Deeds: what a crew did to the kiln and when, and what any crew, scripted or at the panel, must be able to do."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

from simulator.kiln import Hands, Kiln


class DeedKind(StrEnum):
    """A deed; the meaning of its `amount` stands beside each."""

    FRONT_STOKE = "front-stoke"  # wet wood in kg
    SIDE_STOKE = "side-stoke"  # wet wood in kg
    RAKE = "rake"  # no amount
    DAMPER = "damper"  # the new setting, share of full
    INLETS = "inlets"  # the new setting, share of full


STOKES = frozenset({DeedKind.FRONT_STOKE, DeedKind.SIDE_STOKE})


@dataclass(frozen=True, slots=True)
class Deed:
    """One deed, `hour` hours from lighting, at the zone called `zone`; `watch` says whose it was, where known."""

    hour: float
    kind: DeedKind
    zone: str
    amount: float
    watch: str = ""


class Crew(Protocol):
    """Whoever fires the kiln."""

    deeds: list[Deed]

    def tend(self, kiln: Kiln, *, hour: float, step_s: float, guide_c: float, outside_c: float) -> Hands:
        """Act for the step of `step_s` seconds that begins at `hour`; `guide_c` is what the guiding sensor says."""
        ...
