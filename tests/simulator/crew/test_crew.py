"""The crew at a kiln, without waiting for the kiln to answer."""

from collections import Counter

import numpy as np
import pytest

from simulator.crew.crew import Watch
from simulator.crew.deeds import Deed, DeedKind
from simulator.kiln import Hands, Kiln
from simulator.script.mishaps import Mishap
from simulator.script.spells import Spell
from simulator.spec.kiln_file import load_kiln

SPEC = load_kiln("demo")


def _stand_watch(
    *spells: Spell, begin_h: float = 76.0, hours: float = 2.0, off_plan_c: float = 0.0
) -> tuple[Watch, list[Hands]]:
    """Return the watch and what it did in 5 s steps, the guide always `off_plan_c` off the plan."""
    watch = Watch(SPEC, spells, np.random.default_rng(3))
    kiln = Kiln(SPEC, 15.0)
    done = []
    plan_h, plan_c = np.array(SPEC.points).T
    for number in range(round(hours * 720)):
        hour = begin_h + number * 5.0 / 3600.0
        guide_c = float(np.interp(hour, plan_h, plan_c)) + off_plan_c
        done.append(watch.tend(kiln, hour=hour, step_s=5.0, guide_c=guide_c, outside_c=15.0))
        for charges in kiln.state.charges:
            charges.clear()
    return watch, done


def _deeds(watch: Watch, kind: DeedKind) -> list[Deed]:
    return [d for d in watch.deeds if d.kind is kind]


def _front(watch: Watch) -> list[Deed]:
    return _deeds(watch, DeedKind.FRONT_STOKE)


def _intervals_min(watch: Watch) -> np.ndarray:
    """Return the intervals between front stokes, armfuls less than 75 s apart being one."""
    hours = [d.hour for d in _front(watch)]
    begun = [h for h, before in zip(hours, [-1.0, *hours], strict=False) if h - before > 75.0 / 3600.0]
    return np.diff(begun) * 60.0


def test_crew_keeps_its_rhythm_with_human_scatter() -> None:
    """Intervals lie about the stage's, no two alike, a tenth off or so."""
    intervals = _intervals_min(_stand_watch(hours=6.0)[0])

    assert intervals.mean() == pytest.approx(SPEC.stage("high-fire").interval_min, rel=0.05)
    assert 0.05 < intervals.std() / intervals.mean() < 0.2


def test_some_stokes_are_thrown_as_two_armfuls() -> None:
    """Within 75 s, and together no more wood than others bring."""
    deeds = _front(_stand_watch(hours=8.0)[0])
    gaps_s = np.diff([d.hour for d in deeds]) * 3600.0
    second = np.flatnonzero(gaps_s < 75.0)

    assert 0.005 < len(second) / len(deeds) < 0.15
    single_kg = np.median([d.amount for d in deeds])
    for n in second:
        assert deeds[n].amount + deeds[n + 1].amount == pytest.approx(single_kg, rel=0.5)


def test_door_opens_with_each_stoke_for_seconds() -> None:
    """Door-open time per stoke is about the stage's; looks and raking add a little."""
    watch, done = _stand_watch(hours=6.0)

    open_s = sum(h.door for h in done) * 5.0
    assert open_s / len(_front(watch)) == pytest.approx(SPEC.stage("high-fire").door_s, rel=0.3)


def test_door_is_also_opened_for_a_look_without_stoking() -> None:
    """Steps with the door open and no stoke near: there are some, and they are no deeds."""
    watch, done = _stand_watch(hours=8.0)
    open_h = [76.0 + n * 5.0 / 3600.0 for n, h in enumerate(done) if h.door > 0.0]
    stokes_h = np.array([d.hour for d in _front(watch)])
    looks = [h for h in open_h if np.min(np.abs(stokes_h - h)) > 30.0 / 3600.0]

    assert 0 < len(looks) < 40


def test_kiln_behind_its_plan_gets_more_wood() -> None:
    """30 degC behind, on the plan, 30 degC ahead."""
    wood = [sum(d.amount for d in _front(_stand_watch(off_plan_c=c)[0])) for c in (-30.0, 0.0, 30.0)]

    assert wood[0] > 1.2 * wood[1]
    assert wood[2] < wood[1] / 1.2


def test_sides_are_fed_in_order_once_thin_wood_flares() -> None:
    """From about 1050 degC on (common practice, no source), through an open port, and the front gets less."""
    watch, done = _stand_watch(begin_h=73.0, hours=3.0)
    side = _deeds(watch, DeedKind.SIDE_STOKE)
    plan_h, plan_c = np.array(SPEC.points).T
    ports = SPEC.stage("high-fire").side

    assert ports is not None
    assert 1050.0 <= float(np.interp(side[0].hour, plan_h, plan_c)) < 1056.0
    assert [d.zone for d in side[:6]] == [*ports.ports, *ports.ports]
    assert {n for h in done for n, share in enumerate(h.ports) if share > 0.0} == {
        SPEC.zone_index(p) for p in ports.ports
    }
    for deed in side:
        assert 1.4 * ports.piece_kg < deed.amount < 4.2 * ports.piece_kg


