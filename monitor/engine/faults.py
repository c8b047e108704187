"""Sensor faults that show in the numbers themselves, and how they are told.

Most slots are plain: nothing odd, nothing under way. Those are passed over at once; all others go to each detector.
"""

from dataclasses import dataclass, fields
from typing import Any

import numpy as np
import numpy.typing as npt

from monitor.engine.beats import NEVER, Beats
from monitor.engine.electric import Electric, judge_electric, new_electric, rests, warm_elsewhere
from monitor.engine.jumps import SHORT, STEP, Jumps, is_under_way, judge_jumps, new_jumps
from monitor.engine.seen import LastHeard, Seen, is_odd, new_last_heard, see
from monitor.engine.setup import BoolArray, EngineSetup
from monitor.engine.told import FaultChange, sensor_finding
from monitor.model import Finding, FindingState, FloatArray, SensorFault, Slots

WORDS = {
    SensorFault.FROZEN: (
        "{name} has shown the very same value for {minutes:.0f} minutes: it is stuck.",
        "{name} moves again.",
    ),
    SensorFault.REVERSED: (
        "{name} reads colder the hotter it gets: its two wires are swapped.",
        "{name} reads the right way round again.",
    ),
    SensorFault.SPIKES: (
        "{name} jumps wildly and back again: a loose contact or a disturbance.",
        "{name} has been calm for ten minutes.",
    ),
    SensorFault.SHORT: (
        "{name} fell to {to:.0f} degrees at once: its lead is shorted at the connection head.",
        "{name} reads the fire again.",
    ),
    SensorFault.DRIFT: (
        "{name} jumped by {by:+.0f} degrees at once, which heat cannot do: the probe or a contact moved.",
        "{name} has jumped back to where it was.",
    ),
}
"""How a fault is told when it begins and when it ends."""


@dataclass(slots=True, eq=False)
class Faults:
    """What the detectors remember."""

    last: LastHeard
    electric: Electric
    jumps: Jumps

    @property
    def is_blind(self) -> BoolArray:
        """Where a sensor (K, S) says nothing of the fire."""
        return np.asarray(self.electric.told.any(axis=2) | self.jumps.told[:, :, SHORT])

    @property
    def is_doubtful(self) -> BoolArray:
        """Where a sensor (K, S) still moves with the fire but cannot be compared with others."""
        return np.asarray(self.jumps.told[:, :, STEP])

    def arrays(self) -> dict[str, npt.NDArray[Any]]:
        """Return the whole state by name."""
        parts: dict[str, Any] = {"last": self.last, "electric": self.electric, "jumps": self.jumps}
        return {f"{name}.{f.name}": getattr(part, f.name) for name, part in parts.items() for f in fields(part)}


def new_faults(shape: tuple[int, int]) -> Faults:
    """Return the state of kilns and sensors of `shape` before the first slot."""
    return Faults(new_last_heard(shape), new_electric(shape), new_jumps(shape))


def look_at(faults: Faults, setup: EngineSetup, slots: Slots) -> tuple[Seen, list[bool]]:
    """Return what `slots` show, and which of them are odd; an oxygen cell's emf may do what it likes."""
    seen = see(faults.last, slots, setup.present & ~setup.oxygen)
    return seen, is_odd(seen, slots.end).tolist()


def judge_faults(
    faults: Faults, setup: EngineSetup, beats: Beats, seen: Seen, *, end: float, known_at: FloatArray
) -> list[tuple[int, Finding]]:
    """Take up one slot, known at `known_at` (K,); a sensor that stepped begins a new history in `beats`."""
    now_c = np.where(np.isfinite(seen.mean_c), seen.mean_c, seen.before_c)
    warm = warm_elsewhere(setup, now_c)
    changes = judge_electric(faults.electric, setup, seen, end=end, warm=warm)
    for change in judge_jumps(faults.jumps, beats, seen, end=end, heat=setup.heat):
        if change.fault is SensorFault.DRIFT:
            beats.last_beat[change.begun | change.ended] = NEVER
            beats.tainted[change.begun | change.ended] = True
        changes.append(change)
    return [entry for change in changes for entry in _findings(setup, change, known_at, now_c)]


def must_judge(faults: Faults) -> bool:
    """Return whether plain slots matter now."""
    return is_under_way(faults.jumps) or not rests(faults.electric)


def _findings(
    setup: EngineSetup, change: FaultChange, known_at: FloatArray, now_c: FloatArray
) -> list[tuple[int, Finding]]:
    told = []
    for k, s in np.argwhere(change.begun | change.ended).tolist():
        begins = bool(change.begun[k, s])
        name, times = setup.ids[k][s], (float(known_at[k]), float(change.onset[k, s]))
        by = 0.0 if change.measure_c is None else float(change.measure_c[k, s])
        words = WORDS[change.fault][0 if begins else 1]
        text = words.format(name=name, minutes=(times[0] - times[1]) / 60.0, to=now_c[k, s], by=by)
        state = FindingState.BEGIN if begins else FindingState.END
        told.append((k, sensor_finding(state, name, change.fault, times=times, text=text)))
    return told
