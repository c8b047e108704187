"""The crew at a kiln, without waiting for the kiln to answer."""

import numpy as np
import pytest

from simulator.crew import Watch
from simulator.kiln import Hands, Kiln
from simulator.kiln_file import load_kiln
from simulator.mishaps import Mishap
from simulator.spells import Spell

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
        kiln.state.charges[0].clear()
    return watch, done


def _intervals_min(watch: Watch) -> np.ndarray:
    return np.diff([s.hour for s in watch.deeds]) * 60.0


def test_crew_keeps_its_rhythm_with_human_scatter() -> None:
    """Intervals lie about the stage's, no two alike, a tenth off or so."""
    intervals = _intervals_min(_stand_watch(hours=6.0)[0])

    assert intervals.mean() == pytest.approx(SPEC.stage("high-fire").interval_min, rel=0.05)
    assert 0.05 < intervals.std() / intervals.mean() < 0.2


def test_door_opens_with_each_stoke_for_seconds() -> None:
    """Door-open time per stoke is about the stage's."""
    watch, done = _stand_watch(hours=6.0)

    open_s = sum(h.door for h in done) * 5.0
    assert open_s / len(watch.deeds) == pytest.approx(SPEC.stage("high-fire").door_s, rel=0.3)


def test_kiln_behind_its_plan_gets_more_wood() -> None:
    """30 degC behind, on the plan, 30 degC ahead."""
    wood = [sum(s.amount for s in _stand_watch(off_plan_c=c)[0].deeds) for c in (-30.0, 0.0, 30.0)]

    assert wood[0] > 1.2 * wood[1]
    assert wood[2] < wood[1] / 1.2


def test_doze_is_a_gap_without_stokes() -> None:
    """No stoke during the spell, one right after."""
    watch, _ = _stand_watch(Spell(Mishap.DOZE, 76.5, 0.5))

    hours = np.array([s.hour for s in watch.deeds])
    assert not np.any((hours >= 76.5) & (hours < 77.0))
    assert np.any((hours >= 77.0) & (hours < 77.02))


def test_late_watch_stretches_the_interval() -> None:
    """Twice the interval during the spell."""
    intervals = _intervals_min(_stand_watch(Spell(Mishap.LATE, 76.0, 4.0, size=2.0), hours=4.0)[0])

    assert intervals.mean() == pytest.approx(2.0 * SPEC.stage("high-fire").interval_min, rel=0.1)


def test_heaping_watch_throws_more_and_leaves_the_air() -> None:
    """Wood is a multiple of before, the inlets do not move."""
    spell = Spell(Mishap.HEAP, 77.0, 1.0, size=2.5)
    watch, done = _stand_watch(spell)
    before = [s.amount for s in watch.deeds if s.hour < 77.0]
    during = [s.amount for s in watch.deeds if s.hour >= 77.0]

    assert np.mean(during) == pytest.approx(2.5 * np.mean(before), rel=0.15)
    assert len({h.primary for h in done[721:]}) == 1


def test_door_ajar_stands_open_between_stokes() -> None:
    """The door never closes more than to the spell's share."""
    _, done = _stand_watch(Spell(Mishap.AJAR, 76.0, 2.0, size=0.3))

    assert min(h.door for h in done) == 0.3


def test_good_watch_rakes_a_deep_bed() -> None:
    """Seen at the next stoke, the choking bed is loosened."""
    watch, kiln = Watch(SPEC, (), np.random.default_rng(3)), Kiln(SPEC, 15.0)
    kiln.state.bed.char_kg = 2.0 * SPEC.air.bed_deep_kg
    watch.tend(kiln, hour=76.0, step_s=5.0, guide_c=1090.0, outside_c=15.0)

    assert kiln.state.bed.packed < 0.5


def test_closed_kiln_is_left_alone() -> None:
    """In the cooling nobody stokes, inlets and damper are shut."""
    watch, done = _stand_watch(begin_h=90.0, hours=1.0)

    assert watch.deeds == []
    assert {h.damper for h in done} == {done[0].primary}
    assert done[0].damper < 0.05
