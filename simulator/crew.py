"""The crew: stokes in the agreed rhythm with human scatter and throws as much wood as the plan asks for.

The watch knows from earlier firings how much wood the kiln takes at each heat, and corrects it by what the guiding
sensor says against the plan. It sets the inlets for the wood it means to burn, over a clean grate: it does not see a
choked bed.
"""

import numpy as np

from simulator.crew_spec import StageSpec
from simulator.deeds import Deed, DeedKind
from simulator.fuel import WOOD_AIR_KG_KG, fresh_charge
from simulator.kiln import Hands, Kiln
from simulator.kiln_file import KilnSpec
from simulator.mishaps import Mishap
from simulator.spells import Spell

RHYTHM_SCATTER = 0.09
"""Standard deviation of the log of a stoke interval (common practice, no source)."""
ARMFUL_SCATTER = 0.07
"""Standard deviation of the log of the wood thrown (common practice, no source)."""
DOOR_SCATTER = 0.35
"""Standard deviation of the log of how long the door stands open (common practice, no source)."""
GAP_SCALE_C = 50.0
"""Gap to the plan that makes the watch throw e times the wood, before it is bounded."""
PATIENCE_H = 6.0
"""Hours over which a standing gap is answered with as much again."""
CLIMB_SCALE_C_H = 120.0
LOOK_BACK_H = 0.75
"""How far back the watch looks to judge the climb."""
HABIT_H = 0.25
"""Hours in which a watch comes round to another armful."""
RAKE_AT = 0.7
"""Depth of the ember bed, as a share of the depth that chokes, at which a good watch rakes it."""
SHUT = 0.02
"""Damper and inlets of a kiln closed up and clammed, share of full."""


class Watch:
    """The people at one kiln; `spells` are all counted from lighting."""

    def __init__(self, spec: KilnSpec, spells: tuple[Spell, ...], rng: np.random.Generator) -> None:
        self._spec = spec
        self._spells = spells
        self._rng = rng
        self._next_h = 0.0
        self._door_until_h = 0.0
        self._inlets = 0.3
        self._lean = 0.0
        self._rate_kg_h = 0.0
        self._looks: list[tuple[float, float]] = []
        self.deeds: list[Deed] = []

    def tend(self, kiln: Kiln, *, hour: float, step_s: float, guide_c: float, outside_c: float) -> Hands:
        """Act for the step that begins at `hour`; stoke if it is time. `guide_c` is what the guiding sensor says."""
        stage = self._spec.stage_at(hour)
        if stage.interval_min == 0.0:
            return Hands(primary=SHUT, secondary=SHUT, damper=SHUT)
        if hour >= self._next_h and not self._has(Mishap.DOZE, hour):
            self._stoke(kiln, stage, hour=hour, guide_c=guide_c, outside_c=outside_c)
        open_h = min(max(self._door_until_h - hour, 0.0), step_s / 3600.0)
        door = max(open_h * 3600.0 / step_s, self._size(Mishap.AJAR, hour, 0.0))
        return Hands(door=door, primary=self._inlets, secondary=self._inlets)

    def _stoke(self, kiln: Kiln, stage: StageSpec, *, hour: float, guide_c: float, outside_c: float) -> None:
        rate_kg_h = self._wood_kg_h(hour, guide_c)
        moisture = self._spec.crew.moisture
        dry_kg_s = rate_kg_h * (1.0 - moisture) / 3600.0
        bed = kiln.state.bed
        if not self._has(Mishap.HEAP, hour):
            self._inlets = kiln.inlets_for(dry_kg_s * WOOD_AIR_KG_KG * stage.excess_air, outside_c)
            if bed.char_kg > RAKE_AT * bed.deep_kg:
                kiln.rake()
        interval_h = stage.interval_min / 60.0
        armful = float(np.exp(self._rng.normal(0.0, ARMFUL_SCATTER))) * self._size(Mishap.HEAP, hour, 1.0)
        wet_kg = rate_kg_h * interval_h * armful
        kiln.stoke(fresh_charge(wet_kg, moisture=moisture, thickness_m=stage.wood_mm / 1000.0))
        self.deeds.append(Deed(hour, DeedKind.FRONT_STOKE, self._spec.zones[0].name, wet_kg))
        self._door_until_h = hour + stage.door_s * float(np.exp(self._rng.normal(0.0, DOOR_SCATTER))) / 3600.0
        wait = float(np.exp(self._rng.normal(0.0, RHYTHM_SCATTER))) * self._size(Mishap.LATE, hour, 1.0)
        self._next_h = hour + interval_h * wait

    def _wood_kg_h(self, hour: float, guide_c: float) -> float:
        """Return the wood that the watch thinks right, in kg/h, and remember what it saw."""
        hours, celsius = np.array(self._spec.points).T
        plan_c = float(np.interp(hour, hours, celsius))
        ahead_c = float(np.interp(hour + 0.25, hours, celsius))
        wanted_c_h = (ahead_c - plan_c) / 0.25
        heat, wood = np.array(self._spec.crew.wood_kg_h).T
        base = float(np.interp(guide_c, heat, wood)) + self._spec.crew.kg_h_per_climb * wanted_c_h
        gap = float(np.clip((plan_c - guide_c) / GAP_SCALE_C, -0.4, 0.4))
        since_h = hour - self._looks[-1][0] if self._looks else 0.0
        self._lean = float(np.clip(self._lean + gap * since_h / PATIENCE_H, -0.7, 0.5))
        pace = float(np.clip((wanted_c_h - self._climb_c_h(hour, guide_c)) / CLIMB_SCALE_C_H, -0.15, 0.15))
        right_kg_h = base * float(np.exp(gap + self._lean + pace))
        keeps = float(np.exp(-since_h / HABIT_H)) if self._rate_kg_h > 0.0 else 0.0
        if self._has(Mishap.HEAP, hour):
            keeps = 1.0
        self._rate_kg_h = keeps * self._rate_kg_h + (1.0 - keeps) * right_kg_h
        return self._rate_kg_h

    def _climb_c_h(self, hour: float, guide_c: float) -> float:
        self._looks.append((hour, guide_c))
        while len(self._looks) > 2 and hour - self._looks[1][0] >= LOOK_BACK_H:
            self._looks.pop(0)
        then_h, then_c = self._looks[0]
        return (guide_c - then_c) / (hour - then_h) if hour - then_h > 0.05 else 0.0

    def _has(self, mishap: Mishap, hour: float) -> bool:
        return any(s.what is mishap and s.covers(hour) for s in self._spells)

    def _size(self, mishap: Mishap, hour: float, otherwise: float) -> float:
        return next((s.size for s in self._spells if s.what is mishap and s.covers(hour)), otherwise)
