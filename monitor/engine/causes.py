"""What speaks for which cause when the kiln falls or stalls: facts, the likeliest first, never more than two.

An overdue stoke explains a fall by itself. Where stokes come as usual and the kiln still loses, feeding it more is the
classic error: then embers or air are to be looked at. A firebox that loses many times what the chamber loses points at
a door, one that climbs while the chamber falls at what lies between them (common practice, no source).
"""

from dataclasses import dataclass

import numpy as np

from monitor.engine.climb import Climb
from monitor.engine.reduction import Reduction
from monitor.engine.rhythm import Rhythm
from monitor.engine.setup import EngineSetup

OVERDUE = 1.6
"""An interval this many times the usual one is overdue (practice)."""

AS_USUAL = (0.75, 1.35)
"""Stokes of the last half hour over those of the usual rhythm that count as usual."""

LOOK_BACK_S = 1800.0

_FAR_MORE = 4.0
_LEAST_C_PER_H = 20.0


@dataclass(frozen=True, slots=True)
class Evidence:
    """What is known of one kiln at one moment; NaN unknown.

    `since_s` seconds since the last front stoke, `usual_s` the usual interval, `stokes` front stokes of the last
    `LOOK_BACK_S` seconds, `reduces` whether a probe measures reduction, `fire_c_per_h` and `chamber_c_per_h` the climb
    of the firebox and of the chamber sensor that is told of.
    """

    since_s: float
    usual_s: float
    stokes: int
    reduces: bool
    fire_c_per_h: float
    chamber_c_per_h: float


def evidence_of(
    setup: EngineSetup, rhythm: Rhythm, reduction: Reduction, climb: Climb, place: tuple[int, int], now: float
) -> Evidence:
    """Gather what is known at epoch second `now` of `place`: a kiln, and the position of the sensor that is told of."""
    kiln, sensor = place
    onsets = rhythm.onsets[kiln]
    fire = np.flatnonzero((setup.path[kiln] == 0) & np.isfinite(climb.rate[kiln]))
    return Evidence(
        since_s=float(now - onsets[-1]),
        usual_s=float(rhythm.usual_s[kiln]),
        stokes=int((onsets >= now - LOOK_BACK_S).sum()),
        reduces=bool(reduction.open[kiln]),
        fire_c_per_h=float(climb.rate[kiln, fire[0]]) if len(fire) else np.nan,
        chamber_c_per_h=float(climb.rate[kiln, sensor]) if sensor >= 0 else np.nan,
    )


def likely_words(e: Evidence) -> str:
    """Return up to two sentences on what speaks for which cause, empty where nothing does."""
    told = [words for words in (_stokes(e), _air(e), _doors(e)) if words]
    return " ".join(told[:2])


def _stokes(e: Evidence) -> str:
    if np.isnan(e.since_s) or np.isnan(e.usual_s):
        return ""
    usual = f"{e.usual_s / 60.0:.0f} minutes were usual"
    if e.since_s > OVERDUE * e.usual_s:
        return f"No stoke seen for {e.since_s / 60.0:.0f} minutes; {usual}."
    share = e.stokes * e.usual_s / LOOK_BACK_S
    if share > AS_USUAL[1]:
        often = f"Stoked {e.stokes} times in half an hour, more than usual"
        return f"{often}: the embers may be choked, and more wood would choke them."
    if share >= AS_USUAL[0]:
        return "Stoked as usual, so it is hardly the rhythm: look at embers and air before feeding more."
    return f"Stoked {e.stokes} times in half an hour; {usual}."


def _air(e: Evidence) -> str:
    return "The oxygen probe measures reduction: air is short." if e.reduces else ""


def _doors(e: Evidence) -> str:
    fire, chamber = e.fire_c_per_h, e.chamber_c_per_h
    if fire < -_LEAST_C_PER_H and fire < _FAR_MORE * chamber and chamber < 0.0:
        return "The firebox falls much faster than the chamber: is the stoke door or an inlet open?"
    if fire > _LEAST_C_PER_H and chamber < 0.0:
        return "The firebox climbs meanwhile: is a port open, or the damper in?"
    return ""
