"""Sensor faults that a converter or its silence tells: open, range, cold-junction, missing.

A fault is told after two slots in a row that end with it, or at the third break within the memory of heard slots, and
ends after two clean minutes, so that a hot wire that opens and closes is one finding. Slots in which nothing was heard
say nothing about these; long silence is its own fault, `missing`, which begins by time alone. Samples that come too
late to be judged break a silence, but not for ever: a sensor that is judged no longer must be told of. Further faults
are rows of `STATUS_FAULTS` or detectors of their own beside this one.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from monitor.engine.limits import (
    FAULT_BREAKS,
    FAULT_CLEAN_S,
    FAULT_MEMORY_SLOTS,
    MISSING_S,
    MISSING_SPACINGS,
    UNJUDGED_S,
    USUAL_SPACING_MAX_S,
)
from monitor.engine.setup import BoolArray, EngineSetup
from monitor.engine.told import sensor_finding
from monitor.model import SLOT_S, CodeArray, Finding, FindingState, FloatArray, SensorFault, Status

STATUS_FAULTS: tuple[tuple[SensorFault, tuple[Status, ...], str], ...] = (
    (SensorFault.OPEN, (Status.OPEN,), "{} is open: the thermocouple or its lead is broken or has come off."),
    (SensorFault.RANGE, (Status.RANGE, Status.ABOVE), "{} reads a voltage outside its range."),
    (SensorFault.COLD_JUNCTION, (Status.COLD_JUNCTION,), "{} has no valid cold junction, so no temperature."),
)
"""Fault, the statuses that show it, and how it is told; type B below 250 degC (`UNDEFINED`) is no fault.
An emf `BELOW` the function's range is one of a junction far colder than its cold end: swapped wires (`electric.py`)."""

_MEMORY = np.uint32((1 << FAULT_MEMORY_SLOTS) - 1)
_SHOWS = np.array([[code in codes for _, codes, _ in STATUS_FAULTS] for code in Status])
_SHOWS_ANY: BoolArray = np.array([any(code in codes for _, codes, _ in STATUS_FAULTS) for code in Status])


@dataclass(slots=True, eq=False)
class SensorWatch:
    """What is remembered of each sensor.

    Per sensor and status fault (K, S, F): `memory` one bit per heard slot, newest lowest, set where it broke; `first`
    begin of the first break in memory, `last` end of the last, epoch seconds; `told` whether it is open.
    Per sensor (K, S): `heard` end of its last slot with a sample, `alive` of its last slot with one or with a late one,
    NaN before the first; `usual_s` the usual spacing of the latter; `missing` whether its silence is told.
    """

    memory: npt.NDArray[np.uint32]
    first: FloatArray
    last: FloatArray
    told: BoolArray
    heard: FloatArray
    alive: FloatArray
    usual_s: FloatArray
    missing: BoolArray


def new_watch(shape: tuple[int, int]) -> SensorWatch:
    """Return the state of kilns and sensors of `shape` before the first slot."""
    each = (*shape, len(STATUS_FAULTS))
    return SensorWatch(
        memory=np.zeros(each, np.uint32),
        first=np.full(each, np.nan),
        last=np.full(each, np.nan),
        told=np.zeros(each, bool),
        heard=np.full(shape, np.nan),
        alive=np.full(shape, np.nan),
        usual_s=np.full(shape, USUAL_SPACING_MAX_S),
        missing=np.zeros(shape, bool),
    )


def is_quiet(watch: SensorWatch) -> bool:
    """Return whether nothing is told or remembered: a well slot then moves `heard` and `alive` alone."""
    return not (watch.memory.any() or watch.told.any() or watch.missing.any())


def shows_fault(status: CodeArray) -> BoolArray:
    """Return where a status is one of `STATUS_FAULTS`, any shape."""
    found: BoolArray = _SHOWS_ANY[status]
    return found


def is_faulty(watch: SensorWatch) -> BoolArray:
    """Return where a sensor has a fault that is told (K, S), `missing` apart."""
    return np.asarray(watch.told.any(axis=2))


