"""The records and sentences of stokes and of a rhythm that slips: facts, for a tired person."""

from collections.abc import Sequence

import numpy as np

from monitor.engine.limits import STOKE_SURE_MOST, STOKE_SURE_OFFSET
from monitor.engine.rhythm import Drift
from monitor.engine.setup import EngineSetup
from monitor.engine.stoke_state import Stoke
from monitor.engine.told import four_digits
from monitor.model import Finding, FindingKind, FindingState, FloatArray

FRONT, SIDE = "front", "side"


def stoke_findings(setup: EngineSetup, stokes: Sequence[Stoke], known_at: FloatArray) -> list[tuple[int, Finding]]:
    """Return stokes as findings, known at `known_at` (K,)."""
    return [(s.kiln, _stoke_finding(setup, s, float(known_at[s.kiln]))) for s in stokes]


def rhythm_findings(drifts: Sequence[Drift], known_at: FloatArray) -> list[tuple[int, Finding]]:
    """Return the begins and ends of a slipping rhythm, known at `known_at` (K,)."""
    return [(d.kiln, _rhythm_finding(d, float(known_at[d.kiln]))) for d in drifts]


def _stoke_finding(setup: EngineSetup, stoke: Stoke, known_at: float) -> Finding:
    shown = stoke.sensor >= 0 and np.isfinite(stoke.dip_c)
    sensor = setup.ids[stoke.kiln][stoke.sensor] if stoke.sensor >= 0 else None
    dip = four_digits(stoke.dip_c) if shown else None
    text = f"Stoked: {sensor} dipped by {stoke.dip_c:.0f} degrees." if shown else "Stoked, as far as the chamber shows."
    if stoke.is_noted and not shown:
        text = "Stoked through a side port, as noted." if stoke.is_side else "Stoked, as noted."
    elif stoke.is_late:
        text = "Stoked: a weak dip, but the one after it shows that there was a stoke between."
    return Finding(
        time=known_at,
        kind=FindingKind.STOKE,
        state=FindingState.EVENT,
        sensor=sensor,
        onset=stoke.onset,
        measure=dip,
        unit=None if dip is None else "Cel",
        text=text,
        door=_door_of(setup, stoke),
        confidence=_confidence(stoke),
    )


def _confidence(stoke: Stoke) -> float | None:
    """Return how often stokes of such odds are one; None where somebody told of it."""
    if np.isnan(stoke.odds):
        return None
    odds = STOKE_SURE_OFFSET + min(stoke.odds, STOKE_SURE_MOST)
    return round(1.0 / (1.0 + float(np.exp(-odds))), 2)


def _door_of(setup: EngineSetup, stoke: Stoke) -> str | None:
    if stoke.is_side:
        return SIDE
    return FRONT if stoke.is_noted or (setup.path[stoke.kiln] == 0).any() else None


def _rhythm_finding(drift: Drift, known_at: float) -> Finding:
    minutes = drift.interval_s / 60.0
    usual = minutes / drift.ratio
    text = "The stokes come in their usual rhythm again."
    if drift.begins:
        text = f"The last five stokes came every {minutes:.1f} minutes, {usual:.1f} was usual."
    elif not np.isfinite(drift.ratio):
        text = "No stokes for two hours: there is no rhythm to judge."
    figure = four_digits(minutes)
    return Finding(
        time=known_at,
        kind=FindingKind.RHYTHM,
        state=FindingState.BEGIN if drift.begins else FindingState.END,
        sensor=None,
        onset=drift.onset,
        measure=figure,
        unit=None if figure is None else "min",
        text=text,
        ratio=four_digits(drift.ratio),
    )