def test_lagging_back_gets_more_from_a_watch_that_looks() -> None:
    """The port ahead of the back is fed twice as often as the others."""
    watch, kiln = Watch(SPEC, (), np.random.default_rng(3), lit_hour=6.0), Kiln(SPEC, 15.0)
    kiln.state.ware_c[:] = 1100.0
    kiln.state.ware_c[SPEC.zone_index("back")] = 1000.0
    for number in range(2000):
        watch.tend(kiln, hour=76.0 + number * 5.0 / 3600.0, step_s=5.0, guide_c=1100.0, outside_c=15.0)
    ports = Counter(d.zone for d in _deeds(watch, DeedKind.SIDE_STOKE))

    assert ports["middle"] >= 2 * max(ports["front"], ports["back"])


def test_wood_changes_from_short_and_thick_to_long_and_thin_once() -> None:
    """At 871 degC, 1600 degF (common practice, no source), and not back when the guide sags."""
    watch, kiln = Watch(SPEC, (), np.random.default_rng(3), lit_hour=0.0), Kiln(SPEC, 15.0)
    thick_mm = []
    for number, guide_c in enumerate((860.0, 870.0, 872.0, 865.0)):
        watch.tend(kiln, hour=62.0 + number, step_s=5.0, guide_c=guide_c, outside_c=15.0)
        thick_mm.append(1000.0 * kiln.state.charges[0][-1].thickness_m)

    crew = SPEC.crew
    assert thick_mm == pytest.approx([crew.short_mm, crew.short_mm, crew.long_mm, crew.long_mm])
    assert crew.short_mm > crew.long_mm
    assert watch.long_wood_h == 64.0


def test_watches_hand_over_by_the_clock() -> None:
    """Deeds carry the name of who is there; nobody is there outside the hours."""
    watch, _ = _stand_watch(begin_h=70.0, hours=12.0)
    by_hour = {d.watch: [] for d in watch.deeds}
    for deed in watch.deeds:
        by_hour[deed.watch].append((6.0 + deed.hour) % 24.0)

    assert len(by_hour) == 3
    for w in SPEC.crew.watches[:2]:
        assert all(w.from_hour <= h < w.from_hour + 8.0 for h in by_hour[w.name])


def test_settings_that_move_are_told() -> None:
    """The damper once, at the begin and at each move; inlets follow the wood in notches, not with every stoke."""
    watch, _ = _stand_watch(Spell(Mishap.DAMPER, 77.0, 0.5, size=0.3), hours=2.0)
    damper = [(d.hour, d.amount) for d in _deeds(watch, DeedKind.DAMPER)]
    usual = SPEC.stage("high-fire").damper

    assert [amount for _, amount in damper] == [usual, 0.3, usual]
    assert [hour for hour, _ in damper] == pytest.approx([76.0, 77.0, 77.5], abs=0.002)
    assert 1 <= len(_deeds(watch, DeedKind.INLETS)) < len(_front(watch))


def test_doze_is_a_gap_without_deeds() -> None:
    """Nothing during the spell, a stoke right after."""
    watch, _ = _stand_watch(Spell(Mishap.DOZE, 76.5, 0.5))

    hours = np.array([d.hour for d in watch.deeds])
    stokes = np.array([d.hour for d in _front(watch)])
    assert not np.any((hours >= 76.5) & (hours < 77.0))
    assert np.any((stokes >= 77.0) & (stokes < 77.02))


@pytest.mark.parametrize("size", [2.0, 0.6])
def test_late_watch_stretches_the_interval_and_a_hurried_one_shrinks_it(size: float) -> None:
    """By the size, during the spell."""
    intervals = _intervals_min(_stand_watch(Spell(Mishap.LATE, 76.0, 4.0, size=size), hours=4.0)[0])

    assert intervals.mean() == pytest.approx(size * SPEC.stage("high-fire").interval_min, rel=0.1)


def test_drifting_watch_is_ever_later() -> None:
    """Little at first, twice the interval at the end."""
    intervals = _intervals_min(_stand_watch(Spell(Mishap.DRIFT, 76.0, 4.0, size=2.0), hours=4.0)[0])

    assert intervals[:5].mean() == pytest.approx(4.0, rel=0.15)
    assert intervals[-5:].mean() == pytest.approx(8.0, rel=0.2)


def test_missed_stokes_are_gone() -> None:
    """Half of them, in whole intervals."""
    usual = len(_front(_stand_watch(hours=6.0)[0]))
    missed = len(_front(_stand_watch(Spell(Mishap.MISSED, 76.0, 6.0, size=0.5), hours=6.0)[0]))

    assert missed / usual == pytest.approx(0.5, abs=0.12)


def test_heaping_watch_throws_more_and_leaves_the_air() -> None:
    """Wood is a multiple of before, the inlets do not move."""
    spell = Spell(Mishap.HEAP, 77.0, 1.0, size=2.5)
    watch, done = _stand_watch(spell)
    before = sum(d.amount for d in _front(watch) if d.hour < 77.0)
    during = sum(d.amount for d in _front(watch) if d.hour >= 77.0)

    assert during == pytest.approx(2.5 * before, rel=0.15)
    assert len({h.primary for h in done[721:]}) == 1


