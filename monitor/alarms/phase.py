"""Where the firing stands, from what is seen now: is the kiln fired, does it dry, hold, reduce as wanted, or cool?

No memory: the same present gives the same answer, and what cannot be known is said.
"""

from collections.abc import Sequence

from monitor.alarms.circumstance import Phase
from monitor.alarms.records import Agreed, Conditions, WatchedSensor
from monitor.alarms.table import Settings

OUTSIDE = frozenset({"timber"})
"""Places whose heat says nothing of the fire."""


def is_fired(seen: Conditions, sensors: Sequence[WatchedSensor], settings: Settings) -> bool | None:
    """Return whether somebody fires the kiln now; None where no probe of it has a value."""
    if seen.is_closed_up:
        return False
    known = [seen.celsius[s.id] for s in sensors if s.place not in OUTSIDE and s.id in seen.celsius]
    return any(c >= settings.fired_from_c for c in known) if known else None


def phases_of(
    seen: Conditions, sensors: Sequence[WatchedSensor], settings: Settings, agreed: Agreed
) -> frozenset[Phase]:
    """Return all phases that hold now."""
    if seen.is_closed_up:
        return frozenset({Phase.COOLING})
    chamber = [seen.celsius[s.id] for s in sensors if s.in_chamber and s.id in seen.celsius]
    holds = {
        Phase.DRYING: bool(chamber) and min(chamber) < settings.drying_until_c,
        Phase.SOAK: seen.planned_c_per_h is not None and seen.planned_c_per_h < settings.soak_below_c_per_h,
        Phase.REDUCTION: is_reduction_wanted(seen, agreed),
    }
    return frozenset(phase for phase, is_there in holds.items() if is_there)


def is_reduction_wanted(seen: Conditions, agreed: Agreed) -> bool:
    """Return whether the guide stands in a range in which reduction is wanted."""
    celsius = seen.celsius.get(seen.guide or "")
    return celsius is not None and any(low <= celsius <= high for low, high in agreed.reduction_c or ())
