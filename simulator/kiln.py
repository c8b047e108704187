"""The kiln: its state, and one step of it under the hands of the crew.

Order of a step: air through the openings, heat onto the charges, embers, flame along the zones, then the heat balances.
A ledger counts every joule that enters or leaves; `stored_j` tells what wall, ware and fuel hold.
"""

from dataclasses import dataclass, field
from itertools import chain

import numpy as np

from monitor.model import FloatArray
from simulator.air import Openings, draught_pa, inlet_m2_for, share_air
from simulator.flame import Flame, spread_flame
from simulator.fuel import (
    CHAR_J_KG,
    CHAR_SHARE,
    EVAPORATION_J_KG,
    WOOD_J_KG,
    Charge,
    EmberBed,
    FuelGas,
    heat_charge,
    volatiles_of,
)
from simulator.kiln_file import KilnSpec
from simulator.kiln_parts import ZoneSpec
from simulator.wall import WallStep, step_wall
from simulator.zones import GAS_J_KGK, KELVIN, STEFAN_BOLTZMANN, Drive, ZoneParts, balance_zones, exchange

EMBER_C = 850.0
"""Temperature of a glowing bed as the wood on it sees it (common practice, no source)."""
CHARRING_C = 330.0
"""Surface of wood while it pyrolyses (from memory)."""
WOOD_CONVECTION_W_M2K = 20.0
"""From gas to the sticks (from memory, slow gas across cylinders of a few centimetres)."""
OWN_FLAME_W_M2 = 40.0e3
"""Heat of its own flame on burning wood (from memory: 20 to 40 kW/m2), the least that a charge gets."""


NOTABLE_FLAME_W = 2000.0
"""Heat of burning gas in a zone that shows as flame at its spyhole (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Hands:
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

    wood = evaporated + unburnt + chimney + shell + door + what is stored now beyond the start.
    """

    wood_j: float = 0.0
    evaporated_j: float = 0.0
    unburnt_j: float = 0.0
    chimney_j: float = 0.0
    shell_j: float = 0.0
    door_j: float = 0.0


