"""Faults that put a part of a probe at another temperature: junction, connection head, terminals, converter chip.

Each takes degC (n,) and where the fault is on, and returns degC (n,); the tables say which fault touches which part.
"""

from collections.abc import Callable, Iterable, Mapping

from monitor.model import FloatArray
from simulator.probe.moments import Moment
from simulator.script.probe_faults import ProbeFault

PlaceFault = Callable[[FloatArray, Moment], FloatArray]

COOLS_IN_S = 30.0
"""Time constant of a hot probe that hangs in the shed: within two minutes it is nearly there (common practice)."""
HEAD_WARMS_IN_S = 120.0
BOX_WARMS_IN_S = 300.0
CHIP_WARMS_IN_S = 360.0
"""Time constants of a connection head in a flame, of the terminals in its neighbour box and of the chip beside them."""
BOX_SHARE = 0.5
"""Share of a head's warmth that its converter gets (common practice, no source)."""


def warmed_head(celsius: FloatArray, moment: Moment) -> FloatArray:
    """Flame licks at the head."""
    return celsius + moment.size * moment.presence(HEAD_WARMS_IN_S)


def warmed_terminals(celsius: FloatArray, moment: Moment) -> FloatArray:
    """Flame at the head warms the terminals."""
    return celsius + BOX_SHARE * moment.size * moment.presence(BOX_WARMS_IN_S)


def warmed_chip(celsius: FloatArray, moment: Moment) -> FloatArray:
    """Flame at the head warms the chip, which lags behind its terminals."""
    return celsius + BOX_SHARE * moment.size * moment.presence(CHIP_WARMS_IN_S)


def chip_off(celsius: FloatArray, moment: Moment) -> FloatArray:
    """Tell the cold junction too high."""
    return celsius + moment.size * moment.on


def pulled_out(celsius: FloatArray, moment: Moment, *, outside_c: FloatArray) -> FloatArray:
    """Cool the junction to `outside_c` (n,); put back in, it warms as it cooled."""
    return celsius + (outside_c - celsius) * moment.presence(COOLS_IN_S)


def stepped(celsius: FloatArray, moment: Moment) -> FloatArray:
    """Read off by a share: a stretch of the wires has changed."""
    return celsius * (1.0 + moment.size / 1000.0 * moment.on)


HEAD: Mapping[ProbeFault, PlaceFault] = {ProbeFault.HEAD_FLAME: warmed_head}
TERMINALS: Mapping[ProbeFault, PlaceFault] = {ProbeFault.HEAD_FLAME: warmed_terminals}
CHIP: Mapping[ProbeFault, PlaceFault] = {ProbeFault.HEAD_FLAME: warmed_chip, ProbeFault.COLD_OFF: chip_off}
READS: Mapping[ProbeFault, PlaceFault] = {ProbeFault.STEP: stepped}


def displaced(celsius: FloatArray, moments: Iterable[Moment], table: Mapping[ProbeFault, PlaceFault]) -> FloatArray:
    """Return `celsius` (n,) of one part after all `moments` that `table` knows."""
    for moment in moments:
        if moment.what in table:
            celsius = table[moment.what](celsius, moment)
    return celsius


def moved_junction(celsius: FloatArray, moments: Iterable[Moment], outside_c: FloatArray) -> FloatArray:
    """Return the junction (n,) where it hangs outside for a while."""
    for moment in moments:
        if moment.what is ProbeFault.PULLED_OUT:
            celsius = pulled_out(celsius, moment, outside_c=outside_c)
    return celsius
