"""What a person at the kiln sees without an instrument: flame, smoke, and the embers while a door stands open.

Words made of the kiln's own state. Where one word ends and the next begins is common practice, no source: the eye has
no scale.
"""

from monitor.wire.practice import Embers, Flame, Smoke
from simulator.kiln import KilnState
from simulator.spec.kiln_file import KilnSpec
from simulator.truth.falls import CHAMBER

GREY_J_KG = 0.1e6
"""Heat of unburnt fuel in a kilogram of the chimney's air at which smoke is grey."""
DARK_J_KG = 1.0e6
"""The same at which it is dark."""
LOW_SHARE = 0.4
"""Embers are low up to this share of the bed that takes most oxygen of the air through it."""
DEEP_SHARE = 0.7
"""Embers are deep from this share of the depth that chokes on."""


def flame_at_spyhole(spec: KilnSpec, flame_end: int) -> Flame:
    """Return how far flame reaches through the chamber whose zones end where zone `flame_end` is its last."""
    chamber = [n for n, zone in enumerate(spec.zones) if zone.place in CHAMBER]
    if flame_end < chamber[0]:
        return "none"
    return "short" if flame_end < chamber[-1] else "long"


def flame_at_flue(spec: KilnSpec, flame_end: int) -> Flame:
    """Return whether flame shows at the flue, and whether it stands out of the chimney."""
    flue = next(n for n, zone in enumerate(spec.zones) if zone.place == "flue")
    if flame_end < flue:
        return "none"
    return "short" if flame_end == flue else "long"


def smoke_of(state: KilnState) -> Smoke:
    """Return how dark the smoke is by the unburnt fuel in it."""
    air_kg_s = float(state.air_kg_s[-1])
    unburnt_j_kg = state.unburnt_w / air_kg_s if air_kg_s > 0.0 else 0.0
    if unburnt_j_kg < GREY_J_KG:
        return "clear"
    return "grey" if unburnt_j_kg < DARK_J_KG else "dark"


def embers_of(state: KilnState) -> Embers:
    """Return how deep the ember bed looks."""
    bed = state.bed
    if bed.char_kg < LOW_SHARE * bed.shallow_kg:
        return "low"
    if bed.char_kg < DEEP_SHARE * bed.deep_kg:
        return "good"
    return "deep" if bed.char_kg < bed.deep_kg else "choking"
