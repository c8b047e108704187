"""Measure what judging costs: `python tests/bench/engine.py [--hours 24]`.

Twelve sensors of four places, read once a second, with the dip of a stoke every five minutes at the firebox, go
through the whole engine in blocks of an hour, as in a replay. The reference in the same run is a plain least-squares
slope over 30 min of every sensor at every beat: what a simple rate of rise would cost. Made up, not a kiln.
"""

import argparse
import time

import numpy as np
from firings import PER_H, START, part_of

from monitor.engine.engine import Engine
from monitor.engine.limits import SLOTS_PER_BEAT
from monitor.engine.setup import setup_from_sites
from monitor.model import SLOT_S, FloatArray, Slots
from monitor.site_file import parse_site

PLACES = ("firebox", "front", "middle", "back") * 3
SECONDS_IN_SLOT = 5
GOAL_S = 15.0
"""Whole replay of four days of twelve inputs, seconds of one core (goal)."""


def main() -> None:
    """Print processor time of the engine and of the reference, and what four days would take."""
    parser = argparse.ArgumentParser(description="Measure what judging costs.")
    parser.add_argument("--hours", type=int, default=24, metavar="N")
    hours = parser.parse_args().hours
    slots = _slots(hours)
    text = '[kiln]\nname = "Bench kiln"\n' + "".join(
        f'[[sensor]]\nid = "s{i}"\ninput = "bench/t{i}"\ntype = "K"\nplace = "{place}"\n'
        for i, place in enumerate(PLACES)
    )
    engine = Engine(setup_from_sites([parse_site(text, "bench")]))
    begun = time.process_time()
    told = sum(len(engine.judge(part_of(slots, a, a + PER_H))) for a in range(0, hours * PER_H, PER_H))
    engine_s = time.process_time() - begun
    begun = time.process_time()
    _plain_slopes(slots.mean_c[:, 0])
    plain_s = time.process_time() - begun
    whole_s = engine_s * 96.0 / hours
    print(f"{hours} h of {len(PLACES)} inputs: engine {engine_s:.1f} s, {told} findings; plain slopes {plain_s:.2f} s")
    print(f"engine over plain slopes {engine_s / plain_s:.1f}; four days {whole_s:.0f} s, goal {GOAL_S:.0f} s in all")


def _slots(hours: int) -> Slots:
    rng = np.random.default_rng(1)
    second = SLOT_S * np.arange(hours * PER_H)
    dip = 10.0 * np.exp(-(second % 300.0) / 60.0)
    at_fire = np.array([place == "firebox" for place in PLACES])
    celsius = (
        300.0
        + 9.0 * second[:, None] / 3600.0
        - dip[:, None] * at_fire
        + rng.normal(0.0, 0.1, (len(second), len(PLACES)))
    )
    mean = celsius[:, None, :]
    emf = 40.0e-6 * mean
    end = START + SLOT_S * np.arange(1, len(second) + 1)
    return Slots(
        end=end,
        known_at=end[:, None],
        mean_c=mean,
        count=np.full(mean.shape, SECONDS_IN_SLOT),
        status=np.zeros(mean.shape, np.uint8),
        emf_min_volts=emf - 2e-6,
        emf_max_volts=emf + 2e-6,
        cold_c=np.full(mean.shape, 20.0),
        late=np.zeros(mean.shape, bool),
    )


def _plain_slopes(celsius: FloatArray) -> None:
    x = np.arange(PER_H // 2) * SLOT_S / 3600.0
    x = x - x.mean()
    for end in range(len(x), len(celsius), SLOTS_PER_BEAT):
        x @ celsius[end - len(x) : end] / (x @ x)


if __name__ == "__main__":
    main()
