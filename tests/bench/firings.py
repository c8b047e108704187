"""Made-up hours of a firing for the benchmarks: a ware temperature with a known rate, and stoke ripple on top.

Not a kiln: no physics, only the two things that a climb filter must tell apart. The rate moves smoothly between values
drawn anew every hour; stokes come at intervals and sizes that scatter as a crew's do, each with a dip, a burst and a
decay. Every figure below is "made up to match the task" unless said otherwise: ripple of 10 to 30 degC every 4 to 8 min
is what the climb must bear.
"""

from dataclasses import dataclass, fields

import numpy as np

from monitor.engine.engine import Engine
from monitor.engine.setup import setup_from_sites
from monitor.model import SLOT_S, FloatArray, Slots
from monitor.site_file import parse_site

START = 1_764_000_000.0
"""Epoch seconds at which every made-up firing begins, a multiple of the beat."""

PER_H = round(3600.0 / SLOT_S)

SITE = """
[kiln]
name = "Bench kiln"
[[sensor]]
id = "middle"
input = "bench/t1"
place = "middle"
"""


@dataclass(frozen=True)
class Rhythm:
    """A crew: shortest and longest mean interval in minutes, scatter of intervals and of charges, ripple in degC."""

    name: str
    interval_min: tuple[float, float]
    interval_scatter: float
    charge_scatter: float
    ripple_c: tuple[float, float] = (10.0, 30.0)


def smooth_rate(rng: np.random.Generator, hours: float, mean: float = 35.0, sd: float = 15.0) -> FloatArray:
    """Return a rate in degC/h per slot that moves smoothly between values drawn once an hour."""
    knots = rng.normal(mean, sd, int(hours) + 3)
    at = np.arange(int(hours * PER_H)) / PER_H
    part = at - np.floor(at)
    blend = part * part * (3.0 - 2.0 * part)
    number = np.floor(at).astype(int)
    return np.asarray(knots[number] * (1.0 - blend) + knots[number + 1] * blend)


def stoke_ripple(rng: np.random.Generator, hours: float, rhythm: Rhythm) -> tuple[FloatArray, float]:
    """Return ripple in degC per slot, and the crew's mean interval in minutes."""
    interval = rng.uniform(*rhythm.interval_min)
    slots = int(hours * PER_H)
    lead = 2 * PER_H
    pulse = _pulse(interval)
    ripple = np.zeros(lead + slots + len(pulse))
    moment = rng.uniform(0.0, interval)
    while (first := int(moment * 60.0 / SLOT_S)) < lead + slots:
        ripple[first : first + len(pulse)] += pulse * max(0.1, rng.normal(1.0, rhythm.charge_scatter))
        moment += max(1.0, rng.normal(interval, rhythm.interval_scatter * interval))
    ripple = ripple[lead : lead + slots]
    period = int(interval * 60.0 / SLOT_S)
    swing = np.ptp(ripple[: slots // period * period].reshape(-1, period), axis=1).mean()
    return (ripple - ripple.mean()) * rng.uniform(*rhythm.ripple_c) / swing, interval


def judged(celsius: FloatArray, plan: str = "") -> tuple[Engine, Slots]:
    """Return an engine of as many kilns as `celsius` (n, K) has columns, and the slots to feed it."""
    n, kilns = celsius.shape
    engine = Engine(setup_from_sites([parse_site(SITE + plan, "bench")] * kilns))
    end = START + SLOT_S * np.arange(1, n + 1)
    wide = celsius[:, :, None]
    slots = Slots(
        end=end,
        known_at=np.repeat(end[:, None], kilns, axis=1),
        mean_c=wide,
        count=np.full(wide.shape, 5),
        status=np.where(np.isnan(wide), 1, 0).astype(np.uint8),
        emf_min_volts=np.full(wide.shape, np.nan),
        emf_max_volts=np.full(wide.shape, np.nan),
        cold_c=np.full(wide.shape, np.nan),
        late=np.zeros(wide.shape, bool),
    )
    return engine, slots


def part_of(slots: Slots, begin: int, end: int) -> Slots:
    """Return slots `begin` to `end` of `slots`."""
    cut = slice(begin, end)
    return Slots(*(getattr(slots, column.name)[cut] for column in fields(Slots)))


def _pulse(interval_min: float) -> FloatArray:
    """Return what one stoke leaves, per slot: a dip of half a minute, a burst, and a decay over half an interval."""
    minutes = np.arange(0.0, interval_min * 4.0, SLOT_S / 60.0)
    dip = -0.6 * np.exp(-(((minutes - 0.5) / 0.4) ** 2))
    after = np.maximum(minutes - 0.7, 0.0)
    return np.asarray(dip + (1.0 - np.exp(-after / 0.8)) * np.exp(-after / (0.5 * interval_min)))
