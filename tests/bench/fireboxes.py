"""Made-up kilns for the stoke bench: a firebox and a flue thermocouple, a crew, four stages. Not the kiln simulator.

Only what the detector must tell apart: driving temperatures that dip for the seconds a door is open and while wood
dries, then flare and fade; flicker that swells and dies down; looks through the door; all seen through sheaths of 4 to
20 mm by a first-order lag with a bore behind it. Dips follow what was measured of an independent kiln model (10th to
90th percentile 2 to 8 degC in the preheat, 4 to 16 in the climb, 1 to 12 in high fire); everything else is "made up to
match the task". Every kiln draws its own sheaths, flicker, crew and sampling.
"""

from dataclasses import dataclass

import numpy as np

from monitor.model import FloatArray

STEFAN_BOLTZMANN = 5.67e-8
STAGES = ("preheat", "climb", "reduction", "high-fire")
_HOURS = (12.0, 14.0, 5.0, 12.0)
_DEGC = (80.0, 420.0, 900.0, 980.0, 1250.0)
_INTERVAL_MIN = ((9.0, 18.0), (6.0, 10.0), (5.0, 8.0), (3.2, 6.0))
_DOOR_S = ((20.0, 40.0), (9.0, 20.0), (6.0, 12.0), (3.0, 9.0))
_DIP_C = (4.5, 9.0, 8.0, 4.5)
_EVERY_S = (1, 1, 2, 5, 7, 10)
SENSORS = ("firebox", "flue")


@dataclass(frozen=True)
class Firing:
    """Slots (n, 2) in degC, NaN where no sample fell; seconds of stokes and looks; seconds at which stages end."""

    slots_c: FloatArray
    stokes_s: FloatArray
    looks_s: FloatArray
    stage_ends_s: FloatArray
    every_s: int


def fire(seed: int, looks_per_day: float = 10.0) -> Firing:
    """Return one made-up firing."""
    rng = np.random.default_rng([seed, 31])
    ends = np.cumsum(_HOURS) * 3600.0
    n = int(ends[-1])
    kiln_c = np.interp(np.arange(n), np.append(0.0, ends), _DEGC)
    sheath_mm = (rng.uniform(4.0, 20.0), rng.uniform(3.0, 8.0))
    stokes, doors, stages = _crew(rng, ends)
    looks = np.sort(rng.uniform(0.0, n - 600.0, rng.poisson(looks_per_day * n / 86400.0)))
    dip, flare = _charges(rng, stokes, doors, stages, kiln_c=kiln_c, sheath_mm=sheath_mm[0])
    dip += _looks(rng, looks, kiln_c, sheath_mm[0])
    swell = np.exp(_wander(rng, n, 600.0, 0.3))
    shares = (1.0, 1.0), (rng.uniform(-0.6, 0.3), rng.uniform(0.1, 0.5))
    flicker, lasts_s = rng.uniform(0.015, 0.035), rng.uniform(8.0, 40.0)
    columns = []
    for mm, (of_dip, of_flare), strength in zip(sheath_mm, shares, (1.0, 0.5), strict=True):
        lag_s, gas_share = _sheath(mm, kiln_c)
        gas = strength * flicker * (kiln_c + 100.0) * gas_share * swell * _wander(rng, n, lasts_s, 1.0)
        drive = kiln_c + of_dip * dip + of_flare * flare + gas + _wander(rng, n, 500.0, 2.0)
        columns.append(_follow(_follow(drive, lag_s), np.full(n, rng.uniform(2.0, 8.0))) + rng.normal(0.0, 0.05, n))
    every_s = int(rng.choice(_EVERY_S))
    return Firing(_slots(np.stack(columns, axis=1), every_s), stokes, looks, ends, every_s)


def _crew(rng: np.random.Generator, ends: FloatArray) -> tuple[FloatArray, FloatArray, list[int]]:
    """Return seconds of stokes, seconds the door is open, and the stage of each; one interval in fifty is long."""
    interval_s = [60.0 * rng.uniform(*span) for span in _INTERVAL_MIN]
    door_s = [rng.uniform(*span) for span in _DOOR_S]
    scatter = rng.uniform(0.06, 0.16)
    moment, stokes, doors, stages = rng.uniform(0.0, 600.0), [], [], []
    while moment < ends[-1] - 300.0:
        stage = int(np.searchsorted(ends, moment, side="right"))
        stokes.append(moment)
        stages.append(stage)
        doors.append(door_s[stage] * np.exp(rng.normal(0.0, 0.35)))
        wait = (
            interval_s[stage] * np.exp(rng.normal(0.0, scatter)) * (rng.uniform(1.4, 2.5) if rng.random() < 0.02 else 1)
        )
        moment += max(wait, 80.0)
    return np.array(stokes), np.array(doors), stages


