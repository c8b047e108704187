"""Stokes: the stoke door (front) or a side port opens to charge wood.

Charges through one kind of door less than 75 s after the one before are one stoke, at the first. Raking, looking in and
setting air are none.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from simulator.crew.deeds import Deed, DeedKind

ONE_STOKE_S = 75.0


class Door(StrEnum):
    """Which kind of opening wood went through."""

    FRONT = "front"
    SIDE = "side"


DOORS = {DeedKind.FRONT_STOKE: Door.FRONT, DeedKind.SIDE_STOKE: Door.SIDE}


@dataclass(frozen=True, slots=True)
class TrueStoke:
    """One stoke that began `hour` hours from lighting, first at `zone`, with `wet_kg` of wood in all its charges."""

    hour: float
    door: Door
    zone: str
    wet_kg: float
    charges: int = 1


def true_stokes(deeds: Iterable[Deed]) -> list[TrueStoke]:
    """Return the stokes among `deeds`, which are in order of time."""
    charges = [d for d in deeds if d.kind in DOORS]
    found = [s for door in Door for s in _joined([d for d in charges if DOORS[d.kind] is door])]
    return sorted(found, key=lambda stoke: (stoke.hour, stoke.door))


def _joined(charges: Sequence[Deed]) -> list[TrueStoke]:
    stokes: list[TrueStoke] = []
    last_h = float("-inf")
    for deed in charges:
        gap_s = round((deed.hour - last_h) * 3600.0, 3) if stokes else ONE_STOKE_S
        if gap_s < ONE_STOKE_S:
            before = stokes[-1]
            stokes[-1] = replace(before, wet_kg=before.wet_kg + deed.amount, charges=before.charges + 1)
        else:
            stokes.append(TrueStoke(deed.hour, DOORS[deed.kind], deed.zone, deed.amount))
        last_h = deed.hour
    return stokes
