"""Measure falls and stalls on made-up hours: `python tests/bench/falls_and_stalls.py`.

Episodes of a failing or standing fire, some too short or too mild to count, are laid into a steady climb; truth is the
definition in section "Findings" of DEVELOPERS.md applied in hindsight to the temperature without the sensor's noise. A
finding meets an event if its onset lies from 10 min before the event to 5 min after its end. Delay is from the event's
begin to the moment of the announcement. This is not the kiln simulator: it tries the detectors, not the physics.
"""

import time

import numpy as np
from firings import PER_H, START, Rhythm, judged, stoke_ripple

from monitor.model import FindingKind, FindingState, FloatArray

HOURS, SEEDS = 16, 60
ROWS = (
    Rhythm("ripple 3 degC, usual", (4.0, 8.0), 0.05, 0.05, (3.0, 3.0)),
    Rhythm("ripple 10 degC, uneven", (4.0, 8.0), 0.10, 0.10, (10.0, 10.0)),
    Rhythm("ripple 10 to 30, even", (4.0, 8.0), 0.02, 0.03),
    Rhythm("ripple 10 to 30, uneven", (4.0, 8.0), 0.10, 0.10),
)
Spans = list[tuple[float, float]]


def main() -> None:
    """Print the table."""
    begun = time.perf_counter()
    print(f"{'':26}{'events':>8}{'met':>6}{'missed':>8}{'false':>7}{'a day':>7}{'F1':>7}{'delay, min 25/50/75 %':>24}")
    for rhythm in ROWS:
        for kind in (FindingKind.FALL, FindingKind.STALL):
            _row(rhythm, kind)
    print(f"{SEEDS} x {HOURS} h a row; {time.perf_counter() - begun:.0f} s")


def _row(rhythm: Rhythm, kind: FindingKind) -> None:
    seeds = [np.random.default_rng([seed, 7]) for seed in range(SEEDS)]
    made = [_firing(rng, rhythm, kind) for rng in seeds]
    climb = 40.0
    plan = f"[plan]\npoints = [[0, 600], [{HOURS}, {600 + climb * HOURS}]]\n"
    noisy = np.array([m[1] + rng.normal(0.0, 0.3, len(m[1])) for m, rng in zip(made, seeds, strict=True)]).T
    engine, slots = judged(noisy, plan)
    told: list[list[tuple[float, float]]] = [[] for _ in range(SEEDS)]
    for kiln, f in engine.judge(slots):
        if f.kind is kind and f.state is FindingState.BEGIN:
            told[kiln].append(((f.time - START) / 60.0, (f.onset - START) / 60.0))
    met, missed, false, delays = 0, 0, 0, []
    for (ware, gas, interval), found in zip(made, told, strict=True):
        true = _true_falls(gas, interval) if kind is FindingKind.FALL else _true_stalls(ware, interval, climb)
        hits = [next((i for i, (a, b) in enumerate(true) if a - 10 <= onset <= b + 5), None) for _, onset in found]
        first = {event: when for (when, _), event in reversed(list(zip(found, hits, strict=True))) if event is not None}
        met, missed, false = met + len(first), missed + len(true) - len(first), false + hits.count(None)
        delays += [when - true[event][0] for event, when in first.items()]
    f1 = 2 * met / (2 * met + missed + false)
    quarters = " ".join(f"{q:6.1f}" for q in np.quantile(delays, [0.25, 0.5, 0.75]))
    a_day = false / (SEEDS * HOURS) * 24
    print(f"{rhythm.name:26}{met + missed:8}{met:6}{missed:8}{false:7}{a_day:7.2f}{f1:7.2f}{quarters:>24}  {kind}")


def _firing(rng: np.random.Generator, rhythm: Rhythm, kind: FindingKind) -> tuple[FloatArray, FloatArray, float]:
    """Return ware and gas temperature per slot, and the crew's interval in minutes."""
    rate = np.full(HOURS * PER_H, rng.uniform(30.0, 50.0))
    for number in range(4):
        begin = int((1.5 + 3.5 * number + rng.uniform(0.0, 1.0)) * PER_H)
        length = int(rng.uniform(8.0, 60.0) / 60.0 * PER_H)
        low = -rng.uniform(15.0, 200.0) if kind is FindingKind.FALL else rng.uniform(-8.0, 14.0)
        rate[begin : begin + length] = low
        rate[begin + length : begin + 2 * length] += rng.uniform(10.0, 40.0)
    slow = np.exp(-np.arange(PER_H) / (rng.uniform(2.0, 6.0) * 60.0 / 5.0))
    rate = np.convolve(rate, slow / slow.sum())[: len(rate)]
    ware = 600.0 + rate.cumsum() / PER_H
    ripple, interval = stoke_ripple(rng, HOURS, rhythm)
    return ware, ware + ripple, interval


def _true_falls(gas: FloatArray, interval: float) -> Spans:
    minutes = gas.reshape(-1, 12).mean(axis=1)
    mean = _centred(minutes, max(10.0, 2.5 * interval))
    past = np.lib.stride_tricks.sliding_window_view(np.append(np.full(29, -np.inf), mean), 30)
    return _spans(np.nanmax(past, axis=1) - mean > 10.0, closed=10, least=5, close_first=False)


def _true_stalls(ware: FloatArray, interval: float, climb: float) -> Spans:
    minutes = ware.reshape(-1, 12).mean(axis=1)
    half = round(max(20.0, 2.5 * interval) / 2.0)
    x = np.arange(-half, half + 1)
    slope = np.full(len(minutes), np.nan)
    windows = np.lib.stride_tricks.sliding_window_view(minutes, len(x))
    slope[half:-half] = windows @ x / (x @ x) * 60.0
    plan = 600.0 + climb * np.arange(len(minutes)) / 60.0
    return _spans((slope < 5.0) & (minutes - plan < 10.0), closed=5, least=20, close_first=True)


def _centred(minutes: FloatArray, window: float) -> FloatArray:
    half = round(window / 2.0)
    mean = np.full(len(minutes), np.nan)
    mean[half:-half] = np.lib.stride_tricks.sliding_window_view(minutes, 2 * half + 1).mean(axis=1)
    return mean


def _spans(true: FloatArray, *, closed: int, least: int, close_first: bool) -> Spans:
    """Return spans of minutes, joined over breaks under `closed`, without those shorter than `least`."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], true.astype(int), [0]])))
    spans = [(float(a), float(b)) for a, b in edges.reshape(-1, 2)]
    if not close_first:
        spans = [s for s in spans if s[1] - s[0] >= least]
    joined: Spans = []
    for begin, end in spans:
        if joined and begin - joined[-1][1] < closed:
            joined[-1] = (joined[-1][0], end)
        else:
            joined.append((begin, end))
    return [s for s in joined if s[1] - s[0] >= least]


if __name__ == "__main__":
    main()
