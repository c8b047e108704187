"""A person at the kiln: takes orders and does them in the next step. What is set stays where it is put."""

from enum import StrEnum

from msgspec.structs import replace

from monitor.wire.practice import Done, Order, Settings
from simulator.crew.crew import LOOK_S, RAKE_S
from simulator.crew.deeds import Deed, DeedKind
from simulator.crew.doors import Doors
from simulator.kiln import Hands, Kiln
from simulator.physics.fuel import fresh_charge
from simulator.spec.kiln_file import KilnSpec
from simulator.training.lead import LeadWord
from simulator.truth.falls import CHAMBER

NAME = "practice"
"""Whose deeds these are in the record of what was done."""
ARMFULS = {"small": 0.5, "usual": 1.0, "big": 2.0}
"""Wood of an armful over the lead's usual one."""
OPEN_LEAST_S = 4.0
"""Least time that the stoke door stands open for a stoke (common practice, no source)."""
MOST_ARMFULS = 6.0
"""Usual armfuls of unburnt wood that fill the firebox, side stokes that fill a port (common practice, no source)."""
SETTINGS = frozenset(Settings.__struct_fields__)


class Refusal(StrEnum):
    """Why an order is not done."""

    WATCH_HAS_IT = "watch-has-it"  # the kiln is not in a person's hands
    IN_HAND = "in-hand"  # it already is
    FULL = "full"  # no room for more wood there before some is burnt
    NO_SUCH_PORT = "no-such-port"
    NO_SETTING = "no-setting"  # a share of full between 0 and 1 is missing
    NO_ARMFUL = "no-armful"  # how much is missing
    TOO_EARLY = "too-early"  # nothing can be reported yet


class Person:
    """Whoever has the kiln since `begin_h` hours from lighting; `deeds` is where all that is done to it is noted."""

    def __init__(self, spec: KilnSpec, settings: Settings, deeds: list[Deed], *, begin_h: float) -> None:
        self.settings = settings
        self.begin_h = begin_h
        self.last: Done | None = None
        self._spec = spec
        self._deeds = deeds
        self._orders: list[Order] = []
        self._doors = Doors(len(spec.zones))
        self._unburnt_kg = [0.0] * len(spec.zones)
        self._chamber = {z.name: n for n, z in enumerate(spec.zones) if z.place in CHAMBER}
        self._flue = next(n for n, z in enumerate(spec.zones) if z.place == "flue")

    def take(self, order: Order, lead: LeadWord, *, now: float) -> Refusal | None:
        """Take an order at epoch second `now` for the next step; return why it cannot be done, None where it can."""
        refusal = self._refusal(order, lead)
        if refusal is not None:
            return refusal
        self._orders.append(order)
        if order.what in SETTINGS:
            self.settings = replace(self.settings, **{order.what: order.to})
        wet_kg = _wet_kg(order, lead)
        self.last = Done(now, order.what, order.zone, None if wet_kg is None else round(wet_kg, 1))
        return None

    def act(self, kiln: Kiln, lead: LeadWord, *, hour: float, step_s: float) -> Hands:
        """Do what was ordered since the last step; return where doors and settings are in this one."""
        for order in self._orders:
            self._do(kiln, order, lead, hour)
        self._orders.clear()
        self._unburnt_kg = [sum(c.wood_kg + c.water_kg for c in charges) for charges in kiln.state.charges]
        door, *ports = self._doors.shares(hour, step_s)
        s = self.settings
        return Hands(door=door, ports=(0.0, *ports), primary=s.primary, secondary=s.secondary, damper=s.damper)

    def _refusal(self, order: Order, lead: LeadWord) -> Refusal | None:
        match order.what:
            case "stoke":
                if order.armful is None:
                    return Refusal.NO_ARMFUL
                return self._fullness(order, 0, lead.usual_kg)
            case "side-stoke":
                if order.zone not in self._chamber:
                    return Refusal.NO_SUCH_PORT
                return self._fullness(order, self._chamber[order.zone], _side_kg(lead))
            case "damper" | "primary" | "secondary":
                return None if order.to is not None and 0.0 <= order.to <= 1.0 else Refusal.NO_SETTING
        return None

    def _fullness(self, order: Order, zone: int, usual_kg: float) -> Refusal | None:
        waiting = sum(o.what == order.what and o.zone == order.zone for o in self._orders)
        return Refusal.FULL if self._unburnt_kg[zone] + waiting * usual_kg > MOST_ARMFULS * usual_kg else None

    def _do(self, kiln: Kiln, order: Order, lead: LeadWord, hour: float) -> None:
        match order.what:
            case "stoke":
                self._stoke(kiln, order, lead, hour)
            case "side-stoke":
                self._side_stoke(kiln, order, lead, hour)
            case "rake":
                kiln.rake()
                self._doors.open(0, hour, RAKE_S)
                self._note(hour, DeedKind.RAKE, 0, 0.0)
            case "look":
                self._doors.open(0, hour, LOOK_S)
            case "damper" | "primary" | "secondary":
                self._note_setting(order, hour)

    def _stoke(self, kiln: Kiln, order: Order, lead: LeadWord, hour: float) -> None:
        wet_kg = _wet_kg(order, lead) or 0.0
        self._charge(kiln, 0, wet_kg, lead.wood_m)
        self._doors.open(0, hour, max(lead.stage.door_s, OPEN_LEAST_S))
        self._note(hour, DeedKind.FRONT_STOKE, 0, wet_kg)

    def _side_stoke(self, kiln: Kiln, order: Order, lead: LeadWord, hour: float) -> None:
        assert order.zone is not None
        zone, side = self._chamber[order.zone], lead.side
        wet_kg = _wet_kg(order, lead) or 0.0
        self._charge(kiln, zone, wet_kg, side.wood_mm / 1000.0)
        self._doors.open(zone, hour, side.open_s)
        self._note(hour, DeedKind.SIDE_STOKE, zone, wet_kg)

    def _charge(self, kiln: Kiln, zone: int, wet_kg: float, thickness_m: float) -> None:
        moisture = self._spec.crew.moisture
        kiln.stoke(fresh_charge(wet_kg, moisture=moisture, thickness_m=thickness_m), zone)

    def _note_setting(self, order: Order, hour: float) -> None:
        if order.what == "damper":
            self._note(hour, DeedKind.DAMPER, self._flue, self.settings.damper)
            return
        air = self._spec.air
        open_m2 = air.primary_m2 * self.settings.primary + air.secondary_m2 * self.settings.secondary
        self._note(hour, DeedKind.INLETS, 0, open_m2 / (air.primary_m2 + air.secondary_m2))

    def _note(self, hour: float, kind: DeedKind, zone: int, amount: float) -> None:
        self._deeds.append(Deed(hour, kind, self._spec.zones[zone].name, amount, NAME))


def _wet_kg(order: Order, lead: LeadWord) -> float | None:
    """Return the wet wood of a stoke in kg, None for any other order."""
    if order.what == "side-stoke":
        return _side_kg(lead)
    if order.what != "stoke" or order.armful is None:
        return None
    return ARMFULS[order.armful] * lead.usual_kg


def _side_kg(lead: LeadWord) -> float:
    """Return the wet wood of a side stoke in kg: as many pieces as the lead allows."""
    return lead.side.pieces[1] * lead.side.piece_kg
