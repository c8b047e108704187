"""When a node is not heard: spells of a silent line or node as spans of hours from lighting; pure.

The line itself and the truth both ask here, so that what is told as true is what was done.
"""

from collections.abc import Iterable, Sequence

import numpy as np

from simulator.script.line_faults import LineFault
from simulator.script.spells import Spell

HOLE_EVERY_H = 1.0 / 6.0
"""One hole in every ten minutes of its spell."""
RESET_TAKES_S = 3.0
"""From a reset to the first scan: two seconds in which a board can be reprogrammed, then the set-up."""
LONG_S = 20.0
"""Silence that counts as missing: a reset may take up to this unnoticed."""

Hours = tuple[float, float]


def outages(spells: Iterable[Spell]) -> list[Hours]:
    """Return when nothing passes, neither way."""
    return [(s.begin_h, s.end_h) for s in spells if s.what in (LineFault.OUTAGE, LineFault.REPLUG)]


def holes(spells: Iterable[Spell], seed: int) -> list[Hours]:
    """Return when all packs are lost on their way: one hole somewhere in every ten minutes of each such spell."""
    rng = np.random.default_rng([seed, 34])
    found: list[Hours] = []
    for spell in spells:
        if spell.what is LineFault.HOLES:
            begins = np.arange(spell.begin_h, spell.end_h, HOLE_EVERY_H)
            room_h = max(HOLE_EVERY_H - spell.size / 3600.0, 0.0)
            at = begins + rng.random(len(begins)) * room_h
            found += [(a, min(a + spell.size / 3600.0, spell.end_h)) for a in at.tolist()]
    return found


def downtimes(spells: Iterable[Spell]) -> list[Hours]:
    """Return when the node takes no scans, in order; at the end of each it has started anew."""
    resets = [(s.begin_h, s.begin_h + RESET_TAKES_S / 3600.0) for s in spells if s.what is LineFault.RESET]
    hangs = [(s.begin_h, s.end_h) for s in spells if s.what is LineFault.HANG]
    return sorted(resets + hangs)


def true_missing(spells: Sequence[Spell], *, seed: int) -> list[Hours]:
    """Return when nothing of a node arrives for longer than `LONG_S`, in order, what touches joined.

    Scans held up for more than that, and those sent again after an outage, come too late to end a silence.
    """
    held_up = [(s.begin_h, s.end_h) for s in spells if s.what is LineFault.DELAY and s.size * 3600.0 > LONG_S]
    joined: list[Hours] = []
    for begin, end in sorted(outages(spells) + holes(spells, seed) + downtimes(spells) + held_up):
        if joined and begin <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], end))
        else:
            joined.append((begin, end))
    return [(begin, end) for begin, end in joined if (end - begin) * 3600.0 > LONG_S]