def _charges(
    rng: np.random.Generator, stokes: FloatArray, doors: FloatArray, stages: list[int], *, kiln_c: FloatArray,
    sheath_mm: float,
) -> tuple[FloatArray, FloatArray]:  # fmt: skip
    """Return what charges take from and give to the driving temperature, degC a second."""
    n = len(kiln_c)
    dip, flare = np.zeros(n), np.zeros(n)
    spread, dries_s, rises_s = rng.uniform(0.25, 0.6), rng.uniform(5.0, 25.0), rng.uniform(15.0, 50.0)
    fades = rng.uniform(0.3, 0.8)
    nearest = np.append(np.diff(stokes), 300.0)
    for moment, door_s, stage, gap_s in zip(stokes, doors, stages, nearest, strict=True):
        first = int(moment)
        lag_s = float(_sheath(sheath_mm, kiln_c[first : first + 1])[0][0])
        shape = _cold(door_s, dries_s)
        depth_c = _DIP_C[stage] * np.exp(rng.normal(0.0, spread))
        _add(dip, first, -depth_c * shape / _deepest(shape, lag_s))
        age = np.maximum(np.arange(5.0 * fades * gap_s) - 0.7 * door_s - 0.5 * dries_s, 0.0)
        size_c = _DIP_C[stage] * rng.uniform(0.8, 3.0) * np.exp(rng.normal(0.0, 0.35))
        _add(flare, first, size_c * (1.0 - np.exp(-age / rises_s)) * np.exp(-age / (fades * gap_s)))
    return dip, flare


def _looks(rng: np.random.Generator, looks: FloatArray, kiln_c: FloatArray, sheath_mm: float) -> FloatArray:
    """Return what looks through the door take: a door open for 4 to 12 s, no wood."""
    dip = np.zeros(len(kiln_c))
    for moment in looks.tolist():
        lag_s = float(_sheath(sheath_mm, kiln_c[int(moment) : int(moment) + 1])[0][0])
        shape = _cold(rng.uniform(4.0, 12.0), 3.0)
        _add(dip, int(moment), -rng.uniform(1.0, 5.0) * shape / _deepest(shape, lag_s))
    return dip


def _cold(door_s: float, dries_s: float) -> FloatArray:
    second = np.arange(round(door_s + 6.0 * dries_s))
    open_now = second < door_s
    shut = (1.0 - np.exp(-door_s / 3.0)) * np.exp(-np.maximum(second - door_s, 0.0) / dries_s)
    return np.where(open_now, 1.0 - np.exp(-second / 3.0), shut)


def _deepest(shape: FloatArray, lag_s: float) -> float:
    return float(_follow(np.append(0.0, shape), np.full(len(shape) + 1, lag_s)).max())


def _sheath(mm: float, celsius: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the lag in seconds and the share that gas has in what drives it (handbook form, from memory)."""
    radiation = 4.0 * STEFAN_BOLTZMANN * (celsius + 273.15) ** 3
    convection = 22.0 * np.sqrt(6.0 / mm)
    total = convection + 0.85 * radiation
    return 3.6e6 * mm / 4000.0 / total, (convection + 0.05 * radiation) / total


def _follow(drive: FloatArray, lag_s: FloatArray) -> FloatArray:
    """Return a first-order response in steps of a second."""
    share = (1.0 - np.exp(-1.0 / lag_s)).tolist()
    now = float(drive[0])
    out = []
    for value, part in zip(drive.tolist(), share, strict=True):
        now += part * (value - now)
        out.append(now)
    return np.array(out)


def _wander(rng: np.random.Generator, n: int, lasts_s: float, sd: float) -> FloatArray:
    """Return a first-order random process of standard deviation `sd` in steps of a second."""
    keeps = np.exp(-1.0 / lasts_s)
    kicks = (sd * np.sqrt(1.0 - keeps**2) * rng.standard_normal(n)).tolist()
    now, out = sd * float(rng.standard_normal()), []
    for kick in kicks:
        now = keeps * now + kick
        out.append(now)
    return np.array(out)


def _add(row: FloatArray, first: int, shape: FloatArray) -> None:
    part = shape[: len(row) - first]
    row[first : first + len(part)] += part


def _slots(second_c: FloatArray, every_s: int) -> FloatArray:
    """Return means over 5 s of what is sampled every `every_s` seconds, NaN where no sample fell."""
    sampled = np.full(second_c.shape, np.nan)
    sampled[::every_s] = second_c[::every_s]
    slots = sampled[: len(sampled) // 5 * 5].reshape(-1, 5, second_c.shape[1])
    count = np.isfinite(slots).sum(axis=1)
    return np.where(count > 0, np.nansum(slots, axis=1) / np.maximum(count, 1), np.nan)
