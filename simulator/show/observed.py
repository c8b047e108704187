"""What a good firing looks like in numbers: one steady firing of a kiln, fired to its end and measured.

The preheat is hurried through but for its last hours; from there on every fine step counts. Temperatures are of the
junctions, before any converter. A front stoke's dip is how far a junction falls within a minute of it. A side stoke's
movement is how far apart a junction is within a minute with the stoke and without it, from the same moment on.
"""

import copy
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from monitor.model import FloatArray
from simulator.crew.deeds import Deed, DeedKind
from simulator.firing import FINE_S, Firing, Trace, join_traces, scripted_watch
from simulator.kiln import Hands
from simulator.physics.fuel import fresh_charge
from simulator.probe.probes import Around, build_probes, follow
from simulator.script.scenarios import find_scenario
from simulator.spec.crew_spec import SideSpec
from simulator.spec.kiln_file import KilnSpec
from simulator.truth.falls import CHAMBER
from simulator.truth.stokes import ONE_STOKE_S

LIT = 1_764_000_000
PREHEAT_FINE_H = 4.0
"""Last hours of the preheat that are measured in fine steps."""
BLOCK_S = 1800
DIP_STEPS = 60 // FINE_S


@dataclass(frozen=True, slots=True, eq=False)
class Observed:
    """A steady firing at its end; `look_h` and `guide_c` (n,) every half hour from lighting on, `trace` in fine steps.

    `long_wood_h` is when the crew went over to long thin wood; `own_move_c` and `next_move_c` say how far side stokes
    in high fire move their own zone's sensor and the next one's.
    """

    spec: KilnSpec
    firing: Firing
    look_h: FloatArray
    guide_c: FloatArray
    trace: Trace
    long_wood_h: float
    own_move_c: FloatArray
    next_move_c: FloatArray

    @property
    def hour(self) -> FloatArray:
        """Hours from lighting of the fine steps."""
        return self.trace.clock_s / 3600.0

    def reached_h(self, celsius: float) -> float:
        """Return the hour at which the guide first says `celsius`."""
        return float(self.look_h[np.argmax(self.guide_c >= celsius)])

    def climbs_c_h(self) -> FloatArray:
        """Return the guide's climb in degC/h over each hour from 300 degC to the soak."""
        soak_h = self.spec.stage("soak").begin_h
        hours = np.arange(self.reached_h(300.0), soak_h, 1.0)
        return np.diff(np.interp(hours, self.look_h, self.guide_c))

    def rows_of(self, stage: str) -> npt.NDArray[np.intp]:
        """Return the fine steps in `stage`."""
        begins = np.array([s.begin_h for s in self.spec.stages])
        number = [s.name for s in self.spec.stages].index(stage)
        return np.flatnonzero(np.searchsorted(begins, self.hour, side="right") - 1 == number)

    def deeds(self, kind: DeedKind, stage: str | None = None) -> list[Deed]:
        """Return the deeds of `kind`, all or those of `stage`."""
        named = self.spec.stage_at
        return [d for d in self.firing.deeds if d.kind is kind and stage in (None, named(d.hour).name)]

    def front_stokes_h(self, stage: str) -> FloatArray:
        """Return the hours of the front stokes of `stage`, the second of two armfuls left out."""
        hours = np.array([d.hour for d in self.deeds(DeedKind.FRONT_STOKE, stage)])
        return hours[np.diff(hours, prepend=-np.inf) * 3600.0 > ONE_STOKE_S]

    def dips_c(self, place: str, stage: str) -> FloatArray:
        """Return how far the first thermocouple at `place` falls after each front stoke of `stage`, if any."""
        sensor = next((n for n, s in enumerate(self.spec.sensors) if self.spec.place_of(s) == place), None)
        if sensor is None:
            return np.empty(0)
        course = self.trace.junction_c[:, sensor]
        rows = np.searchsorted(self.trace.clock_s, self.front_stokes_h(stage) * 3600.0 + 1.0) - 1
        fits = [r for r in rows.tolist() if 0 <= r < len(course) - DIP_STEPS]
        return np.array([course[r] - course[r : r + DIP_STEPS + 1].min() for r in fits])

    def excess_air(self, stage: str) -> float:
        """Return mean air over mean demand at the guide during `stage`."""
        rows, zone = self.rows_of(stage), self.spec.zone_index(self.spec.guide_zone)
        return float(self.trace.air_kg_s[rows, zone].mean() / self.trace.demand_kg_s[rows, zone].mean())


