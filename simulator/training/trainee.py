"""A crew that can be a person: the scripted watch tends until somebody takes the kiln over, and again after that.

While the kiln is in a person's hands the watch does nothing, neither good nor bad. What the person would see at the
kiln is told back in words.
"""

from monitor.wire.practice import Embers, Order, Port, Practice, Report, Settings, Sight
from simulator.crew.deeds import Crew, DeedKind
from simulator.firing import Trace
from simulator.kiln import Hands, Kiln, KilnState
from simulator.spec.kiln_file import KilnSpec
from simulator.training.lead import LeadWord
from simulator.training.person import Person, Refusal
from simulator.training.report import report_of, stokes_of, wood_kg
from simulator.training.sight import embers_of, flame_at_flue, flame_at_spyhole, smoke_of
from simulator.truth.falls import CHAMBER
from simulator.truth.minutes import STEPS, MinuteKeeper
from simulator.truth.stokes import Door

NOTCHES = (0.0, 0.02, 0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.65, 0.8, 1.0)
"""Settings that a hand finds on damper and inlets: finer where they do more (common practice, no source)."""
SEEN_SHARE = 0.02
"""Share of a step that the stoke door must stand open for the embers to be seen."""


class Trainee:
    """The watch and the person who may stand in for it, at the kiln lit at epoch second `lit`."""

    def __init__(self, spec: KilnSpec, watch: Crew, *, lit: float) -> None:
        self.deeds = watch.deeds
        self._spec = spec
        self._watch = watch
        self._lit = lit
        self._hour = 0.0
        self._lead = LeadWord(spec)
        self._person: Person | None = None
        self._settings = Settings(1.0, 1.0, 1.0)
        self._sight = Sight("none", "none", "clear", None, None)
        self._minutes = MinuteKeeper()
        self._steps_kept = 0
        self._report: Report | None = None
        self._ports = tuple(Port(z.name, z.place) for z in spec.zones if z.place in CHAMBER)

    def tend(self, kiln: Kiln, *, hour: float, step_s: float, guide_c: float, outside_c: float) -> Hands:
        """Let the watch act for the step that begins at `hour`, or do what the person ordered."""
        self._hour = hour
        self._lead.look(hour, guide_c)
        if self._person is None:
            hands = self._watch.tend(kiln, hour=hour, step_s=step_s, guide_c=guide_c, outside_c=outside_c)
        else:
            hands = self._person.act(kiln, self._lead, hour=hour, step_s=step_s)
        self._settings = Settings(hands.damper, hands.primary, hands.secondary)
        self._sight = self._seen(kiln.state, hands.door)
        return hands

    def keep(self, trace: Trace) -> None:
        """Take in what truly happened: reports are made of it."""
        self._minutes.add(trace)
        self._steps_kept += len(trace.clock_s)

    def take(self, order: Order) -> Refusal | None:
        """Take an order; return why it cannot be done, None where it is done or will be in the next step."""
        if order.what == "take-over":
            return self._take_over()
        if self._person is None:
            return Refusal.WATCH_HAS_IT
        if order.what == "report":
            self._report = self._report_of(self._person)
            return Refusal.TOO_EARLY if self._report is None else None
        if order.what == "give-back":
            self._report = self._report_of(self._person)
            self._person = None
            return None
        return self._person.take(order, self._lead, now=self._time(self._hour))

    def present(self) -> Practice:
        """Return the present as the person may know it."""
        person = self._person
        last_h = self._last_stoke_h()
        done = [] if person is None else [deed for deed in self.deeds if deed.hour > person.begin_h]
        return Practice(
            in_hand=person is not None,
            begun=None if person is None else self._time(person.begin_h),
            stokes=len(stokes_of(done, Door.FRONT)),
            wood_kg=wood_kg(done),
            last_stoke=None if last_h is None else self._time(last_h),
            lead=self._lead.word(),
            sight=self._sight,
            settings=self._settings if person is None else person.settings,
            notches=NOTCHES,
            ports=self._ports,
            last=None if person is None else person.last,
            report=self._report,
        )

    def _take_over(self) -> Refusal | None:
        if self._person is not None:
            return Refusal.IN_HAND
        self._report = None
        self._person = Person(self._spec, self._settings, self.deeds, begin_h=self._hour)
        return None

    def _report_of(self, person: Person) -> Report | None:
        if self._steps_kept < STEPS:
            return None
        minutes = self._minutes.minutes()
        return report_of(self._spec, minutes, self.deeds, begin_h=person.begin_h, lit=self._lit)

    def _seen(self, state: KilnState, door: float) -> Sight:
        embers: Embers | None = self._sight.embers
        looked = self._sight.looked
        if door > SEEN_SHARE:
            embers, looked = embers_of(state), self._time(self._hour)
        return Sight(
            spyhole=flame_at_spyhole(self._spec, state.flame_end),
            flue=flame_at_flue(self._spec, state.flame_end),
            smoke=smoke_of(state),
            embers=embers,
            looked=looked,
        )

    def _last_stoke_h(self) -> float | None:
        return next((deed.hour for deed in reversed(self.deeds) if deed.kind is DeedKind.FRONT_STOKE), None)

    def _time(self, hour: float) -> float:
        return round(self._lit + 3600.0 * hour, 1)
