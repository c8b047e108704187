"""A firing: kiln, crew and probes run together in steps, in blocks of any length, and what truly happened is kept.

A coarse step brings the kiln to where a run begins; from there on it goes in fine steps. The same seed gives the same
numbers however the run is cut into blocks.
"""

import math
from dataclasses import dataclass, fields

import numpy as np

from monitor.model import FloatArray
from simulator.crew.crew import Watch
from simulator.crew.deeds import Crew, Deed
from simulator.crew.roster import hour_when_lit
from simulator.kiln import Hands, Kiln
from simulator.probe.climate import shed_c
from simulator.probe.probes import Around, build_probes, follow
from simulator.script.scenarios import Scenario
from simulator.script.spells import Spell, settle_spells
from simulator.spec.kiln_file import KilnSpec

FINE_S = 5
"""Step of what is recorded, seconds."""
COARSE_S = 30
"""Step while hurrying to the beginning, seconds."""
PAST_EVERY_S = 600
"""How often what was hurried through is noted for the cones, seconds: ten minutes cost them 0.05 degC at most."""
FLICKER_LASTS_S = 20.0
"""How long a tongue of flame stays at a probe (common practice, no source)."""
FLICKER_KEEPS = math.exp(-FINE_S / FLICKER_LASTS_S)
FLICKER_KICK = (1.0 - FLICKER_KEEPS**2) ** 0.5
"""What a fine step keeps of the flicker, and the fresh draw's share, so that its spread stays the same."""


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """What truly happened, one row a step, at its end: `clock_s` (n,) since lighting.

    degC of gas, wall face and ware (n, Z) and of the junctions (n, S); `shed_c` (n,); `air_kg_s` (n, Z) that reached
    each zone; `demand_kg_s` (n, Z) of all fuel gas released and char burnt there or upstream; `door` (n,) and `ports`
    (n, Z) open share; `embers_kg` (n,) on the grate; `unburnt_w` (n,) heat of the fuel that leaves as smoke.
    """

    clock_s: FloatArray
    gas_c: FloatArray
    face_c: FloatArray
    ware_c: FloatArray
    junction_c: FloatArray
    shed_c: FloatArray
    air_kg_s: FloatArray
    demand_kg_s: FloatArray
    door: FloatArray
    ports: FloatArray
    embers_kg: FloatArray
    unburnt_w: FloatArray


def join_traces(traces: list[Trace]) -> Trace:
    """Return consecutive traces as one."""
    return Trace(*(np.concatenate([getattr(t, f.name) for t in traces]) for f in fields(Trace)))


def scripted_watch(spec: KilnSpec, spells: tuple[Spell, ...], *, seed: int, lit: int) -> Watch:
    """Return the crew that fires the kiln `spec`, lit at epoch second `lit`, with `spells` counted from lighting."""
    return Watch(spec, spells, np.random.default_rng([seed, 1]), lit_hour=hour_when_lit(lit, spec.time_zone))


