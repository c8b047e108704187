"""The crew that can be a person: who tends when, and what the person is told."""

from collections.abc import Sequence

import pytest

from monitor.wire.practice import Order, Practice
from simulator.crew.deeds import Deed, DeedKind
from simulator.firing import Firing, scripted_watch
from simulator.kiln import Hands, Kiln
from simulator.script.mishaps import Mishap
from simulator.script.scenarios import Scenario
from simulator.script.spells import Spell, settle_spells
from simulator.spec.kiln_file import load_kiln
from simulator.training.person import NAME, Refusal
from simulator.training.trainee import NOTCHES, Trainee

SPEC = load_kiln("demo")
LIT = 1_764_000_000


class Idle:
    """A watch that notes when it was asked and leaves everything as it is."""

    def __init__(self) -> None:
        self.deeds: list[Deed] = []
        self.asked: list[float] = []
        self.hands = Hands(door=0.0, primary=0.3, secondary=0.2, damper=0.9)

    def tend(self, _kiln: Kiln, *, hour: float, **_rest: float) -> Hands:
        """Do nothing."""
        self.asked.append(hour)
        return self.hands


class Bench:
    """A trainee over an idle watch, before a cold kiln."""

    def __init__(self) -> None:
        self.watch = Idle()
        self.kiln = Kiln(SPEC, 15.0)
        self.trainee = Trainee(SPEC, self.watch, lit=LIT)
        self.hour = 76.0

    def steps(self, count: int = 1) -> Hands:
        """Go on by steps of 5 s and return what was done in the last."""
        for _ in range(count):
            self.hour += 5.0 / 3600.0
            hands = self.trainee.tend(self.kiln, hour=self.hour, step_s=5.0, guide_c=1150.0, outside_c=15.0)
        return hands

    def order(self, what: str, **more: object) -> Refusal | None:
        """Give an order."""
        return self.trainee.take(Order(1, what, **more))  # type: ignore[arg-type]

    @property
    def present(self) -> Practice:
        """What the person is told."""
        return self.trainee.present()


@pytest.fixture
def bench() -> Bench:
    """Return a fresh one after a first step."""
    bench = Bench()
    bench.steps()
    return bench


def test_the_watch_tends_until_somebody_takes_over_and_after_that(bench: Bench) -> None:
    """Its settings are found as it left them; while the person has the kiln it is not asked."""
    assert bench.steps() == bench.watch.hands
    assert not bench.present.in_hand
    assert bench.order("take-over") is None
    asked = len(bench.watch.asked)
    hands = bench.steps(3)
    assert (hands.primary, hands.secondary, hands.damper) == (0.3, 0.2, 0.9)
    assert len(bench.watch.asked) == asked
    assert bench.order("give-back") is None
    bench.steps(2)

    assert len(bench.watch.asked) == asked + 2


@pytest.mark.parametrize("what", ["stoke", "rake", "look", "damper", "report", "give-back"])
def test_nothing_is_taken_from_who_has_not_the_kiln(bench: Bench, what: str) -> None:
    """The watch has it; and it cannot be taken over twice."""
    assert bench.order(what, armful="usual", to=0.5) is Refusal.WATCH_HAS_IT
    bench.order("take-over")
    assert bench.order("take-over") is Refusal.IN_HAND


def test_stokes_and_wood_count_from_the_taking_over(bench: Bench) -> None:
    """The watch's stoke before it is the last one at first, then the person's own."""
    bench.watch.deeds.append(Deed(bench.hour, DeedKind.FRONT_STOKE, "firebox", 4.0, "night"))
    bench.order("take-over")
    before = bench.present
    bench.steps(60)
    bench.order("stoke", armful="usual")
    bench.steps()
    after = bench.present

    assert (before.stokes, before.wood_kg) == (0, 0.0)
    assert before.last_stoke == pytest.approx(LIT + 76 * 3600 + 5)
    assert (after.stokes, after.wood_kg) == (1, after.lead.usual_kg)
    assert after.last_stoke == pytest.approx(LIT + 76 * 3600 + 5 + 61 * 5)
    assert after.begun == pytest.approx(LIT + 76 * 3600 + 5)
    assert [deed.watch for deed in bench.trainee.deeds] == ["night", NAME]


