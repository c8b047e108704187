"""One-minute means of what truly happened: all that truth keeps of a firing, however the run is cut into blocks."""

from dataclasses import dataclass, fields

import numpy as np

from monitor.model import FindingKind, FloatArray
from simulator.firing import FINE_S, Trace
from simulator.truth.spans import TrueSpan
from simulator.truth.windows import BoolArray, stretches

STEPS = 60 // FINE_S
"""Fine steps in a minute."""


@dataclass(frozen=True, slots=True, eq=False)
class Minutes:
    """One-minute means of a trace: `hour` (m,) since lighting at each minute's middle, the rest as `Trace` has it."""

    hour: FloatArray
    gas_c: FloatArray
    ware_c: FloatArray
    junction_c: FloatArray
    air_kg_s: FloatArray
    demand_kg_s: FloatArray
    door: FloatArray
    ports: FloatArray
    embers_kg: FloatArray

    @property
    def begin_h(self) -> float:
        """Hour at which the first minute begins; NaN where there is none."""
        return float(self.hour[0]) - 0.5 / 60.0 if len(self.hour) else float("nan")

    @property
    def end_h(self) -> float:
        """Hour at which the last minute ends; NaN where there is none."""
        return float(self.hour[-1]) + 0.5 / 60.0 if len(self.hour) else float("nan")

    def until(self, hour: float) -> "Minutes":
        """Return the minutes whose middle lies before `hour`."""
        count = int(np.searchsorted(self.hour, hour))
        return Minutes(*(getattr(self, f.name)[:count] for f in fields(Minutes)))


SERIES = tuple(f.name for f in fields(Minutes) if f.name != "hour")


class MinuteKeeper:
    """Takes in blocks of a trace and keeps their minutes: about 3 MB for four days."""

    def __init__(self) -> None:
        self._rest: dict[str, FloatArray] = {}
        self._parts: list[list[FloatArray]] = []

    def add(self, trace: Trace) -> None:
        """Take in the block that follows the last one; its unfinished last minute waits for the next."""
        names = ("clock_s", *SERIES)
        rows = {n: getattr(trace, n) for n in names}
        if self._rest:
            rows = {n: np.concatenate([self._rest[n], rows[n]]) for n in names}
        whole = len(rows["clock_s"]) // STEPS * STEPS
        begun_s = rows["clock_s"][:whole:STEPS] - FINE_S
        means = [_mean(rows[n][:whole]) for n in SERIES]
        self._parts.append([(begun_s + 30.0) / 3600.0, *means])
        self._rest = {n: rows[n][whole:].copy() for n in names}

    def minutes(self) -> Minutes:
        """Return all whole minutes so far."""
        return Minutes(*(np.concatenate(column) for column in zip(*self._parts, strict=True)))


def minute_means(trace: Trace) -> Minutes:
    """Return one-minute means of `trace`, an unfinished last minute left out."""
    keeper = MinuteKeeper()
    keeper.add(trace)
    return keeper.minutes()


def spans_of(kind: FindingKind, minutes: Minutes, on: BoolArray, by_zone: dict[str, BoolArray]) -> list[TrueSpan]:
    """Return the stretches of `on` (m,) as spans, each with the names in `by_zone` that are on somewhere in it."""
    half_h = 0.5 / 60.0
    return [
        TrueSpan(
            kind,
            float(minutes.hour[begin]) - half_h,
            float(minutes.hour[end - 1]) + half_h,
            zones=tuple(name for name, own in by_zone.items() if np.any(own[begin:end])),
        )
        for begin, end in stretches(on)
    ]


def _mean(rows: FloatArray) -> FloatArray:
    mean: FloatArray = rows.reshape(-1, STEPS, *rows.shape[1:]).mean(axis=1)
    return mean