def observe(spec: KilnSpec, seed: int = 1) -> Observed:
    """Fire `spec` in the scenario `steady` to the end of its plan."""
    watch = scripted_watch(spec, (), seed=seed, lit=LIT)
    firing = Firing(spec, find_scenario("steady"), seed=seed, lit=LIT, crew=watch)
    guide = [s.id for s in spec.sensors].index(spec.guide)
    fine_s = (spec.stage("climb").begin_h - PREHEAT_FINE_H) * 3600.0
    looks, traces, moves = [(0.0, float(firing.junction_c[guide]))], [], []
    while firing.clock_s < spec.points[-1][0] * 3600.0:
        if firing.clock_s < fine_s:
            firing.hurry_to(firing.clock_s + BLOCK_S)
        else:
            traces.append(firing.run(BLOCK_S // FINE_S))
        looks.append((firing.clock_s / 3600.0, float(firing.junction_c[guide])))
        stage = spec.stage_at(firing.clock_s / 3600.0)
        if stage.name == "high-fire" and stage.side is not None and firing.junction_c[guide] > stage.side.from_c:
            moves += [_side_move_c(firing, stage.side, port) for port in stage.side.ports]
    look_h, guide_c = np.array(looks).T
    own_c, next_c = np.array(moves).T
    return Observed(
        spec=spec,
        firing=firing,
        look_h=look_h,
        guide_c=guide_c,
        trace=join_traces(traces),
        long_wood_h=float("nan") if watch.long_wood_h is None else watch.long_wood_h,
        own_move_c=own_c[np.isfinite(own_c)],
        next_move_c=next_c[np.isfinite(next_c)],
    )


def _side_move_c(firing: Firing, side: SideSpec, port: str) -> tuple[float, float]:
    """Return how far a side stoke now would move the sensors of its zone and the next; NaN where there is none."""
    zone = firing.spec.zone_index(port)
    apart = np.abs(_course(firing, side, zone, stoked=True) - _course(firing, side, zone, stoked=False)).max(axis=0)
    return _in_zone(firing.spec, apart, zone), _in_zone(firing.spec, apart, zone + 1)


def _in_zone(spec: KilnSpec, of_sensors: FloatArray, zone: int) -> float:
    if spec.zones[zone].place not in CHAMBER:
        return float("nan")
    name = spec.zones[zone].name
    return next((float(c) for s, c in zip(spec.sensors, of_sensors, strict=True) if s.zone == name), float("nan"))


def _course(firing: Firing, side: SideSpec, zone: int, *, stoked: bool) -> FloatArray:
    """Return the junctions (n, S) over the next minute, with or without a side stoke at its beginning."""
    spec, kiln, junction_c = firing.spec, copy.deepcopy(firing.kiln), firing.junction_c
    probes = build_probes(spec.sensors, [z.name for z in spec.zones])
    inlets = next(d.amount for d in reversed(firing.deeds) if d.kind is DeedKind.INLETS)
    damper = next(d.amount for d in reversed(firing.deeds) if d.kind is DeedKind.DAMPER)
    if stoked:
        wet_kg = 0.5 * sum(side.pieces) * side.piece_kg
        kiln.stoke(fresh_charge(wet_kg, moisture=spec.crew.moisture, thickness_m=side.wood_mm / 1000.0), zone)
    track = []
    for number in range(DIP_STEPS):
        ports = [0.0] * len(spec.zones)
        ports[zone] = min(max(side.open_s / FINE_S - number, 0.0), 1.0) if stoked else 0.0
        kiln.step(FINE_S, Hands(ports=tuple(ports), primary=inlets, secondary=inlets, damper=damper), spec.shed_c)
        state = kiln.state
        around = Around(state.gas_c, state.face_c, state.ware_c, spec.shed_c)
        junction_c = follow(probes, junction_c, FINE_S, around)
        track.append(junction_c)
    return np.array(track)