class Firing:
    """One firing of the kiln `spec`, lit at epoch second `lit`, that goes live `live_h` hours later.

    `crew` fires it; without one a scripted watch does.
    """

    def __init__(
        self,
        spec: KilnSpec,
        scenario: Scenario,
        *,
        seed: int,
        lit: int,
        live_h: float = 0.0,
        crew: Crew | None = None,
    ) -> None:
        self.spec = spec
        self.lit = lit
        self.clock_s = 0
        self.spells = settle_spells(scenario.spells, spec, live_h)
        self._crew: Crew = crew or scripted_watch(spec, self.spells, seed=seed, lit=lit)
        self._flicker_rng = np.random.default_rng([seed, 2])
        self._probes = build_probes(spec.sensors, [z.name for z in spec.zones])
        self._guide = [s.id for s in spec.sensors].index(spec.guide)
        outside_c = float(shed_c(spec, np.array([lit]))[0])
        self.kiln = Kiln(spec, outside_c)
        self.past: list[tuple[float, FloatArray]] = []
        self.junction_c = np.full(len(spec.sensors), outside_c)
        self._flicker_c = np.zeros(len(spec.zones))
        self._flicker_share = np.array([z.flicker for z in spec.zones])

    @property
    def deeds(self) -> list[Deed]:
        """All deeds of the crew so far, in order."""
        return self._crew.deeds

    def hurry_to(self, clock_s: int) -> None:
        """Go to `clock_s` seconds after lighting in coarse steps (the last ones fine), recording `past` only.

        `past` holds hours from lighting and degC of the ware (Z,).
        """
        while self.clock_s < clock_s:
            if self.clock_s % PAST_EVERY_S == 0:
                self.past.append((self.clock_s / 3600.0, self.kiln.state.ware_c.copy()))
            step_s = COARSE_S if self.clock_s + COARSE_S <= clock_s else FINE_S
            outside_c = float(shed_c(self.spec, np.array([float(self.lit + self.clock_s)]))[0])
            self._step(step_s, outside_c)

    def run(self, steps: int) -> Trace:
        """Go on by `steps` fine steps and return what truly happened."""
        zones, sensors = len(self.spec.zones), len(self.spec.sensors)
        clock_s = self.clock_s + FINE_S * np.arange(1, steps + 1, dtype=np.float64)
        trace = Trace(
            clock_s=clock_s,
            gas_c=np.empty((steps, zones)),
            face_c=np.empty((steps, zones)),
            ware_c=np.empty((steps, zones)),
            junction_c=np.empty((steps, sensors)),
            shed_c=shed_c(self.spec, self.lit + clock_s),
            air_kg_s=np.empty((steps, zones)),
            demand_kg_s=np.empty((steps, zones)),
            door=np.empty(steps),
            ports=np.zeros((steps, zones)),
            embers_kg=np.empty(steps),
            unburnt_w=np.empty(steps),
        )
        outside_c = trace.shed_c.tolist()
        kicks = FLICKER_KICK * self._flicker_rng.standard_normal((steps, zones))
        for row in range(steps):
            self._note(trace, row, self._step(FINE_S, outside_c[row], kicks[row]))
        return trace

    def _note(self, trace: Trace, row: int, hands: Hands) -> None:
        trace.door[row] = hands.door
        if hands.ports:
            trace.ports[row] = hands.ports
        state = self.kiln.state
        trace.gas_c[row] = state.gas_c
        trace.face_c[row] = state.face_c
        trace.ware_c[row] = state.ware_c
        trace.junction_c[row] = self.junction_c
        trace.air_kg_s[row] = state.air_kg_s
        trace.demand_kg_s[row] = state.demand_kg_s
        trace.embers_kg[row] = state.bed.char_kg
        trace.unburnt_w[row] = state.unburnt_w

    def _step(self, step_s: int, outside_c: float, kick: FloatArray | None = None) -> Hands:
        """Go on by one step; return what the crew did in it. The flame flickers by `kick` (Z,), without one not."""
        kiln = self.kiln
        hands = self._crew.tend(
            kiln,
            hour=self.clock_s / 3600.0,
            step_s=step_s,
            guide_c=float(self.junction_c[self._guide]),
            outside_c=outside_c,
        )
        kiln.step(step_s, hands, outside_c)
        state = kiln.state
        gas_c = state.gas_c if kick is None else state.gas_c + self._flicker(kick)
        around = Around(gas_c=gas_c, face_c=state.face_c, ware_c=state.ware_c, outside_c=outside_c)
        self.junction_c = follow(self._probes, self.junction_c, step_s, around)
        self.clock_s += step_s
        return hands

    def _flicker(self, kick: FloatArray) -> FloatArray:
        spread_c = self._flicker_share * np.abs(self.kiln.state.gas_c - self.spec.shed_c)
        self._flicker_c = FLICKER_KEEPS * self._flicker_c + kick * spread_c
        return self._flicker_c