@dataclass(slots=True)
class KilnState:
    """What the kiln is now: degC (Z,) of gas, wall face and ware, wall cells (Z, n), and its fuel.

    `air_kg_s` (Z,) is the air that reached each zone in the last step, used or not; `demand_kg_s` (Z,) the
    stoichiometric demand of all fuel gas released and char burnt there or upstream. `unburnt_w` is the heat of the fuel
    that left the chimney unburnt: what smoke is made of. `flame_end` is the last zone where fuel gas burns notably.
    `charges` lie in their zones.
    """

    gas_c: FloatArray
    face_c: FloatArray
    ware_c: FloatArray
    wall_c: FloatArray
    bed: EmberBed
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
        self._parts = _parts_of(spec.zones)
        self._mixing = [z.mixing for z in spec.zones]
        self._leak = np.array([z.leak for z in spec.zones])
        self._steps: dict[float, WallStep] = {}
        cold = np.full(len(spec.zones), outside_c)
        self.state = KilnState(
            gas_c=cold.copy(),
            face_c=cold.copy(),
            ware_c=cold.copy(),
            wall_c=np.full((len(cold), len(spec.wall.capacity_j_m2k)), outside_c),
            bed=EmberBed(spec.air.bed_shallow_kg, spec.air.bed_deep_kg),
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

        The damper stands at `damper`, share of full.
        """
        air = self.spec.air
        outside_k, chimney_k = outside_c + KELVIN, self._chimney_k()
        pull = draught_pa(air.chimney_m, chimney_k, outside_k)
        area_m2 = inlet_m2_for(
            air_kg_s, damper_m2=air.damper_m2 * damper, pull_pa=pull, outside_k=outside_k, chimney_k=chimney_k
        )
        return min(max(area_m2 / (air.primary_m2 + air.secondary_m2), 0.02), 1.0)

    def stored_j(self) -> float:
        """Return the joules above 0 degC that wall and ware hold and that wood and char would give."""
        state = self.state
        wall = float((state.wall_c @ self.spec.wall.capacity_j_m2k) @ self._parts.wall_m2)
        ware = float(state.ware_c @ self._parts.ware_j_k)
        wood = sum(c.wood_kg for charges in state.charges for c in charges) * WOOD_J_KG
        return wall + ware + wood + state.bed.char_kg * CHAR_J_KG

    def step(self, step_s: float, hands: Hands, outside_c: float) -> None:
        """Go on by `step_s` seconds."""
        state = self.state
        primary_kg, above_kg = self._draw_air(hands, outside_c, step_s)
        gas, taken_j = self._heat_charges(step_s)
        embers = state.bed.burn(primary_kg, step_s)
        gas.add(embers.gas)
        air_kg = self._leak * (primary_kg + above_kg)
        air_kg[0] = primary_kg + above_kg
        state.air_kg_s = np.cumsum(air_kg) / step_s
        state.demand_kg_s = np.full(len(air_kg), (gas.air_kg + embers.air_kg) / step_s)
        air_kg[0] -= embers.air_kg
        flame = self._flame(gas, air_kg)
        heat_j = np.array(flame.heat_j)
        heat_j[0] += embers.heat_j - taken_j
        air_kg[0] += embers.air_kg + gas.mass_kg
        self._balance(heat_j / step_s, np.cumsum(air_kg) / step_s, hands, outside_c, step_s)
        state.ledger.unburnt_j += flame.unburnt.heat_j
        state.unburnt_w = flame.unburnt.heat_j / step_s
        state.flame_end = max((n for n, j in enumerate(flame.heat_j) if j > NOTABLE_FLAME_W * step_s), default=0)

    def _draw_air(self, hands: Hands, outside_c: float, step_s: float) -> tuple[float, float]:
        state, air = self.state, self.spec.air
        outside_k, chimney_k = outside_c + KELVIN, self._chimney_k()
        openings = Openings(
            primary_m2=air.primary_m2 * hands.primary * state.bed.openness,
            secondary_m2=air.secondary_m2 * hands.secondary + air.leak_m2,
            door_m2=air.door_m2 * hands.door,
            damper_m2=air.damper_m2 * hands.damper + air.leak_m2,
        )
        pull = draught_pa(air.chimney_m, chimney_k, outside_k)
        flow = share_air(openings, pull_pa=pull, outside_k=outside_k, chimney_k=chimney_k)
        return flow.primary_kg_s * step_s, flow.above_kg_s * step_s

    def _chimney_k(self) -> float:
        """Return the mean of the chimney's gas, which enters as warm as it left the zone before."""
        return 0.5 * float(self.state.gas_c[-2] + self.state.gas_c[-1]) + KELVIN

    def _heat_charges(self, step_s: float) -> tuple[FuelGas, float]:
        """Heat every charge; return the fuel gas given off, steam in its mass, and the heat taken in J."""
        state = self.state
        flux = self._flux_on_wood()
        wood_kg = water_kg = taken_j = 0.0
        for charge in chain.from_iterable(state.charges):
            given = heat_charge(charge, flux, step_s)
            wood_kg += given.wood_kg
            water_kg += given.water_kg
            taken_j += given.taken_j
        state.charges = tuple([c for c in charges if not c.is_spent] for charges in state.charges)
        state.bed.char_kg += wood_kg * CHAR_SHARE
        state.ledger.evaporated_j += water_kg * EVAPORATION_J_KG
        gas = volatiles_of(wood_kg)
        gas.mass_kg += water_kg
        return gas, taken_j

    def _flux_on_wood(self) -> float:
        state = self.state
        embers = min(1.0, state.bed.char_kg / state.bed.shallow_kg)
        bed_c = max(float(state.face_c[0]), EMBER_C) * embers + float(state.face_c[0]) * (1.0 - embers)
        above = (float(state.face_c[0]) + KELVIN) ** 4
        below = (bed_c + KELVIN) ** 4
        radiation = STEFAN_BOLTZMANN * (0.5 * (above + below) - (CHARRING_C + KELVIN) ** 4)
        convection = WOOD_CONVECTION_W_M2K * (float(state.gas_c[0]) - CHARRING_C)
        return max(radiation + convection, OWN_FLAME_W_M2)

    def _flame(self, gas: FuelGas, air_kg: FloatArray) -> Flame:
        state = self.state
        has_embers = state.bed.char_kg > 0.1
        return spread_flame(
            gas, air_kg.tolist(), mixing=self._mixing, gas_c=state.gas_c.tolist(), has_embers=has_embers
        )

    def _balance(
        self, heat_w: FloatArray, flow_kg_s: FloatArray, hands: Hands, outside_c: float, step_s: float
    ) -> None:
        state, parts, wall = self.state, self._parts, self.spec.wall
        step = self._steps.get(step_s) or self._steps.setdefault(step_s, step_wall(wall, step_s))
        rest_c = state.wall_c @ step.carry.T + step.outer * outside_c
        rise = (step.inner[0] + wall.face_m2k_w) / parts.wall_m2
        door_w = _door_radiation_w(float(state.ware_c[0]), outside_c) * self.spec.air.door_m2 * hands.door
        ware_w = np.zeros(len(heat_w))
        ware_w[0] = -door_w
        between = exchange(parts, state.gas_c, state.face_c, state.ware_c)
        drive = Drive(
            heat_w=heat_w,
            flow_kg_s=flow_kg_s,
            ware_w=ware_w,
            outside_c=outside_c,
            wall_rest_c=rest_c[:, 0],
            wall_rise_k_w=rise,
            ware_old_c=state.ware_c,
            ware_rise_k_w=step_s / parts.ware_j_k,
        )
        state.gas_c, state.face_c, state.ware_c = balance_zones(between, drive)
        flux = (state.face_c - rest_c[:, 0]) / (step.inner[0] + wall.face_m2k_w)
        state.wall_c = rest_c + flux[:, None] * step.inner
        shell_w = wall.outside_w_m2k * float((state.wall_c[:, -1] - outside_c) @ parts.wall_m2)
        ledger = state.ledger
        ledger.shell_j += shell_w * step_s
        ledger.door_j += door_w * step_s
        ledger.chimney_j += float(flow_kg_s[-1]) * GAS_J_KGK * float(state.gas_c[-1] - outside_c) * step_s


def _door_radiation_w(inside_c: float, outside_c: float) -> float:
    """Return the heat in W that a square metre of open door lets out."""
    return STEFAN_BOLTZMANN * ((inside_c + KELVIN) ** 4 - (outside_c + KELVIN) ** 4)


def _parts_of(zones: tuple[ZoneSpec, ...]) -> ZoneParts:
    return ZoneParts(
        wall_m2=np.array([z.wall_m2 for z in zones]),
        ware_m2=np.array([z.ware_m2 for z in zones]),
        ware_j_k=np.array([z.ware_kg * z.ware_j_kgk for z in zones]),
        gas_emissivity=np.array([z.gas_emissivity for z in zones]),
        convection_w_m2k=np.array([z.convection_w_m2k for z in zones]),
        wall_sees_ware_m2=np.array([z.wall_sees_ware_m2 for z in zones]),
        neighbour_m2=np.array([z.sees_next_m2 for z in zones[:-1]]),
    )
