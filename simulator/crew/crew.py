"""The crew: stokes in the agreed rhythm with human scatter, feeds the side ports, rakes, looks, and hands over.

How much wood is `judgement`'s, air is `settings`'s, which port is `side_rounds`'s. Mishaps are spells over all this.
"""

from math import inf

import msgspec
import numpy as np

from simulator.crew.deeds import Deed, DeedKind
from simulator.crew.doors import Doors
from simulator.crew.judgement import Judgement
from simulator.crew.plight import Plight
from simulator.crew.roster import lateness, watch_at
from simulator.crew.scatter import Scatter
from simulator.crew.settings import Setting, Settings
from simulator.crew.side_rounds import SideRound
from simulator.kiln import Hands, Kiln
from simulator.physics.fuel import fresh_charge
from simulator.script.mishaps import Mishap
from simulator.script.spells import Spell
from simulator.spec.crew_spec import SideSpec, StageSpec, WatchSpec
from simulator.spec.kiln_file import KilnSpec

KEEPS = 0.2
"""How much of one interval's or armful's being off the next one keeps (common practice, no source)."""
DOOR_SCATTER = 0.35
"""Standard deviation of the log of how long a door stands open (common practice, no source)."""
SIDE_SCATTER = 0.15
"""Standard deviation of the log of the time from port to port (common practice, no source)."""
PIECE_SCATTER = 0.1
"""Standard deviation of the log of what a side stoke's pieces weigh (common practice, no source)."""
RAKE_EVERY_H = 0.4
"""A bed that was raked is left alone for as long (common practice, no source)."""
RAKE_S, LOOK_S, HANDOVER_LOOK_S = 20.0, 4.0, 8.0
"""How long the door stands open for raking, for a look, and while watches hand over (common practice, no source)."""
HANDOVER_H = 2.0 / 60.0
HANDOVER_AT_MOST = 0.4
"""Mean delay of the first stoke of a watch, which is told about the fire meanwhile, and the most of it as a share of
the interval (common practice, no source)."""
IN_TWO_S = (35.0, 65.0)
"""Between the two armfuls of one stoke, seconds (common practice, no source)."""
IN_TIME_H = 1.0 / 60.0
"""A stoke no later than this leaves the time of the next one where it was."""
SIDES_EASE_IN_H = 1.0
"""In this time the front gets used to the sides' share of the wood (common practice, no source)."""
FRONT_AT_LEAST = 0.4
"""Share of the wood that still goes in at the front when the sides are fed."""


class Moment(msgspec.Struct, frozen=True, gc=False):
    """What a watch has before it: kiln, stage, who is there, hour from lighting and of the day, guide, outside."""

    kiln: Kiln
    stage: StageSpec
    watch: WatchSpec
    hour: float
    day_hour: float
    guide_c: float
    outside_c: float

    @property
    def side(self) -> SideSpec | None:
        """The side stoking that is due in this stage at this heat."""
        side = self.stage.side
        return side if side is not None and self.guide_c >= side.from_c else None


