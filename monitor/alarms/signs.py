"""Every sign at one moment: what alarms are made of beside findings and silent nodes."""

from collections.abc import Iterator
from itertools import chain

from monitor.alarms.crew_signs import crew_signs
from monitor.alarms.heat_signs import heat_signs
from monitor.alarms.host_signs import host_signs
from monitor.alarms.rate_signs import rate_signs
from monitor.alarms.sign import Sight, Sign, WasOpen


def signs_of(sight: Sight, was: WasOpen) -> Iterator[Sign]:
    """Yield all signs of `sight`, at most one for each condition and subject."""
    return chain(rate_signs(sight, was), heat_signs(sight, was), crew_signs(sight), host_signs(sight))
