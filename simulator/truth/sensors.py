"""Sensor faults as spans: what probes, leads and converters do wrong, and what a silent node or line withholds.

Two faults of one word at one sensor that overlap or touch are one. A silence concerns every sensor of the node.
"""

from dataclasses import replace

from monitor.model import FindingKind, SensorFault
from simulator.firing import Firing
from simulator.line.silences import true_missing
from simulator.probe.sensor_truth import true_sensor_faults
from simulator.truth.minutes import Minutes
from simulator.truth.spans import TrueSpan

SILENCE = "silence"
"""Cause of what is missing because nothing of the node arrives."""


def true_sensors(firing: Firing, minutes: Minutes, *, seed: int) -> list[TrueSpan]:
    """Return the sensor faults of `firing`, whose chance was drawn after `seed`, in order."""
    if len(minutes.hour) == 0:
        return []
    clock_s = 3600.0 * minutes.hour + 30.0
    faults = true_sensor_faults(firing.spec, firing.spells, minutes, clock_s=clock_s, lit=firing.lit)
    spans = [
        TrueSpan(FindingKind.SENSOR, f.begin_h, f.end_h, sensor=f.sensor, fault=f.fault, cause=f.cause) for f in faults
    ]
    spans += [
        TrueSpan(FindingKind.SENSOR, begin_h, end_h, sensor=s.id, fault=SensorFault.MISSING, cause=SILENCE)
        for begin_h, end_h in true_missing(firing.spells, seed=seed)
        for s in firing.spec.sensors
    ]
    return _joined(spans)


def _joined(spans: list[TrueSpan]) -> list[TrueSpan]:
    open_now: dict[tuple[str | None, SensorFault | None], TrueSpan] = {}
    done: list[TrueSpan] = []
    for span in sorted(spans, key=lambda s: (s.begin_h, s.end_h)):
        key = (span.sensor, span.fault)
        before = open_now.get(key)
        if before is not None and span.begin_h <= before.end_h:
            open_now[key] = replace(before, end_h=max(before.end_h, span.end_h))
            continue
        if before is not None:
            done.append(before)
        open_now[key] = span
    return sorted([*done, *open_now.values()], key=lambda s: (s.begin_h, s.sensor or "", s.fault or ""))
