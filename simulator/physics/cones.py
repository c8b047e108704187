"""Virtual witness cones: packs that stand in the ware and bend by heat work, as cones in a kiln do.

A cone takes up heat work as the pure room `monitor.heat_work` has it, at the temperature of the ware around it, and
is down, its tip level with its foot, at a heat work w of 1. It leans late: a melt gets thinner while the leaning cone's
weight pulls ever harder, so the angle is put at 90 degrees times w cubed. On a climb of 60 degC/h cone 10 then takes 18
minutes from where a person sees it begin to where it is down (common practice, no source: a quarter of an hour to
half an hour).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from monitor.heat_work.cones import cone_index
from monitor.heat_work.rate import step_work
from monitor.model import FloatArray

DOWN_DEG = 90.0
BENDS_DEG = 5.0
"""Lean at which a person at the spyhole sees that a cone has begun (common practice, no source)."""
LEAN_POWER = 3.0


@dataclass(frozen=True, slots=True)
class ConePack:
    """Cones by their `numbers`, "022" to "15", that stand in the zone called `zone`."""

    zone: str
    numbers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TrueCone:
    """What became of cone `number` in `zone`: hour from lighting at which it began and was down, None for not yet.

    `heat_work` and `bend_deg` are where it stood at the end.
    """

    zone: str
    number: str
    bends_h: float | None
    down_h: float | None
    heat_work: float
    bend_deg: float


def pack_of(raw: dict[str, Any], zones: Sequence[str]) -> ConePack:
    """Return the pack that a `[[cones]]` table describes, in a kiln with `zones`.

    Raises:
        KeyError, ValueError: where a key, the zone or a cone is not known.
    """
    pack = ConePack(raw["zone"], tuple(raw["numbers"]))
    if pack.zone not in zones:
        raise ValueError(f"no zone {pack.zone!r} for cones; there are {', '.join(zones)}")
    for number in pack.numbers:
        cone_index(number)
    return pack


def bend_deg(heat_work: FloatArray) -> FloatArray:
    """Return the lean of a cone from upright in degrees at `heat_work`, 90 from 1 on."""
    lean: FloatArray = DOWN_DEG * np.minimum(heat_work, 1.0) ** LEAN_POWER
    return lean


def watch_cones(
    packs: Sequence[ConePack], zones: Sequence[str], hour: FloatArray, ware_c: FloatArray
) -> list[TrueCone]:
    """Return what becomes of every cone, the zones called `zones` being at `ware_c` (m, Z) at `hour` (m,)."""
    found: list[TrueCone] = []
    for pack in packs:
        work = _work(hour, ware_c[:, list(zones).index(pack.zone)])
        found += [_course(pack.zone, number, hour, work[:, cone_index(number)]) for number in pack.numbers]
    return found


def _work(hour: FloatArray, ware_c: FloatArray) -> FloatArray:
    steps = step_work(ware_c[:-1], ware_c[1:], 3600.0 * np.diff(hour))
    return np.concatenate([np.zeros((1, steps.shape[1])), np.cumsum(steps, axis=0)])


def _course(zone: str, number: str, hour: FloatArray, work: FloatArray) -> TrueCone:
    begun = (BENDS_DEG / DOWN_DEG) ** (1.0 / LEAN_POWER)
    return TrueCone(
        zone=zone,
        number=number,
        bends_h=_reached_h(hour, work, begun),
        down_h=_reached_h(hour, work, 1.0),
        heat_work=float(work[-1]),
        bend_deg=float(bend_deg(work[-1:])[0]),
    )


def _reached_h(hour: FloatArray, work: FloatArray, level: float) -> float | None:
    after = int(np.searchsorted(work, level))
    if after == len(work):
        return None
    return float(np.interp(level, work[after - 1 : after + 1], hour[after - 1 : after + 1]))
