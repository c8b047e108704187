"""Whether something that moved the fire was a stoke or only a look through the door.

A door that is opened for a look or for the rake cools the firebox as well, for a shorter time and without wood. Looks
come at any time, stokes when one is due; and a crew's charges are much alike. What is weaker than the others and comes
when none is due is a look.
"""

from dataclasses import dataclass

import numpy as np

from monitor.engine.limits import (
    STOKE_APART_S,
    STOKE_LEAST_AGAINST_LOOK,
    STOKE_LOOKS_PER_DAY,
    STOKE_LOOKS_SHARE,
    STOKE_PENALTY,
    STOKE_SETTLED_COUNT,
)
from monitor.model import SLOT_S, FloatArray

_MEMORY = 20.0
_LEAST_SPREAD = 0.25
_REFUSED_GAIN = 1.0 / 12.0
_WIDTH_OF_LOOKS = 1.6
_LOG_LOOK = np.log(STOKE_LOOKS_PER_DAY * SLOT_S / 86400.0)


@dataclass(slots=True, eq=False)
class Strength:
    """What is remembered of each kiln (K,).

    `middle` and `spread` (a variance) of the log of a stoke's size over noise; `count` stokes told; `refused` share of
    what was lately taken for a look, `look` the newest one's epoch second, NaN before the first.
    """

    middle: FloatArray
    spread: FloatArray
    count: FloatArray
    refused: FloatArray
    look: FloatArray


def new_strength(kilns: int) -> Strength:
    """Return the state of `kilns` kilns before the first stoke."""
    return Strength(np.zeros(kilns), np.zeros(kilns), np.zeros(kilns), np.zeros(kilns), np.full(kilns, np.nan))


def learn_strength(strength: Strength, kiln: int, evidence: float) -> None:
    """Take in a told stoke's log likelihood ratio."""
    strength.count[kiln] += 1.0
    gain = max(1.0 / strength.count[kiln], 1.0 / _MEMORY)
    size = _log_size(evidence)
    off = size - strength.middle[kiln]
    strength.middle[kiln] += gain * off
    strength.spread[kiln] += gain * (off * (size - strength.middle[kiln]) - strength.spread[kiln])


def refuse_look(strength: Strength, kiln: int, odds: float, onset: float) -> bool:
    """Judge by the log odds against a look whether something at `onset` is refused as one.

    Where too much would be refused the rhythm is not what it is taken for, and nothing is.
    """
    if abs(onset - strength.look[kiln]) < STOKE_APART_S:
        return True
    is_weak = odds < STOKE_LEAST_AGAINST_LOOK
    refused = is_weak and bool(strength.refused[kiln] < STOKE_LOOKS_SHARE)
    strength.refused[kiln] += _REFUSED_GAIN * (float(is_weak) - strength.refused[kiln])
    if refused:
        strength.look[kiln] = onset
    return refused


def odds_against_look(strength: Strength, kiln: int, evidence: float, log_odds: float) -> float:
    """Return the log odds of a stoke against a look, `log_odds` being those of a stoke being due."""
    if strength.count[kiln] < STOKE_SETTLED_COUNT:
        return float("inf")
    spread = max(float(np.sqrt(strength.spread[kiln])), _LEAST_SPREAD)
    below = min(_log_size(evidence) - float(strength.middle[kiln]), 0.0) / spread
    as_stoke = -0.5 * below * below - np.log(spread * np.sqrt(2.0 * np.pi))
    return float(log_odds - _LOG_LOOK + as_stoke + np.log(_WIDTH_OF_LOOKS))


def _log_size(evidence: float) -> float:
    return float(0.5 * np.log(2.0 * max(evidence + STOKE_PENALTY, 0.5)))
