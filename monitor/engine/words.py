"""The sentences of stall, fall and reduction: facts, for a tired person."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from monitor.engine.inferred import Hint
from monitor.engine.setup import EngineSetup
from monitor.engine.told import Change, span_finding
from monitor.model import Finding, FindingKind, FindingState, FloatArray

Why = Callable[[int, int], str]
"""Tells what speaks for which cause, for a kiln and the position of a sensor."""


def fall_findings(setup: EngineSetup, change: Change, known_at: FloatArray, why: Why) -> list[tuple[int, Finding]]:
    """Return the begins and ends of falls, known at `known_at` (K,)."""
    told = []
    for k in np.flatnonzero(change.begun | change.ended).tolist():
        begins = bool(change.begun[k])
        sensor = setup.ids[k][int(change.sensor[k])]
        depth = f"{sensor} has fallen {change.measure[k]:.0f} degrees below its highest of the last 30 minutes."
        text = _with(depth, why(k, int(change.sensor[k]))) if begins else "The chamber falls no longer."
        told.append((k, _span(FindingKind.FALL, change, k, known_at=known_at, sensor=sensor, text=text)))
    return told


def stall_findings(setup: EngineSetup, change: Change, known_at: FloatArray, why: Why) -> list[tuple[int, Finding]]:
    """Return the begins and ends of stalls, known at `known_at` (K,)."""
    told = []
    for k in np.flatnonzero(change.begun | change.ended).tolist():
        sensor = setup.ids[k][int(change.sensor[k])]
        minutes = (known_at[k] - change.onset[k]) / 60.0
        slow = f"{sensor} climbs only {change.measure[k]:.0f} degrees an hour"
        falls = f"{sensor} loses {-change.measure[k]:.0f} degrees an hour"
        what = f"{slow if change.measure[k] > -0.5 else falls}, for about {minutes:.0f} minutes now."
        text = _with(what, why(k, int(change.sensor[k]))) if change.begun[k] else f"{sensor} stalls no longer."
        told.append((k, _span(FindingKind.STALL, change, k, known_at=known_at, sensor=sensor, text=text)))
    return told


def reduction_findings(setup: EngineSetup, change: Change, known_at: FloatArray) -> list[tuple[int, Finding]]:
    """Return the begins and ends of measured reduction, known at `known_at` (K,)."""
    told = []
    for k in np.flatnonzero(change.begun | change.ended).tolist():
        begins = bool(change.begun[k])
        sensor = setup.ids[k][int(change.sensor[k])]
        lack = f"{sensor} measures {change.measure[k]:.2f} of the air that the fuel asks for: the kiln reduces."
        text = lack if begins else f"{sensor} measures air to spare again."
        told.append((k, _span(FindingKind.REDUCTION, change, k, known_at=known_at, sensor=sensor, text=text)))
    return told


def inferred_findings(hint: Hint, change: Change, known_at: FloatArray) -> list[tuple[int, Finding]]:
    """Return the begins and ends of inferred reduction, known at `known_at` (K,): `change` is that of `hint`."""
    told = []
    for k in np.flatnonzero(change.begun | change.ended).tolist():
        text = "Inferred, not measured: nothing tells any longer whether the kiln reduces."
        if change.begun[k]:
            text = "Inferred, not measured: the temperatures swing between stokes as where air is short: it may reduce."
        elif hint.shown[k]:
            text = "Inferred, not measured: the temperatures swing between stokes as with air to spare."
        finding = _span(FindingKind.REDUCTION, change, k, known_at=known_at, sensor=None, text=text)
        sure = round(float(hint.confidence[k]), 2) if change.begun[k] else None
        told.append((k, replace(finding, confidence=sure)))
    return told


def _with(what: str, why: str) -> str:
    return f"{what} {why}".rstrip()


def _span(
    kind: FindingKind, change: Change, k: int, *, known_at: FloatArray, sensor: str | None, text: str
) -> Finding:  # fmt: skip
    begins = bool(change.begun[k])
    state = FindingState.BEGIN if begins else FindingState.END
    onset = float(change.onset[k] if begins else change.ended_at[k])
    measure = float(change.measure[k]) if begins else np.nan
    return span_finding(kind, state, sensor, times=(float(known_at[k]), onset), measure=measure, text=text)
