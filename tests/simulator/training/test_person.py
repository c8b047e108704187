"""A person at the kiln: what is ordered is done in the next step, what cannot be done is refused with its reason."""

import pytest

from monitor.wire.practice import Order, Settings
from simulator.crew.deeds import Deed, DeedKind
from simulator.kiln import Kiln
from simulator.spec.kiln_file import load_kiln
from simulator.training.lead import LeadWord
from simulator.training.person import NAME, Person, Refusal

SPEC = load_kiln("demo")
HOUR, NOW = 76.5, 1_764_000_000.0


class Bench:
    """A person before a cold kiln in high fire, by the plan."""

    def __init__(self) -> None:
        self.kiln = Kiln(SPEC, 15.0)
        self.lead = LeadWord(SPEC)
        self.lead.look(HOUR, 1160.0)
        self.deeds: list[Deed] = []
        self.person = Person(SPEC, Settings(0.8, 0.213, 0.4), self.deeds, begin_h=HOUR)

    def order(self, what: str, **more: object) -> Refusal | None:
        """Give one order."""
        return self.person.take(Order(1, what, **more), self.lead, now=NOW)  # type: ignore[arg-type]

    def step(self) -> object:
        """Let a step of 5 s begin."""
        return self.person.act(self.kiln, self.lead, hour=HOUR, step_s=5.0)


@pytest.fixture
def bench() -> Bench:
    """Return a fresh one."""
    return Bench()


@pytest.mark.parametrize(("armful", "times"), [("small", 0.5), ("usual", 1.0), ("big", 2.0)])
def test_an_armful_goes_into_the_firebox_and_the_door_opens(bench: Bench, armful: str, times: float) -> None:
    """By the lead's usual one, with the wood that lies ready, wet as ever; noted as the person's."""
    assert bench.order("stoke", armful=armful) is None
    hands = bench.step()
    (charge,) = bench.kiln.state.charges[0]
    (deed,) = bench.deeds

    assert charge.wood_kg + charge.water_kg == pytest.approx(times * bench.lead.usual_kg)
    assert charge.water_kg / (charge.wood_kg + charge.water_kg) == pytest.approx(SPEC.crew.moisture)
    assert charge.thickness_m == bench.lead.wood_m
    assert hands.door > 0.5  # type: ignore[attr-defined]
    assert (deed.kind, deed.zone, deed.watch) == (DeedKind.FRONT_STOKE, "firebox", NAME)


def test_an_order_is_done_once(bench: Bench) -> None:
    """The step after it does nothing more; the door is shut again in time."""
    bench.order("stoke", armful="usual")
    bench.step()
    hands = bench.person.act(bench.kiln, bench.lead, hour=HOUR + 0.1, step_s=5.0)

    assert len(bench.deeds) == 1
    assert hands.door == 0.0


def test_a_side_stoke_goes_through_its_own_port(bench: Bench) -> None:
    """A few thin pieces into that zone alone, only its port open."""
    assert bench.order("side-stoke", zone="middle") is None
    hands = bench.step()
    zone = SPEC.zone_index("middle")

    assert [len(charges) for charges in bench.kiln.state.charges] == [int(n == zone) for n in range(len(SPEC.zones))]
    assert [n for n, share in enumerate(hands.ports) if share > 0.0] == [zone]  # type: ignore[attr-defined]
    assert 0.2 < bench.deeds[0].amount < 1.0


def test_raking_loosens_the_bed_and_opens_the_door(bench: Bench) -> None:
    """As the watch does it; a look opens the door only."""
    packed = bench.kiln.state.bed.packed
    assert bench.order("look") is None
    assert bench.step().door > 0.5  # type: ignore[attr-defined]
    assert (bench.kiln.state.bed.packed, bench.deeds) == (packed, [])
    assert bench.order("rake") is None
    bench.step()

    assert bench.kiln.state.bed.packed < packed
    assert bench.deeds[0].kind is DeedKind.RAKE


@pytest.mark.parametrize("what", ["damper", "primary", "secondary"])
def test_a_setting_stays_where_it_is_put(bench: Bench, what: str) -> None:
    """Told at once, in force from the next step on; the others stay as they were found."""
    assert bench.order(what, to=0.5) is None
    told = bench.person.settings
    hands = [bench.step(), bench.step()]

    assert getattr(told, what) == 0.5
    for each in hands:
        assert Settings(each.damper, each.primary, each.secondary) == told  # type: ignore[attr-defined]
    assert [told.damper, told.primary, told.secondary].count(0.5) == 1


def test_inlets_are_noted_as_the_share_of_their_area(bench: Bench) -> None:
    """Shut below and open above: what is open over all there is, by the kiln's own areas."""
    bench.order("primary", to=0.0)
    bench.order("secondary", to=1.0)
    bench.step()
    air = SPEC.air

    assert bench.deeds[-1].kind is DeedKind.INLETS
    assert bench.deeds[-1].amount == pytest.approx(air.secondary_m2 / (air.primary_m2 + air.secondary_m2))


def test_what_was_done_last_is_told_at_once(bench: Bench) -> None:
    """With its time and, where it was a stoke, its wood."""
    bench.order("side-stoke", zone="back")
    side = bench.person.last
    bench.order("damper", to=0.5)
    damper = bench.person.last

    assert side is not None
    assert damper is not None
    assert (side.time, side.what, side.zone) == (NOW, "side-stoke", "back")
    assert side.kg is not None
    assert (damper.what, damper.kg) == ("damper", None)


@pytest.mark.parametrize(
    ("order", "refusal"),
    [
        ({"what": "stoke"}, Refusal.NO_ARMFUL),
        ({"what": "side-stoke"}, Refusal.NO_SUCH_PORT),
        ({"what": "side-stoke", "zone": "flue"}, Refusal.NO_SUCH_PORT),
        ({"what": "side-stoke", "zone": "firebox"}, Refusal.NO_SUCH_PORT),
        ({"what": "damper"}, Refusal.NO_SETTING),
        ({"what": "primary", "to": 1.01}, Refusal.NO_SETTING),
        ({"what": "secondary", "to": -0.1}, Refusal.NO_SETTING),
        ({"what": "damper", "to": float("nan")}, Refusal.NO_SETTING),
    ],
)
def test_what_cannot_be_done_is_refused(bench: Bench, order: dict[str, object], refusal: Refusal) -> None:
    """Nothing is done or told then."""
    assert bench.order(**order) is refusal  # type: ignore[arg-type]
    bench.step()

    assert (bench.deeds, bench.person.last) == ([], None)


@pytest.mark.parametrize("order", [{"what": "stoke", "armful": "big"}, {"what": "side-stoke", "zone": "front"}])
def test_a_place_full_of_wood_takes_no_more(bench: Bench, order: dict[str, object]) -> None:
    """Neither while orders wait nor once they lie there; elsewhere there is room."""
    taken = 0
    while bench.order(**order) is None:  # type: ignore[arg-type]
        taken += 1
        assert taken < 20
    bench.step()

    assert bench.order(**order) is Refusal.FULL  # type: ignore[arg-type]
    assert bench.order("side-stoke", zone="back") is None
    assert taken >= 3


def test_words_that_do_not_belong_to_an_order_change_nothing(bench: Bench) -> None:
    """A setting that comes with a rake, an armful with a look."""
    before = bench.person.settings
    assert bench.order("rake", to=0.1) is None
    assert bench.order("look", armful="big") is None
    bench.step()

    assert bench.person.settings == before
    assert bench.kiln.state.charges[0] == []
    assert bench.person.last is not None
    assert bench.person.last.kg is None