def judge_sensors(
    watch: SensorWatch, setup: EngineSetup, end: float, known_at: FloatArray, *, status: CodeArray, late: BoolArray
) -> list[tuple[int, Finding]]:
    """Take up the slot that ends at `end`, known at `known_at` (K,), with each sensor's last `status` (K, S).

    `late` (K, S) says which sensors' samples of earlier slots came before this one was known.
    """
    heard = setup.present & (status != Status.ABSENT)
    told = _judge_silence(watch, setup, end, known_at, heard=heard, alive=heard | (setup.present & late))
    breaks = _SHOWS[status] & heard[:, :, None]
    remembered = ((watch.memory << np.uint32(1)) | breaks) & _MEMORY
    watch.first = np.where(breaks & (watch.memory == 0), end - SLOT_S, watch.first)
    watch.memory = np.where(heard[:, :, None], remembered, watch.memory)
    watch.last = np.where(breaks, end, watch.last)
    lasting = (watch.memory & np.uint32(3)) == 3
    often = np.bitwise_count(watch.memory) >= FAULT_BREAKS
    begun = breaks & ~watch.told & (lasting | often)
    clean = heard[:, :, None] & ((watch.memory & np.uint32(3)) == 0) & (end - watch.last >= FAULT_CLEAN_S)
    ended = watch.told & clean
    watch.memory[ended] = 0
    watch.told = (watch.told | begun) & ~ended
    return told + _status_findings(watch, setup, known_at, begun, ended)


def _judge_silence(
    watch: SensorWatch, setup: EngineSetup, end: float, known_at: FloatArray, *, heard: BoolArray, alive: BoolArray
) -> list[tuple[int, Finding]]:
    """Tell sensors that fell silent before or within this slot, and those that speak again; learn usual spacings."""
    silence_s = np.maximum(MISSING_S, np.ceil(MISSING_SPACINGS * watch.usual_s / SLOT_S) * SLOT_S)
    due = watch.alive + silence_s
    silent = ~watch.missing & (np.where(alive, end - SLOT_S, end) >= due)
    patience_s = np.maximum(UNJUDGED_S, silence_s)
    unjudged = ~watch.missing & ~silent & (np.where(heard, end - SLOT_S, end) >= watch.heard + patience_s)
    ended = heard & (watch.missing | silent | unjudged)
    told = []
    for k, s in np.argwhere(silent).tolist():
        times = (float(due[k, s]), float(watch.alive[k, s]))
        told.append(_missing(setup, k, s, times, f"has sent nothing for {times[0] - times[1]:.0f} s."))
    for k, s in np.argwhere(unjudged).tolist():
        # which text it is depends on what came late up to now, so this is known now and not when it fell due
        times = (float(known_at[k]), float(watch.heard[k, s]))
        words = f"has sent nothing in time for {patience_s[k, s] / 60.0:.0f} minutes: what comes late is not judged."
        told.append(_missing(setup, k, s, times, words))
    for k, s in np.argwhere(ended).tolist():
        times = (float(known_at[k]), end - SLOT_S)
        told.append(_missing(setup, k, s, times, "sends again.", state=FindingState.END))
    spacing = np.minimum(end - watch.alive, USUAL_SPACING_MAX_S)
    nearer = np.fmin(spacing, watch.usual_s + (spacing - watch.usual_s) / 8.0)
    watch.usual_s = np.where(alive & np.isfinite(spacing), nearer, watch.usual_s)
    watch.missing = (watch.missing | silent | unjudged) & ~ended
    watch.heard = np.where(heard, end, watch.heard)
    watch.alive = np.where(alive, end, watch.alive)
    return told


def _missing(
    setup: EngineSetup, k: int, s: int, times: tuple[float, float], words: str, state: FindingState = FindingState.BEGIN
) -> tuple[int, Finding]:
    name = setup.ids[k][s]
    return k, sensor_finding(state, name, SensorFault.MISSING, times=times, text=f"{name} {words}")


def _status_findings(
    watch: SensorWatch, setup: EngineSetup, known_at: FloatArray, begun: BoolArray, ended: BoolArray
) -> list[tuple[int, Finding]]:
    told = []
    for k, s, f in np.argwhere(begun).tolist():
        fault, _, text = STATUS_FAULTS[f]
        name, times = setup.ids[k][s], (float(known_at[k]), float(watch.first[k, s, f]))
        told.append((k, sensor_finding(FindingState.BEGIN, name, fault, times=times, text=text.format(name))))
    for k, s, f in np.argwhere(ended).tolist():
        fault, name = STATUS_FAULTS[f][0], setup.ids[k][s]
        times = (float(known_at[k]), float(watch.last[k, s, f]))
        text = f"{name} reads again, without a break for {FAULT_CLEAN_S / 60.0:.0f} minutes."
        told.append((k, sensor_finding(FindingState.END, name, fault, times=times, text=text)))
    return told
