"""Switches at doors: true while the door stands open.

A trace knows what share of each step a door was open. Crews open doors at the beginning of a step, so the open part is
the step's first.
"""

import numpy as np

from monitor.model import FloatArray
from simulator.probe.moments import BoolArray
from simulator.spec.kiln_file import KilnSpec
from simulator.spec.sensor_spec import ContactSpec


def is_open(at_s: FloatArray, ends_s: FloatArray, share: FloatArray, step_s: float) -> BoolArray:
    """Return where a door is open at `at_s` (m,), given the open `share` of steps that end at `ends_s`, both (n,)."""
    step = np.searchsorted(ends_s, at_s, side="left")
    into_s = at_s - (ends_s[step] - step_s)
    return into_s <= share[step] * step_s


def door_share(spec: KilnSpec, contact: ContactSpec, door: FloatArray, ports: FloatArray) -> FloatArray:
    """Return the open share (n,) of the door that `contact` watches, of the stoke `door` (n,) and `ports` (n, Z)."""
    return door if contact.door == "front" else ports[:, spec.zone_index(contact.zone)]
