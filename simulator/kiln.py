"""The kiln: its state, and one step of it under the hands of the crew.

Order of a step: air through the openings, heat onto the charges, embers, flame along the zones, then the heat balances.
A ledger counts every joule that enters or leaves; `stored_j` tells what wall, ware and fuel hold.
"""

from dataclasses import dataclass, field
from itertools import accumulate

import msgspec
import numpy as np
import numpy.typing as npt

from monitor.model import FloatArray
from simulator.physics.air import air_through, draught_pa, inlet_m2_for
from simulator.physics.burning import Released, Surroundings, heat_wood
from simulator.physics.embers import EmberBed
from simulator.physics.flame import Flame, Hearths, spread_flame
from simulator.physics.fuel import CHAR_AIR_KG_KG, CHAR_J_KG, EVAPORATION_J_KG, WOOD_J_KG, Charge
from simulator.physics.wall import StackStep, stack_walls, step_stack
from simulator.physics.ware import Ware, changes_of
from simulator.physics.zones import (
    GAS_J_KGK,
    KELVIN,
    STEFAN_BOLTZMANN,
    Drive,
    ZoneParts,
    balance_zones,
    build_network,
    conductances,
)
from simulator.spec.kiln_file import KilnSpec
from simulator.spec.kiln_parts import ZoneSpec

NOTABLE_FLAME_W = 2000.0
"""Heat of burning gas in a zone that shows as flame at its spyhole (common practice, no source)."""


class Hands(msgspec.Struct, frozen=True, gc=False):
    """What the crew does during one step.

    Shares of the step that the door and each zone's side port stand open (no ports: all shut); settings, share of full,
    of the inlets under the grate and above it, and of the damper.
    """

    door: float = 0.0
    ports: tuple[float, ...] = ()
    primary: float = 1.0
    secondary: float = 1.0
    damper: float = 1.0


@dataclass(slots=True)
class Ledger:
    """Joules so far; wood's heat counts dry and the evaporation of its water apart.

    wood = evaporated (water of the wood) + dried (water of the ware) + unburnt + chimney + shell + door + ports (what
    shines out of them) + what is stored now beyond the start.
    """

    wood_j: float = 0.0
    evaporated_j: float = 0.0
    dried_j: float = 0.0
    unburnt_j: float = 0.0
    chimney_j: float = 0.0
    shell_j: float = 0.0
    door_j: float = 0.0
    ports_j: float = 0.0


@dataclass(slots=True)
class KilnState:
    """What the kiln is now: degC (Z,) of gas, wall face and ware, wall cells (Z, n), and its fuel.

    `air_kg_s` (Z,) is the air that reached each zone in the last step, used or not; `demand_kg_s` (Z,) the
    stoichiometric demand of all fuel gas released and char burnt there or upstream. `unburnt_w` is the heat of the fuel
    that left the chimney unburnt: what smoke is made of. `flame_end` is the last zone where fuel gas burns notably.
    `charges` lie in their zones; `heaps_kg` of char lie beyond the grate.
    """

    gas_c: FloatArray
    face_c: FloatArray
    ware_c: FloatArray
    wall_c: FloatArray
    bed: EmberBed
    heaps_kg: list[float]
    air_kg_s: FloatArray
    demand_kg_s: FloatArray
    charges: tuple[list[Charge], ...]
    unburnt_w: float = 0.0
    flame_end: int = 0
    ledger: Ledger = field(default_factory=Ledger)


