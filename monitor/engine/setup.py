"""What the engine must know of its kilns before the first sample: arrays with a leading kiln axis, padded and masked.

One kiln is an axis of length one; a thousand step in the same calls. K kilns, S the most sensors of any of them, P the
most points of any plan.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from monitor.model import FloatArray
from monitor.site_file import CHAMBER_PLACES, GUIDE_ORDER, TIMBER, Place, SensorPart, Site

BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int64]

FLAME_PATH = (Place.FIREBOX, *CHAMBER_PLACES, Place.FLUE)


@dataclass(frozen=True, slots=True, eq=False)
class EngineSetup:
    """Kilns as arrays.

    `ids` holds each kiln's sensor ids in the site's order. `present` (K, S) masks the padding, `heat` (K, S) sensors of
    fire or ware, `chamber` (K, S) those at front, middle or back, `oxygen` (K, S) oxygen probes. `guide_rank` (K, S) is
    0 for the guide, then rising in the order in which it hands over, infinite where a sensor cannot guide. `plan_h`,
    `plan_c` (K, P) are the plan's points, padded with infinity and NaN; `lit` (K,) is epoch seconds, NaN where the
    first scan counts. `letters` holds each sensor's type letter, empty for finished temperatures and oxygen probes;
    `path` (K, S) says how far along the flame's path a sensor of fire or ware stands, from 0 at the firebox, -1 for
    others; `node` (K, S) numbers the node that it hangs on, -1 for padding; `sharing` (K,) is the least
    number of thermocouples on any node.
    """

    ids: tuple[tuple[str, ...], ...]
    present: BoolArray
    heat: BoolArray
    chamber: BoolArray
    oxygen: BoolArray
    guide_rank: FloatArray
    plan_h: FloatArray
    plan_c: FloatArray
    lit: FloatArray
    letters: tuple[tuple[str, ...], ...]
    path: IntArray
    node: IntArray
    sharing: IntArray

    @property
    def shape(self) -> tuple[int, int]:
        """Kilns and sensors, padding included."""
        kilns, sensors = self.present.shape
        return kilns, sensors

    @property
    def has_plan(self) -> BoolArray:
        """Where a plan was agreed (K,)."""
        planned: BoolArray = np.isfinite(self.plan_h[:, 0])
        return planned


def setup_from_sites(sites: Sequence[Site]) -> EngineSetup:
    """Return the setup of one kiln per site, in order."""
    sensors = max(len(site.sensor) for site in sites)
    points = max([len(site.plan.points) for site in sites if site.plan is not None], default=2)
    shape = (len(sites), sensors)
    present, heat, chamber, oxygen = (np.zeros(shape, bool) for _ in range(4))
    rank = np.full(shape, np.inf)
    plan_h, plan_c = np.full((len(sites), points), np.inf), np.full((len(sites), points), np.nan)
    lit = np.full(len(sites), np.nan)
    path, node = np.full(shape, -1), np.full(shape, -1)
    for k, site in enumerate(sites):
        n = len(site.sensor)
        present[k, :n] = True
        heat[k, :n] = [_is_heat(s) for s in site.sensor]
        chamber[k, :n] = [_is_heat(s) and s.place in CHAMBER_PLACES for s in site.sensor]
        oxygen[k, :n] = [s.type == "zirconia" for s in site.sensor]
        rank[k, :n] = _guide_ranks(site)
        path[k, :n] = [FLAME_PATH.index(s.place) if _is_heat(s) else -1 for s in site.sensor]
        nodes = [s.input.partition("/")[0] for s in site.sensor]
        node[k, :n] = [nodes.index(name) for name in nodes]
        if (plan := site.agreed_plan) is not None:
            plan_h[k, : len(plan.points)], plan_c[k, : len(plan.points)] = np.array(plan.points).T
            lit[k] = np.nan if plan.lit is None else plan.lit
    ids = tuple(tuple(s.id for s in site.sensor) for site in sites)
    sharing = np.array([_least_sharing(site) for site in sites])
    letters = tuple(tuple(s.type if s.type and _is_heat(s) else "" for s in site.sensor) for site in sites)
    return EngineSetup(ids, present, heat, chamber, oxygen, rank, plan_h, plan_c, lit, letters, path, node, sharing)


def planned(setup: EngineSetup, hours: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return planned degC and degC/h (..., K) at `hours` (..., K) from lighting; NaN outside the plan.

    At a point of the plan the climb of the leg that begins there counts, as in `monitor.plan`.
    """
    kiln = np.arange(len(setup.lit))
    last = np.maximum(np.isfinite(setup.plan_h).sum(axis=1) - 1, 1)
    leg = np.minimum(np.maximum((setup.plan_h <= hours[..., None]).sum(axis=-1) - 1, 0), last - 1)
    within = setup.has_plan & (hours >= setup.plan_h[:, 0]) & (hours <= setup.plan_h[kiln, last])
    begin = np.where(within, setup.plan_h[kiln, leg], 0.0)
    end = np.where(within, setup.plan_h[kiln, leg + 1], 1.0)
    begin_c = setup.plan_c[kiln, leg]
    climb = np.where(within, (setup.plan_c[kiln, leg + 1] - begin_c) / (end - begin), np.nan)
    return begin_c + climb * (hours - begin), climb


def fingerprint(setup: EngineSetup) -> str:
    """Return what a saved state must share with the setup that takes it up: sensors, places and who guides."""
    masks = [mask.astype(np.uint8).tobytes().hex() for mask in (setup.present, setup.heat, setup.chamber, setup.oxygen)]
    return " ".join([*(",".join(ids) for ids in setup.ids), *masks])


def _is_heat(sensor: SensorPart) -> bool:
    return sensor.type != "zirconia" and sensor.place != TIMBER


def _guide_ranks(site: Site) -> FloatArray:
    """Rank 0 for the agreed guide, then by place, then by the site's order; infinite where a sensor cannot guide."""
    ranks = np.full(len(site.sensor), np.inf)
    order = [i for place in GUIDE_ORDER for i, s in enumerate(site.sensor) if s.place == place and _is_heat(s)]
    for rank, i in enumerate(order, start=1):
        ranks[i] = rank
    agreed = [i for i, s in enumerate(site.sensor) if s.id == site.guide]
    ranks[agreed] = 0.0
    return ranks


def _least_sharing(site: Site) -> int:
    nodes = [s.input.partition("/")[0] for s in site.sensor if s.type not in (None, "zirconia")]
    return min((nodes.count(name) for name in nodes), default=0)