class Watch:
    """The people at one kiln lit at `lit_hour` of the day; `spells` are all counted from lighting.

    `long_wood_h` is the hour at which they went over to long thin wood, None before.
    """

    def __init__(
        self, spec: KilnSpec, spells: tuple[Spell, ...], rng: np.random.Generator, *, lit_hour: float = 6.0
    ) -> None:
        self._spec = spec
        self._rng = rng
        self._lit_hour = lit_hour
        self._plight = Plight(spells)
        self._settings = Settings(spec, self._plight)
        self._judgement = Judgement(spec.crew, spec.points)
        self._rhythm, self._armful = Scatter(rng, KEEPS), Scatter(rng, KEEPS)
        self._doors = Doors(len(spec.zones))
        self._round = SideRound()
        self._chamber = [n for n, z in enumerate(spec.zones) if z.place in ("front", "middle", "back")]
        self._flue = next(n for n, z in enumerate(spec.zones) if z.place == "flue")
        self._watch: WatchSpec | None = None
        self._next_h = self._next_side_h = self._next_look_h = 0.0
        self._rake_h = self._second_h = inf
        self._raked_h = -inf
        self._second_kg = self._at_sides_kg_h = 0.0
        self._told: dict[DeedKind, float] = {}
        self.long_wood_h: float | None = None
        self.deeds: list[Deed] = []

    def tend(self, kiln: Kiln, *, hour: float, step_s: float, guide_c: float, outside_c: float) -> Hands:
        """Act for the step that begins at `hour`. `guide_c` is what the guiding sensor says."""
        stage = self._spec.stage_at(hour)
        day_hour = (self._lit_hour + hour) % 24.0
        watch = watch_at(self._spec.crew.watches, day_hour)
        now = Moment(kiln, stage, watch, hour, day_hour, guide_c, outside_c)
        if not stage.is_closed and not self._plight.has(Mishap.DOZE, hour):
            self._work(now)
        setting = self._settings.at(stage, hour)
        self._tell_setting(now, setting)
        return self._hands(now, step_s, setting)

    def _work(self, now: Moment) -> None:
        if now.watch is not self._watch:
            self._take_over(now)
        if now.hour >= self._second_h:
            self._throw(now, self._second_kg)
            self._second_h = inf
        if now.hour >= self._next_h:
            self._stoke(now)
        if now.hour >= self._rake_h:
            self._rake(now)
        if now.hour >= self._next_look_h:
            self._doors.open(0, now.hour, LOOK_S)
            self._next_look_h = now.hour + float(self._rng.exponential(1.0 / now.watch.looks_per_h))
        if now.side is not None and now.hour >= self._next_side_h:
            self._side_stoke(now, now.side)

    def _take_over(self, now: Moment) -> None:
        first, self._watch = self._watch is None, now.watch
        if first:
            return
        self._judgement.hand_over()
        self._doors.open(0, now.hour, HANDOVER_LOOK_S)
        delay_h = float(self._rng.exponential(HANDOVER_H))
        self._next_h = max(self._next_h, now.hour) + min(delay_h, HANDOVER_AT_MOST * now.stage.interval_min / 60.0)

    def _stoke(self, now: Moment) -> None:
        interval_h = now.stage.interval_min / 60.0
        slow = lateness(now.watch, now.day_hour) * self._plight.slowness(now.hour)
        wait_h = interval_h * slow * self._rhythm.next_factor(now.watch.rhythm_scatter)
        self._next_h = _in_time(self._next_h, now.hour) + wait_h
        if self._rng.random() < self._plight.size(Mishap.MISSED, now.hour, 0.0):
            return
        heaps = self._plight.has(Mishap.HEAP, now.hour)
        wet_kg_h = self._judgement.wood_kg_h(now.hour, now.guide_c, stubborn=heaps)
        if not heaps:
            self._settings.set_for(wet_kg_h, kiln=now.kiln, stage=now.stage, hour=now.hour, outside_c=now.outside_c)
            self._plan_raking(now, interval_h)
        self._bring(now, self._front_kg_h(now, wet_kg_h) * interval_h)

    def _front_kg_h(self, now: Moment, wet_kg_h: float) -> float:
        """Return what goes in at the front: little by little less by what goes in at the sides."""
        at_sides = 0.0 if now.side is None else now.side.mean_kg_h
        self._at_sides_kg_h += (at_sides - self._at_sides_kg_h) * now.stage.interval_min / 60.0 / SIDES_EASE_IN_H
        return max(wet_kg_h - self._at_sides_kg_h, FRONT_AT_LEAST * wet_kg_h)

    def _bring(self, now: Moment, wet_kg: float) -> None:
        """Throw about `wet_kg`, now and then as two armfuls."""
        armful = now.watch.armful * self._armful.next_factor(now.watch.armful_scatter)
        wet_kg *= armful * self._plight.size(Mishap.HEAP, now.hour, 1.0)
        if self._rng.random() < now.watch.in_two:
            self._second_kg = 0.5 * wet_kg
            self._second_h = now.hour + float(self._rng.uniform(*IN_TWO_S)) / 3600.0
            wet_kg -= self._second_kg
        self._throw(now, wet_kg)

    def _throw(self, now: Moment, wet_kg: float) -> None:
        crew = self._spec.crew
        if self.long_wood_h is None and now.guide_c >= crew.long_from_c:
            self.long_wood_h = now.hour
        thick_mm = crew.short_mm if self.long_wood_h is None else crew.long_mm
        self._charge(now, 0, wet_kg, thick_mm * self._plight.size(Mishap.THICK, now.hour, 1.0))
        self._doors.open(0, now.hour, now.stage.door_s * self._off_by(DOOR_SCATTER))
        self._do(now, DeedKind.FRONT_STOKE, 0, wet_kg)

    def _side_stoke(self, now: Moment, side: SideSpec) -> None:
        wait_h = side.every_min / 60.0 * self._off_by(SIDE_SCATTER)
        self._next_side_h = _in_time(self._next_side_h, now.hour) + wait_h
        if self._plight.has(Mishap.SIDES_LEFT, now.hour):
            return
        names = [self._spec.zones[n].name for n in self._chamber]
        looks_c = [float(now.kiln.state.ware_c[n]) for n in self._chamber]
        zone = self._spec.zone_index(self._round.next_port(side, names, looks_c, favours=now.watch.favours_lagging))
        pieces = int(self._rng.integers(side.pieces[0], side.pieces[1] + 1))
        size = self._plight.size(Mishap.SIDE_HEAP, now.hour, 1.0)
        wet_kg = pieces * side.piece_kg * size * self._off_by(PIECE_SCATTER)
        self._charge(now, zone, wet_kg, side.wood_mm)
        self._doors.open(zone, now.hour, side.open_s * self._off_by(DOOR_SCATTER))
        self._do(now, DeedKind.SIDE_STOKE, zone, wet_kg)

    def _charge(self, now: Moment, zone: int, wet_kg: float, thick_mm: float) -> None:
        moisture = self._plight.size(Mishap.WET, now.hour, self._spec.crew.moisture)
        now.kiln.stoke(fresh_charge(wet_kg, moisture=moisture, thickness_m=thick_mm / 1000.0), zone)

    def _plan_raking(self, now: Moment, interval_h: float) -> None:
        """Seen at the stoke, a deep bed is raked before the next one."""
        if self._plight.has(Mishap.UNRAKED, now.hour) or now.hour - self._raked_h < RAKE_EVERY_H:
            return
        bed = now.kiln.state.bed
        if bed.char_kg > now.watch.rakes_at * bed.deep_kg:
            self._rake_h = now.hour + 0.5 * interval_h
            self._raked_h = now.hour

    def _rake(self, now: Moment) -> None:
        now.kiln.rake()
        self._doors.open(0, now.hour, RAKE_S * self._off_by(DOOR_SCATTER))
        self._do(now, DeedKind.RAKE, 0, 0.0)
        self._rake_h = inf

    def _off_by(self, spread: float) -> float:
        return float(np.exp(self._rng.normal(0.0, spread)))

    def _hands(self, now: Moment, step_s: float, setting: Setting) -> Hands:
        shares = self._doors.shares(now.hour, step_s)
        shares[0] = max(shares[0], self._plight.size(Mishap.AJAR, now.hour, 0.0))
        ajar = self._plight.spell(Mishap.PORT_AJAR, now.hour)
        if ajar is not None and ajar.zone is not None:
            zone = self._spec.zone_index(ajar.zone)
            shares[zone] = max(shares[zone], ajar.size)
        return Hands(
            door=shares[0],
            ports=(0.0, *shares[1:]) if any(shares[1:]) else (),
            primary=setting.primary,
            secondary=setting.secondary,
            damper=setting.damper,
        )

    def _tell_setting(self, now: Moment, setting: Setting) -> None:
        inlets = self._settings.inlets_of(setting)
        for kind, zone, share in ((DeedKind.DAMPER, self._flue, setting.damper), (DeedKind.INLETS, 0, inlets)):
            if share != self._told.get(kind):
                self._told[kind] = share
                self._do(now, kind, zone, share)

    def _do(self, now: Moment, kind: DeedKind, zone: int, amount: float) -> None:
        self.deeds.append(Deed(now.hour, kind, self._spec.zones[zone].name, amount, now.watch.name))


def _in_time(due_h: float, hour: float) -> float:
    """Return from when the next interval counts: from when this deed was due, unless it came late."""
    return due_h if hour - due_h < IN_TIME_H else hour