class Kiln:
    """A kiln built after `spec`, cold at `outside_c`."""

    def __init__(self, spec: KilnSpec, outside_c: float) -> None:
        self.spec = spec
        parts = _parts_of(spec.zones)
        self._wall_m2 = parts.wall_m2
        self._network = build_network(parts)
        self._stack = stack_walls(spec.walls)
        self._mixing = [z.mixing for z in spec.zones]
        self._leak_m2 = [z.leak_m2 for z in spec.zones]
        self._steps: dict[float, _Step] = {}
        self._steam_kg = [0.0] * len(spec.zones)
        self._ware = [
            Ware(z.ware_kg * z.ware_j_kgk, changes_of(z.pore_water_kg, z.clay_kg, z.quartz_kg), outside_c)
            for z in spec.zones
        ]
        self._changing = [(n, w) for n, w in enumerate(self._ware) if w.can_change]
        cold = np.full(len(spec.zones), outside_c)
        self.state = KilnState(
            gas_c=cold.copy(),
            face_c=cold.copy(),
            ware_c=cold.copy(),
            wall_c=np.where(self._stack.capacity_j_m2k > 0.0, outside_c, 0.0),
            bed=EmberBed(spec.air.bed_shallow_kg, spec.air.bed_deep_kg),
            heaps_kg=[0.0] * len(cold),
            air_kg_s=np.zeros(len(cold)),
            demand_kg_s=np.zeros(len(cold)),
            charges=tuple([] for _ in spec.zones),
        )

    def stoke(self, charge: Charge, zone: int = 0) -> None:
        """Throw a charge into the firebox, or through the side port of another `zone`."""
        self.state.charges[zone].append(charge)
        self.state.ledger.wood_j += charge.wood_kg * WOOD_J_KG

    def rake(self) -> None:
        """Loosen the ember bed."""
        self.state.bed.rake()

    def inlets_for(self, air_kg_s: float, outside_c: float, damper: float = 1.0) -> float:
        """Return the inlets' setting, 0.02 to 1, that gives `air_kg_s` at the present draught over a clean grate.

        Doors and leaks are left out; `damper` is its setting, share of full.
        """
        air = self.spec.air
        outside_k, chimney_k = outside_c + KELVIN, self._chimney_k()
        pull = draught_pa(air.chimney_m, chimney_k, outside_k)
        area_m2 = inlet_m2_for(
            air_kg_s, damper_m2=air.damper_m2 * damper, pull_pa=pull, outside_k=outside_k, chimney_k=chimney_k
        )
        return min(max(area_m2 / (air.primary_m2 + air.secondary_m2), 0.02), 1.0)

    def stored_j(self) -> float:
        """Return the joules above 0 degC that wall and ware hold, and that wood and char would give."""
        state = self.state
        wall = float((state.wall_c * self._stack.capacity_j_m2k).sum(axis=1) @ self._wall_m2)
        ware: float = sum(
            w.capacity_j_k * c + w.reversible_j(c) for w, c in zip(self._ware, state.ware_c.tolist(), strict=True)
        )
        wood = sum(c.wood_kg for charges in state.charges for c in charges) * WOOD_J_KG
        return wall + ware + wood + (state.bed.char_kg + sum(state.heaps_kg)) * CHAR_J_KG

    def step(self, step_s: float, hands: Hands, outside_c: float) -> None:
        """Go on by `step_s` seconds."""
        state = self.state
        primary_kg, fresh_kg = self._draw_air(hands, outside_c, step_s)
        fuel = heat_wood(state.charges, self._surroundings(), step_s)
        state.ledger.evaporated_j += sum(fuel.steam_kg) * EVAPORATION_J_KG
        state.bed.char_kg += fuel.char_kg[0]
        state.heaps_kg[1:] = [h + c for h, c in zip(state.heaps_kg[1:], fuel.char_kg[1:], strict=True)]
        embers = state.bed.burn(primary_kg, step_s)
        fuel.gas[0] = fuel.gas[0].plus(embers.gas)
        free_kg = fresh_kg.copy()
        free_kg[0] -= embers.air_kg
        hearths = Hearths(self._mixing, state.gas_c.tolist(), state.heaps_kg, has_embers=state.bed.char_kg > 0.1)
        flame = spread_flame(fuel.gas, free_kg, hearths, step_s)
        self._note_air(fresh_kg, fuel, flame, embers.air_kg + embers.gas.air_kg, step_s)
        char = flame.char_kg
        heat_j = [g + c * CHAR_J_KG - t for g, c, t in zip(flame.gas_j, char, fuel.taken_j, strict=True)]
        heat_j[0] += embers.heat_j
        joining = zip(fresh_kg, fuel.gas, fuel.steam_kg, char, self._steam_kg, strict=True)
        joins_kg = [air + gas.mass_kg + wood + burnt + ware for air, gas, wood, burnt, ware in joining]
        self._balance(heat_j, joins_kg, hands, outside_c, step_s)

    def _draw_air(self, hands: Hands, outside_c: float, step_s: float) -> tuple[float, list[float]]:
        """Return the air in kg through the ember bed, and the air that enters each zone (the bed's with it)."""
        state, air = self.state, self.spec.air
        outside_k, chimney_k = outside_c + KELVIN, self._chimney_k()
        inlets_m2 = self._leak_m2.copy()
        primary_m2 = air.primary_m2 * hands.primary * state.bed.openness
        inlets_m2[0] += primary_m2 + air.secondary_m2 * hands.secondary + air.door_m2 * hands.door
        for zone, share in enumerate(hands.ports):
            inlets_m2[zone] += share * self.spec.port_m2[zone]
        all_m2 = sum(inlets_m2)
        flow_kg_s = air_through(
            all_m2,
            damper_m2=air.damper_m2 * hands.damper + air.damper_leak_m2,
            pull_pa=draught_pa(air.chimney_m, chimney_k, outside_k),
            outside_k=outside_k,
            chimney_k=chimney_k,
        )
        per_m2 = flow_kg_s * step_s / all_m2
        return primary_m2 * per_m2, [area * per_m2 for area in inlets_m2]

    def _chimney_k(self) -> float:
        """Return the mean of the chimney's gas, which enters as warm as it left the zone before."""
        return 0.5 * float(self.state.gas_c[-2] + self.state.gas_c[-1]) + KELVIN

    def _surroundings(self) -> Surroundings:
        state = self.state
        return Surroundings(
            gas_c=state.gas_c.tolist(),
            face_c=state.face_c.tolist(),
            ware_c=state.ware_c.tolist(),
            embers=min(1.0, state.bed.char_kg / state.bed.shallow_kg),
        )

    def _note_air(self, fresh_kg: list[float], fuel: Released, flame: Flame, bed_air_kg: float, step_s: float) -> None:
        """Keep what the atmosphere of each zone is judged by."""
        state = self.state
        asked_kg = [g + c * CHAR_AIR_KG_KG for g, c in zip(fuel.demand_kg, flame.char_kg, strict=True)]
        asked_kg[0] += bed_air_kg
        state.air_kg_s = np.array(list(accumulate(fresh_kg))) / step_s
        state.demand_kg_s = np.array(list(accumulate(asked_kg))) / step_s
        state.heaps_kg = [h - c for h, c in zip(state.heaps_kg, flame.char_kg, strict=True)]
        state.unburnt_w = flame.unburnt.heat_j / step_s
        state.ledger.unburnt_j += flame.unburnt.heat_j
        state.flame_end = max((n for n, j in enumerate(flame.gas_j) if j > NOTABLE_FLAME_W * step_s), default=0)

    def _balance(
        self, heat_j: list[float], joins_kg: list[float], hands: Hands, outside_c: float, step_s: float
    ) -> None:
        """Solve for the temperatures and let wall and ware take what the solution gives them."""
        state, count = self.state, len(heat_j)
        step = self._steps.get(step_s)
        if step is None:
            step = self._steps[step_s] = self._step_of(step_s)
        ware_c = state.ware_c.tolist()
        rest_c = step.walls.rest(state.wall_c, outside_c)
        held_w_k = self._held_w_k(step, ware_c, step_s)
        before_c = np.concatenate((rest_c[:, 0], state.ware_c))
        heat_w = np.concatenate((np.array(heat_j) / step_s, held_w_k * before_c))
        shone_w = self._shine(hands, ware_c, outside_c, step_s)
        for zone, watts in shone_w:
            heat_w[2 * count + zone] -= watts
        flow_kg_s = np.array(list(accumulate(joins_kg))) / step_s
        links_w_k = conductances(self._network, np.concatenate((state.gas_c, state.face_c, state.ware_c)))
        solved = balance_zones(self._network, links_w_k, Drive(flow_kg_s, outside_c, held_w_k, heat_w))
        state.gas_c, state.face_c, state.ware_c = solved[:count], solved[count : 2 * count], solved[2 * count :]
        entered_w = held_w_k * (solved[count:] - before_c)
        state.wall_c = rest_c + step.walls.inner * (entered_w[:count] * step.per_wall_m2)[:, None]
        self._settle_ware(ware_c, entered_w[count:], step_s)
        ledger = state.ledger
        ledger.shell_j += float((state.wall_c[step.rows, self._stack.last] - outside_c) @ step.shell_w_k) * step_s
        ledger.chimney_j += float(flow_kg_s[-1] * (state.gas_c[-1] - outside_c)) * GAS_J_KGK * step_s

    def _held_w_k(self, step: "_Step", ware_c: list[float], step_s: float) -> FloatArray:
        """Return what lifting each wall face, then each ware, by a degree takes within the step, W/K (2 Z,)."""
        held_w_k = step.held_w_k
        for zone, ware in self._changing:
            if ware.is_changing(ware_c[zone], ware_c[zone]):
                held_w_k = held_w_k.copy() if held_w_k is step.held_w_k else held_w_k
                held_w_k[len(ware_c) + zone] = ware.apparent_j_k(ware_c[zone]) / step_s
        return held_w_k

    def _shine(self, hands: Hands, ware_c: list[float], outside_c: float, step_s: float) -> list[tuple[int, float]]:
        """Return zone and heat in W for each open door and port that shines out, and count it."""
        shone_w = []
        if hands.door:
            shone_w.append((0, _shine_w_m2(ware_c[0], outside_c) * self.spec.air.door_m2 * hands.door))
            self.state.ledger.door_j += shone_w[0][1] * step_s
        for zone, share in enumerate(hands.ports):
            if share:
                watts = _shine_w_m2(ware_c[zone], outside_c) * self.spec.port_m2[zone] * share
                shone_w.append((zone, watts))
                self.state.ledger.ports_j += watts * step_s
        return shone_w

    def _settle_ware(self, old_c: list[float], entered_w: FloatArray, step_s: float) -> None:
        """Let ware that changes take its heat exactly; its water joins the gas in the next step."""
        state = self.state
        for zone, ware in self._changing:
            was_c, now_c = old_c[zone], float(state.ware_c[zone])
            self._steam_kg[zone] = 0.0
            if ware.is_changing(was_c, now_c):
                settled = ware.settle(was_c, float(entered_w[zone]) * step_s, now_c)
                state.ware_c[zone] = settled.celsius
                self._steam_kg[zone] = settled.steam_kg
                state.ledger.dried_j += settled.dried_j
            elif now_c > ware.highest_c:
                ware.highest_c = now_c

    def _step_of(self, step_s: float) -> "_Step":
        walls = step_stack(self._stack, step_s)
        face_w_k = self._wall_m2 / (walls.inner[:, 0] + self._stack.face_m2k_w)
        return _Step(
            walls=walls,
            held_w_k=np.concatenate((face_w_k, np.array([w.capacity_j_k for w in self._ware]) / step_s)),
            per_wall_m2=1.0 / self._wall_m2,
            shell_w_k=self._wall_m2 * self._stack.outside_w_m2k,
            rows=np.arange(len(self._wall_m2)),
        )


@dataclass(frozen=True, slots=True, eq=False)
class _Step:
    """What does not change from step to step of one length: walls, and W/K of wall faces and wares, of outer faces."""

    walls: StackStep
    held_w_k: FloatArray
    per_wall_m2: FloatArray
    shell_w_k: FloatArray
    rows: npt.NDArray[np.intp]


def _shine_w_m2(inside_c: float, outside_c: float) -> float:
    """Return the heat in W that a square metre of open door lets out."""
    return STEFAN_BOLTZMANN * ((inside_c + KELVIN) ** 4 - (outside_c + KELVIN) ** 4)


def _parts_of(zones: tuple[ZoneSpec, ...]) -> ZoneParts:
    return ZoneParts(
        wall_m2=np.array([z.wall_m2 for z in zones]),
        ware_m2=np.array([z.ware_m2 for z in zones]),
        gas_emissivity=np.array([z.gas_emissivity for z in zones]),
        convection_w_m2k=np.array([z.convection_w_m2k for z in zones]),
        wall_sees_ware_m2=np.array([z.wall_sees_ware_m2 for z in zones]),
        neighbour_m2=np.array([z.sees_next_m2 for z in zones[:-1]]),
    )
