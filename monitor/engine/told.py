"""From what a detector decided to the record that leaves the engine: numbers, words and order."""

from dataclasses import dataclass

import numpy as np

from monitor.engine.beats import IntArray
from monitor.engine.setup import BoolArray
from monitor.model import Finding, FindingKind, FindingState, FloatArray, SensorFault


@dataclass(frozen=True, slots=True, eq=False)
class Change:
    """What a span detector decided at one beat, per kiln (K,).

    `begun` and `ended` mark kilns, `sensor` is the sensor's position, -1 for none, `onset` and `ended_at` are epoch
    seconds, `measure` is the begin's figure.
    """

    begun: BoolArray
    ended: BoolArray
    sensor: IntArray
    onset: FloatArray
    ended_at: FloatArray
    measure: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class FaultChange:
    """What a detector of one sensor fault decided, per sensor (K, S).

    `begun` and `ended` mark sensors, `onset` (K, S) is epoch seconds of either, `measure_c` (K, S) how far off it is,
    `other` (K, S) the position of another sensor that has to do with it; `why` chooses the words where the fault does
    not say enough.
    """

    fault: SensorFault
    begun: BoolArray
    ended: BoolArray
    onset: FloatArray
    measure_c: FloatArray | None = None
    other: IntArray | None = None
    why: str = ""


def four_digits(number: float) -> float | None:
    """Return `number` with four significant digits, None where it is not finite."""
    return float(f"{number:.4g}") if np.isfinite(number) else None


def in_order(told: list[tuple[int, Finding]]) -> list[tuple[int, Finding]]:
    """Return findings by time, then kind, sensor, fault, state, kiln."""

    def key(entry: tuple[int, Finding]) -> tuple[float, str, str, str, str, int]:
        kiln, f = entry
        return f.time, f.kind.value, f.sensor or "", f.fault.value if f.fault else "", f.state.value, kiln

    return sorted(told, key=key)


def span_finding(
    kind: FindingKind, state: FindingState, sensor: str | None, *, times: tuple[float, float], measure: float, text: str
) -> Finding:  # fmt: skip
    """Return a begin or end of kind `kind`, `times` being when it was known and its onset."""
    figure = four_digits(measure)
    unit = {FindingKind.STALL: "Cel/h", FindingKind.FALL: "Cel", FindingKind.REDUCTION: "/"}[kind]
    return Finding(
        time=times[0],
        kind=kind,
        state=state,
        sensor=sensor,
        onset=times[1],
        measure=figure,
        unit=None if figure is None else unit,
        text=text,
    )


def sensor_finding(
    state: FindingState, sensor: str, fault: SensorFault, *, times: tuple[float, float], text: str
) -> Finding:  # fmt: skip
    """Return a begin or end of a sensor fault, `times` being when it was known and its onset."""
    return Finding(
        time=times[0],
        kind=FindingKind.SENSOR,
        state=state,
        sensor=sensor,
        onset=times[1],
        measure=None,
        unit=None,
        text=text,
        fault=fault,
    )
