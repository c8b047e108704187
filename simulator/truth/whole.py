"""Truth of a firing: what its kiln, crew and sensors really did, judged by the kiln's own state.

Every word is defined in the file of its name: stokes, stalls, falls, reduction, rhythm, sensor faults, cones.
"""

from dataclasses import dataclass

import numpy as np

from monitor.model import FindingKind, FloatArray
from simulator.firing import Firing
from simulator.physics.cones import TrueCone, watch_cones
from simulator.truth.falls import true_falls
from simulator.truth.minutes import Minutes
from simulator.truth.reduction import excess_air, true_reduction
from simulator.truth.rhythm import true_rhythm
from simulator.truth.sensors import true_sensors
from simulator.truth.spans import TrueSpan, within
from simulator.truth.stalls import true_stalls
from simulator.truth.stokes import TrueStoke, true_stokes


@dataclass(frozen=True, slots=True, eq=False)
class Truth:
    """What truly happened in `minutes`: `stokes` and `spans` in order of time; `excess_air` (m, Z)."""

    minutes: Minutes
    excess_air: FloatArray
    stokes: tuple[TrueStoke, ...]
    spans: tuple[TrueSpan, ...]
    cones: tuple[TrueCone, ...]

    def of(self, kind: FindingKind) -> tuple[TrueSpan, ...]:
        """Return the spans of `kind`."""
        return tuple(s for s in self.spans if s.kind is kind)


def true_of(firing: Firing, minutes: Minutes, *, seed: int, has_plan: bool = True) -> Truth:
    """Return the truth of `minutes` of `firing`, drawn after `seed`.

    `has_plan` says whether the site knows the crew's plan.
    """
    spec = firing.spec
    stokes = true_stokes(firing.deeds)
    spans = [
        *true_stalls(spec, minutes, has_plan=has_plan),
        *true_falls(spec, minutes),
        *true_reduction(spec, minutes),
        *true_rhythm(spec, stokes),
        *true_sensors(firing, minutes, seed=seed),
    ]
    inside = within(spans, minutes.begin_h, minutes.end_h)
    return Truth(
        minutes=minutes,
        excess_air=excess_air(spec, minutes),
        stokes=tuple(s for s in stokes if minutes.begin_h <= s.hour < minutes.end_h),
        spans=tuple(sorted(inside, key=lambda s: (s.begin_h, s.kind, s.sensor or ""))),
        cones=tuple(_cones(firing, minutes)),
    )


def _cones(firing: Firing, minutes: Minutes) -> list[TrueCone]:
    """Return the cones' course over the whole firing, the hours that were hurried through included."""
    past = [(hour, ware_c) for hour, ware_c in firing.past if hour < minutes.begin_h]
    hour = np.concatenate([[h for h, _ in past], minutes.hour])
    ware_c = np.concatenate([np.array([w for _, w in past]).reshape(-1, minutes.ware_c.shape[1]), minutes.ware_c])
    return watch_cones(firing.spec.cones, [z.name for z in firing.spec.zones], hour, ware_c)
