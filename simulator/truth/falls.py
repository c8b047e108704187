"""Falls: the chamber loses heat that it had, judged by its own gas and ware and never by what sensors show.

True where in a chamber zone the ware or the gas, each averaged over a centred max(10 min, 2.5 I), stands more than
10 degC below its own highest value of the trailing 30 min, for 5 min or more. One fall over all zones; breaks under
10 min are closed. I is the stoke interval that the crew intends. It is over when the kiln is closed up.
"""

import numpy as np

from monitor.model import FindingKind
from simulator.spec.kiln_file import KilnSpec
from simulator.truth.intent import closed_h, ripple_half_min
from simulator.truth.minutes import Minutes, spans_of
from simulator.truth.spans import TrueSpan
from simulator.truth.windows import BoolArray, centred_mean, lasting, trailing_high

CHAMBER = ("front", "middle", "back")
"""Places whose zones hold ware."""
FALL_C = 10.0
LOOK_BACK_MIN = 30


def true_falls(spec: KilnSpec, minutes: Minutes) -> list[TrueSpan]:
    """Return the falls in order."""
    fired = minutes.until(closed_h(spec))
    half_min = ripple_half_min(spec, fired.hour, 10.0)
    low = _below_high(centred_mean(fired.gas_c, half_min)) | _below_high(centred_mean(fired.ware_c, half_min))
    fallen = {
        zone.name: lasting(low[:, n], close_min=1, least_min=5)
        for n, zone in enumerate(spec.zones)
        if zone.place in CHAMBER
    }
    anywhere = np.any(list(fallen.values()), axis=0)
    return spans_of(FindingKind.FALL, fired, lasting(anywhere, close_min=10, least_min=5), fallen)


def _below_high(smooth_c: np.ndarray) -> BoolArray:
    high = np.stack([trailing_high(column, LOOK_BACK_MIN) for column in smooth_c.T], axis=1)
    return np.asarray(high - smooth_c > FALL_C)
