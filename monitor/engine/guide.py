"""Which sensor guides: the agreed one while it can be trusted, else the next best that can."""

import numpy as np

from monitor.engine.beats import IntArray
from monitor.engine.limits import BRIDGE_BEATS
from monitor.engine.setup import BoolArray, EngineSetup

_NO_CLIMB, _DOUBTFUL, _NO_VALUE = 1.0e3, 1.0e4, 1.0e6
"""What a rank loses where the climb is unknown, the temperature is in doubt or unknown; ranks are below 1e3."""


def choose_guide(
    setup: EngineSetup, since_value: IntArray, since_climb: IntArray, *, blind: BoolArray, doubtful: BoolArray
) -> IntArray:
    """Return each kiln's guide (K,), -1 where no sensor can guide.

    `since_value`, `since_climb` (K, S) are the beats since the sensor last had a value and a climb; gaps of up to 3 min
    leave the guide in place. `blind` (K, S) marks sensors with a fault that leaves no value, `doubtful` those that are
    off by an unknown amount: better than nothing, and nothing more.
    """
    no_value = blind | (since_value > BRIDGE_BEATS)
    cost = setup.guide_rank + _NO_CLIMB * (since_climb > BRIDGE_BEATS) + _DOUBTFUL * doubtful + _NO_VALUE * no_value
    best = cost.argmin(axis=1)
    guided = np.isfinite(setup.guide_rank).any(axis=1)
    return np.asarray(np.where(guided, best, -1))
