"""What the lead says at an hour, by the kiln's own file."""

import pytest

from simulator.spec.kiln_file import load_kiln
from simulator.training.lead import LeadWord

SPEC = load_kiln("demo")


def lead_at(stage: str, guide_c: float) -> LeadWord:
    """Return the lead half an hour into a stage."""
    lead = LeadWord(SPEC)
    lead.look(SPEC.stage(stage).begin_h + 0.5, guide_c)
    return lead


@pytest.mark.parametrize(("stage", "guide_c"), [("preheat", 60.0), ("climb", 500.0), ("high-fire", 1150.0)])
def test_the_rhythm_is_the_stages(stage: str, guide_c: float) -> None:
    """Name and interval as the kiln's file has them."""
    word = lead_at(stage, guide_c).word()

    assert (word.stage, word.interval_min) == (stage, SPEC.stage(stage).interval_min)
    assert word.usual_kg > 0.0


def test_the_climb_wanted_is_the_plans() -> None:
    """Rise over hours of the leg that the hour lies in; none once the plan is over."""
    (begin_h, begin_c), (end_h, end_c) = SPEC.points[0], SPEC.points[1]
    first = LeadWord(SPEC)
    first.look(0.5 * (begin_h + end_h), 50.0)
    last = LeadWord(SPEC)
    last.look(SPEC.points[-1][0] + 1.0, 1000.0)

    assert first.word().climb_c_per_h == pytest.approx((end_c - begin_c) / (end_h - begin_h), abs=0.05)
    assert last.word().climb_c_per_h == 0.0


def test_a_usual_armful_is_the_wood_of_one_interval() -> None:
    """In high fire on the plan within half to twice what the crew's own table takes at that heat."""
    lead = lead_at("high-fire", 1100.0)
    table = dict(SPEC.crew.wood_kg_h)
    right_kg = table[1100.0] * SPEC.stage("high-fire").interval_min / 60.0

    assert 0.5 * right_kg < lead.usual_kg < 2.0 * right_kg


def test_a_kiln_behind_its_plan_wants_bigger_armfuls() -> None:
    """As every watch does."""
    assert lead_at("high-fire", 1000.0).usual_kg < 2.0 * lead_at("high-fire", 1100.0).usual_kg
    behind, ahead = LeadWord(SPEC), LeadWord(SPEC)
    planned_c = dict(SPEC.points)
    hour = max(hour for hour in planned_c if hour < SPEC.stage("cooling").begin_h)
    behind.look(hour, planned_c[hour] - 30.0)
    ahead.look(hour, planned_c[hour] + 30.0)

    assert behind.usual_kg > ahead.usual_kg


def test_closed_up_nobody_is_to_stoke() -> None:
    """An armful is still something, for who does it all the same."""
    lead = lead_at("cooling", 1000.0)

    assert lead.word().interval_min == 0.0
    assert lead.usual_kg > 0.0
    assert lead.wood_m > 0.0


def test_side_stoking_is_wanted_from_its_heat_on() -> None:
    """Below it the lead says nothing of it, but a side stoke is still so much wood."""
    side = SPEC.stage("high-fire").side
    assert side is not None
    cold, hot = (lead_at("high-fire", side.from_c + off_c) for off_c in (-1.0, 1.0))

    assert (cold.word().side_every_min, cold.word().side_ports) == (0.0, ())
    assert (hot.word().side_every_min, hot.word().side_ports) == (side.every_min, side.ports)
    assert cold.side.piece_kg > 0.0
    assert lead_at("preheat", 60.0).word().side_every_min == 0.0


def test_long_wood_lies_ready_once_the_chamber_lights_it() -> None:
    """Short wood before (thickness by the kiln's file)."""
    crew = SPEC.crew

    assert lead_at("climb", crew.long_from_c - 1.0).wood_m == pytest.approx(crew.short_mm / 1000.0)
    assert lead_at("high-fire", crew.long_from_c + 1.0).wood_m == pytest.approx(crew.long_mm / 1000.0)
