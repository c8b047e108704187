"""Measure stokes on made-up kilns (fireboxes.py), which are not the simulator's: `python tests/bench/stokes.py`.

Scored as the section "Findings" of DEVELOPERS.md says: one to one within 90 s, nearest pairs first. No limit was tuned
on these seeds. A fixed threshold (4 degC down within a minute, then 2 degC up) stands beside the engine.
"""

import time
from collections import defaultdict

import numpy as np
from fireboxes import SENSORS, STAGES, Firing, fire

from monitor.engine.engine import Engine
from monitor.engine.setup import setup_from_sites
from monitor.model import FindingKind, FloatArray, Slots
from monitor.site_file import parse_site

SEEDS = range(201, 213)
START = 1_764_000_000.0
NEAR_S = 90.0
Tallies = dict[str, FloatArray]


def main() -> None:
    """Print the tables."""
    for with_flue in (False, True):
        _table(f"made-up kilns, firebox{' and flue' if with_flue else ' alone'}", *_made_up(with_flue=with_flue))


def _made_up(*, with_flue: bool) -> tuple[Tallies, Tallies, str]:
    """Return tallies by stage of the engine and of the fixed threshold, and a line about times."""
    ours: Tallies = defaultdict(lambda: np.zeros(4))
    fixed: Tallies = defaultdict(lambda: np.zeros(4))
    off, delay, spent = [], [], 0.0
    for seed in SEEDS:
        made = fire(seed)
        begun = time.process_time()
        onsets, known = told_stokes(made.slots_c[:, : 2 if with_flue else 1])
        spent += time.process_time() - begun
        pairs = score(ours, made, onsets)
        score(fixed, made, _fixed_threshold(made.slots_c[:, 0]))
        off += [onsets[j] - made.stokes_s[i] for i, j in pairs]
        delay += [known[j] - made.stokes_s[i] for i, j in pairs]
    quarters = " ".join(f"{q:.0f}" for q in np.quantile(off, [0.05, 0.5, 0.95]))
    return (
        ours,
        fixed,
        f"onset off by {quarters} s (5, 50, 95 %), known after {np.median(delay):.0f} s; cpu {spent:.0f} s",
    )


def told_stokes(slots_c: FloatArray, places: tuple[str, ...] = SENSORS) -> tuple[FloatArray, FloatArray]:
    """Return onsets of stokes and when they were known, seconds, from slots (n, S) in degC."""
    text = '[kiln]\nname = "Bench kiln"\n'
    for number in range(slots_c.shape[1]):
        text += f'[[sensor]]\nid = "s{number}"\ninput = "bench/t{number}"\nplace = "{places[number]}"\n'
    engine = Engine(setup_from_sites([parse_site(text, "bench")]))
    end = START + 5.0 * np.arange(1, len(slots_c) + 1)
    wide = slots_c[:, None, :]
    nothing = np.full(wide.shape, np.nan)
    status = np.where(np.isnan(wide), 1, 0).astype(np.uint8)
    count, late = np.where(status == 0, 5, 0), np.zeros(wide.shape, bool)
    told = engine.judge(Slots(end, end[:, None], wide, count, status, nothing, nothing, nothing, late))
    stokes = [f for _, f in told if f.kind is FindingKind.STOKE]
    return np.array([f.onset for f in stokes]) - START, np.array([f.time for f in stokes]) - START


def pair(true: FloatArray, found: FloatArray) -> list[tuple[int, int]]:
    """Pair one to one within 90 s, nearest first."""
    apart = np.abs(true[:, None] - found) if len(found) else np.empty((len(true), 0))
    near = sorted((apart[i, j], i, j) for i, j in np.argwhere(apart <= NEAR_S).tolist())
    pairs: list[tuple[int, int]] = []
    for _, i, j in near:
        if all(i != a and j != b for a, b in pairs):
            pairs.append((i, j))
    return pairs


def score(tallies: Tallies, made: Firing, found: FloatArray) -> list[tuple[int, int]]:
    """Add a firing's met, missed, false and days to the stages' tallies; return the pairs."""
    pairs = pair(made.stokes_s, found)
    met, used = {i for i, _ in pairs}, {j for _, j in pairs}
    for name, begin, end in zip(STAGES, [0.0, *made.stage_ends_s], made.stage_ends_s, strict=False):
        here = np.flatnonzero((made.stokes_s >= begin) & (made.stokes_s < end))
        hits = sum(i in met for i in here.tolist())
        false = sum(begin <= found[j] < end and j not in used for j in range(len(found)))
        tallies[name] += [hits, len(here) - hits, false, (end - begin) / 86400.0]
    return pairs


def _fixed_threshold(celsius: FloatArray) -> FloatArray:
    known = np.isfinite(celsius)
    row = np.interp(np.arange(len(celsius)), np.flatnonzero(known), celsius[known])
    found, last = [], -15
    for i in range(len(row) - 24):
        low = i + int(row[i : i + 13].argmin())
        if i - last >= 15 and row[i] - row[low] >= 4.0 and row[low : low + 24].max() - row[low] >= 2.0:
            found.append(5.0 * i)
            last = i
    return np.array(found)


def print_rows(name: str, tallies: Tallies) -> None:
    """Print met, missed, false a day and F1 by stage and in all."""
    rows = [*tallies.items(), ("all", sum(tallies.values(), np.zeros(4)))]
    for stage, (met, missed, false, days) in rows:
        f1 = 2.0 * met / max(2.0 * met + missed + false, 1.0)
        print(f"{name:10}{stage:12}{met + missed:8.0f}{missed:8.0f}{false / max(days, 1e-9):10.2f}{f1:8.3f}")


def _table(title: str, ours: Tallies, fixed: Tallies, line: str) -> None:
    print(f"{title}: {len(SEEDS)} firings\n{'':10}{'stage':12}{'stokes':>8}{'missed':>8}{'false/day':>10}{'F1':>8}")
    print_rows("engine", ours)
    print_rows("fixed", fixed)
    print(f"{line}\n")


if __name__ == "__main__":
    main()
