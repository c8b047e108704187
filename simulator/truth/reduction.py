"""Reduction: fuel in excess of air, judged by the gas itself.

True where in a zone the excess-air ratio is below 1 for 10 min or more, breaks under 3 min closed. The ratio is that of
the mean air which reached the zone, used or not, to the mean stoichiometric demand of all fuel gas released and char
burnt there or upstream, both over a centred max(10 min, 2.5 I). Zones are joined. It is over when the kiln is closed.
"""

import numpy as np

from monitor.model import FindingKind, FloatArray
from simulator.spec.kiln_file import KilnSpec
from simulator.truth.intent import closed_h, ripple_half_min
from simulator.truth.minutes import Minutes, spans_of
from simulator.truth.spans import TrueSpan
from simulator.truth.windows import centred_mean, lasting

NO_FIRE_KG_S = 1e-6
"""A demand below this is no fire: its ratio means nothing."""


def true_reduction(spec: KilnSpec, minutes: Minutes) -> list[TrueSpan]:
    """Return the spans of reduction in order."""
    fired = minutes.until(closed_h(spec))
    ratio = excess_air(spec, fired)
    short = {zone.name: lasting(ratio[:, n] < 1.0, close_min=3, least_min=10) for n, zone in enumerate(spec.zones)}
    anywhere = lasting(np.any(list(short.values()), axis=0), close_min=3, least_min=10)
    return spans_of(FindingKind.REDUCTION, fired, anywhere, short)


def excess_air(spec: KilnSpec, minutes: Minutes) -> FloatArray:
    """Return the excess-air ratio (m, Z) as reduction is judged by it; infinite where nothing burns."""
    half_min = ripple_half_min(spec, minutes.hour, 10.0)
    air_kg_s = centred_mean(minutes.air_kg_s, half_min)
    demand_kg_s = centred_mean(minutes.demand_kg_s, half_min)
    ratio = np.full(air_kg_s.shape, np.inf)
    np.divide(air_kg_s, demand_kg_s, out=ratio, where=demand_kg_s > NO_FIRE_KG_S)
    return ratio