def test_embers_are_told_as_they_were_when_the_door_was_open(bench: Bench) -> None:
    """Unknown before the first look; the word stays and gets older until the next."""
    assert bench.present.sight.embers is None
    bench.order("take-over")
    bench.kiln.state.bed.char_kg = 0.9 * bench.kiln.state.bed.deep_kg
    bench.order("look")
    bench.steps(1)
    looked = bench.present.sight
    bench.kiln.state.bed.char_kg = 0.0
    bench.steps(5)

    assert looked.embers == "deep"
    assert bench.present.sight == looked


def test_settings_are_found_on_notches(bench: Bench) -> None:
    """From shut to full, in order, the person's own told at once."""
    bench.order("take-over")
    bench.order("damper", to=NOTCHES[3])

    assert bench.present.settings.damper == NOTCHES[3]
    assert bench.present.notches == tuple(sorted(NOTCHES))
    assert (NOTCHES[0], NOTCHES[-1]) == (0.0, 1.0)
    assert [port.zone for port in bench.present.ports] == ["front", "middle", "back"]


def firing_of(spells: Sequence[Spell] = (), *, trained: bool = True) -> tuple[Firing, Trainee | None]:
    """Return a firing that has been hurried into its climb, with a trainee or with the watch alone."""
    scenario = Scenario("made-up", "", tuple(spells))
    crew = None
    if trained:
        crew = Trainee(SPEC, scripted_watch(SPEC, settle_spells(spells, SPEC, 0.0), seed=1, lit=LIT), lit=LIT)
    firing = Firing(SPEC, scenario, seed=1, lit=LIT, crew=crew)
    firing.hurry_to(round(2.0 * 3600))
    return firing, crew


def test_an_untouched_practice_is_the_firing_itself() -> None:
    """Number by number what the watch alone makes of it."""
    alone, _ = firing_of(trained=False)
    trained, _ = firing_of()
    traces = [firing.run(120) for firing in (alone, trained)]

    assert (traces[0].junction_c == traces[1].junction_c).all()
    assert alone.deeds == trained.deeds


def test_wood_warms_the_kiln_and_leaving_it_cools() -> None:
    """Two hours of usual armfuls against two hours of none; the report tells both."""
    ends_c, reports = [], []
    for every_min in (SPEC.stage_at(2.0).interval_min, 1000.0):
        firing, crew = firing_of()
        assert crew is not None
        crew.take(Order(1, "take-over"))
        for minute in range(120):
            if minute % every_min == 0 and every_min < 1000.0:
                assert crew.take(Order(1, "stoke", armful="usual")) is None
            crew.keep(firing.run(12))
        ends_c.append(float(firing.kiln.state.ware_c[1]))
        assert crew.take(Order(1, "give-back")) is None
        reports.append(crew.present().report)

    assert ends_c[0] > ends_c[1] + 1.0
    stoked, left = reports
    assert stoked is not None
    assert left is not None
    assert stoked.stokes == pytest.approx(120 / SPEC.stage_at(2.0).interval_min)
    assert stoked.mean_interval_min == pytest.approx(SPEC.stage_at(2.0).interval_min, abs=0.2)
    assert (left.stokes, left.wood_kg) == (0, 0.0)
    assert left.longest_gap_min > 119.0


def test_a_mishap_of_the_watch_is_none_of_the_persons() -> None:
    """A door that the watch left ajar is shut by who takes over."""
    firing, crew = firing_of([Spell(Mishap.AJAR, 1.5, 3.0, size=0.4)])
    assert crew is not None
    before = firing.run(12)
    crew.take(Order(1, "take-over"))
    after = firing.run(12)

    assert before.door.min() >= 0.4
    assert after.door.max() == 0.0


def test_a_report_is_told_until_the_next_taking_over() -> None:
    """Too early before a minute has passed; then on request, and at the end; then forgotten."""
    firing, crew = firing_of()
    assert crew is not None
    crew.take(Order(1, "take-over"))
    assert crew.take(Order(1, "report")) is Refusal.TOO_EARLY
    assert crew.present().report is None
    crew.keep(firing.run(24))
    assert crew.take(Order(1, "report")) is None
    asked = crew.present().report
    crew.keep(firing.run(24))
    crew.take(Order(1, "give-back"))
    final = crew.present().report
    crew.take(Order(1, "take-over"))

    assert asked is not None
    assert final is not None
    assert final.ended - asked.ended == pytest.approx(120.0)
    assert crew.present().report is None