@pytest.mark.parametrize(("mishap", "size", "zone"), [(Mishap.SIDES_LEFT, 1.0, None), (Mishap.SIDE_HEAP, 3.0, None)])
def test_sides_are_left_or_heaped(mishap: Mishap, size: float, zone: str | None) -> None:
    """No side stoke at all, or three times the wood."""
    usual = _deeds(_stand_watch()[0], DeedKind.SIDE_STOKE)
    dealt = _deeds(_stand_watch(Spell(mishap, 76.0, 2.0, size=size, zone=zone))[0], DeedKind.SIDE_STOKE)
    share = sum(d.amount for d in dealt) / sum(d.amount for d in usual)

    assert share == pytest.approx(0.0 if mishap is Mishap.SIDES_LEFT else 3.0, rel=0.15)


def test_wood_may_be_wet_or_thick() -> None:
    """Water's share and thickness of what is thrown in."""
    spells = (Spell(Mishap.WET, 76.0, 1.0, size=0.4), Spell(Mishap.THICK, 76.0, 1.0, size=2.0))
    watch, kiln = Watch(SPEC, spells, np.random.default_rng(3)), Kiln(SPEC, 15.0)
    watch.tend(kiln, hour=76.0, step_s=5.0, guide_c=1090.0, outside_c=15.0)
    charge = kiln.state.charges[0][0]

    assert charge.water_kg / (charge.water_kg + charge.wood_kg) == pytest.approx(0.4)
    assert charge.thickness_m == pytest.approx(2.0 * SPEC.crew.long_mm / 1000.0)


def test_door_ajar_stands_open_between_stokes() -> None:
    """The door never closes more than to the spell's share."""
    _, done = _stand_watch(Spell(Mishap.AJAR, 76.0, 2.0, size=0.3))

    assert min(h.door for h in done) == 0.3


def test_side_port_left_open_is_that_one() -> None:
    """The back's, never less than its share; the others close."""
    _, done = _stand_watch(Spell(Mishap.PORT_AJAR, 76.0, 2.0, size=0.5, zone="back"))
    ports = np.array([h.ports for h in done])

    assert ports[:, SPEC.zone_index("back")].min() == 0.5
    assert ports[:, SPEC.zone_index("middle")].min() == 0.0


@pytest.mark.parametrize(("mishap", "name"), [(Mishap.DAMPER, "damper"), (Mishap.INLETS, "primary")])
def test_damper_and_inlets_stand_where_they_were_moved(mishap: Mishap, name: str) -> None:
    """At the spell's size, all the time."""
    _, done = _stand_watch(Spell(mishap, 76.0, 2.0, size=0.25))

    assert {getattr(h, name) for h in done} == {0.25}


def test_air_follows_the_wanted_atmosphere() -> None:
    """Half the air of the preheat's, about half the opening of the inlets."""
    usual = _stand_watch(begin_h=30.0)[1][-1].primary
    held = _stand_watch(Spell(Mishap.ATMOSPHERE, 30.0, 2.0, size=1.25), begin_h=30.0)[1][-1].primary

    assert held < 0.6 * usual


def test_good_watch_rakes_a_deep_bed_between_stokes() -> None:
    """Seen at a stoke, the choking bed is loosened before the next, and then left alone for a while."""
    watch, kiln = Watch(SPEC, (), np.random.default_rng(3)), Kiln(SPEC, 15.0)
    for number in range(200):
        kiln.state.bed.char_kg = 2.0 * SPEC.air.bed_deep_kg
        watch.tend(kiln, hour=76.0 + number * 5.0 / 3600.0, step_s=5.0, guide_c=1090.0, outside_c=15.0)
    rakes = _deeds(watch, DeedKind.RAKE)

    assert len(rakes) == 1
    assert 0.02 < rakes[0].hour - 76.0 < 0.05
    assert kiln.state.bed.packed < 0.5


def test_nobody_rakes_in_a_watch_that_does_not() -> None:
    """However deep the bed."""
    watch, kiln = Watch(SPEC, (Spell(Mishap.UNRAKED, 76.0, 1.0),), np.random.default_rng(3)), Kiln(SPEC, 15.0)
    for number in range(200):
        kiln.state.bed.char_kg = 2.0 * SPEC.air.bed_deep_kg
        watch.tend(kiln, hour=76.0 + number * 5.0 / 3600.0, step_s=5.0, guide_c=1090.0, outside_c=15.0)

    assert _deeds(watch, DeedKind.RAKE) == []


def test_closed_kiln_is_left_alone() -> None:
    """In the cooling nobody stokes, inlets and damper are shut."""
    watch, done = _stand_watch(begin_h=90.0, hours=1.0)

    assert {d.kind for d in watch.deeds} == {DeedKind.DAMPER, DeedKind.INLETS}
    assert {h.damper for h in done} == {done[0].primary}
    assert done[0].damper < 0.05
