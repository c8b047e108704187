"""How much wood seems right."""

import pytest

from simulator.crew.judgement import Judgement
from simulator.spec.kiln_file import load_kiln

SPEC = load_kiln("demo")


def _judgement() -> Judgement:
    return Judgement(SPEC.crew, SPEC.points)


def _plan_c(hour: float) -> float:
    return 945.0 + (hour - 70.0) * (1240.0 - 945.0) / 12.0


def test_on_plan_it_is_what_the_crew_knows() -> None:
    """At 76 h the plan climbs at 24.6 degC/h through 1092.5 degC: the curve's wood and the climb's."""
    known = 17.0 + (29.0 - 17.0) * (1092.5 - 945.0) / 155.0 + SPEC.crew.kg_h_per_climb * 295.0 / 12.0
    judgement = _judgement()
    judgement.wood_kg_h(75.0, _plan_c(75.0))
    judgement.wood_kg_h(75.5, _plan_c(75.5))

    assert judgement.wood_kg_h(76.0, 1092.5) == pytest.approx(known, rel=0.1)


@pytest.mark.parametrize("off_c", [-60.0, -30.0, 30.0, 60.0])
def test_gap_to_the_plan_is_answered_within_bounds(off_c: float) -> None:
    """Behind more wood, ahead less, never beyond twice or half."""
    ratio = _judgement().wood_kg_h(76.0, 1092.5 + off_c) / _judgement().wood_kg_h(76.0, 1092.5)

    assert 0.4 < ratio < 2.2
    assert (ratio > 1.1) == (off_c < 0.0)


def test_standing_gap_is_answered_ever_more() -> None:
    """Six hours 20 degC behind: more wood than after one hour, at the same heat and climb."""
    wood = []
    for begin_h in (70.0, 75.0):
        judgement = _judgement()
        for n in range(round((76.0 - begin_h) * 10.0) + 1):
            hour = begin_h + n / 10.0
            wet_kg_h = judgement.wood_kg_h(hour, _plan_c(hour) - 20.0)
        wood.append(wet_kg_h)

    assert wood[0] > 1.15 * wood[1]


def test_part_of_what_was_learnt_is_lost_at_a_handover() -> None:
    """The next watch throws less than the one that had learnt to throw more."""
    one, other = _judgement(), _judgement()
    for n in range(61):
        for judgement in (one, other):
            judgement.wood_kg_h(70.0 + n / 10.0, _plan_c(70.0 + n / 10.0) - 20.0)
    other.hand_over()

    assert other.wood_kg_h(77.0, _plan_c(77.0)) < one.wood_kg_h(77.0, _plan_c(77.0))


def test_stubborn_watch_stays_with_its_armful() -> None:
    """Whatever the guide says."""
    judgement = _judgement()
    before = judgement.wood_kg_h(76.0, 1092.5)

    assert judgement.wood_kg_h(77.0, 1000.0, stubborn=True) == before
