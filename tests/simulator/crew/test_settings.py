"""Inlets and damper under a watch."""

from dataclasses import replace

import pytest

from simulator.crew.plight import Plight
from simulator.crew.settings import Setting, Settings
from simulator.kiln import Kiln
from simulator.script.mishaps import Mishap
from simulator.script.spells import Spell
from simulator.spec.kiln_file import load_kiln

SPEC = load_kiln("demo")
STAGE = SPEC.stage("climb")


def _set(wet_kg_h: float, *spells: Spell, below: float = 0.6) -> Setting:
    settings = Settings(SPEC, Plight(spells))
    stage = replace(STAGE, air_below=below)
    settings.set_for(wet_kg_h, kiln=Kiln(SPEC, 15.0), stage=stage, hour=52.0, outside_c=15.0)
    return settings.at(stage, 52.0)


def test_more_wood_gets_more_air() -> None:
    """Twice the wood, about twice the opening while the damper is wide."""
    little, much = _set(2.0), _set(4.0)

    assert 1.9 < much.primary / little.primary < 2.6


def test_air_goes_below_or_above_the_grate_as_the_stage_wants() -> None:
    """The same opening in all, another share of it below."""
    area_m2 = [
        (s.primary * SPEC.air.primary_m2, s.secondary * SPEC.air.secondary_m2)
        for s in (_set(3.0, below=0.3), _set(3.0, below=0.7))
    ]

    assert sum(area_m2[0]) == pytest.approx(sum(area_m2[1]))
    assert area_m2[0][0] / sum(area_m2[0]) == pytest.approx(0.3)
    assert area_m2[1][0] / sum(area_m2[1]) == pytest.approx(0.7)


def test_inlets_a_little_off_are_left_alone() -> None:
    """Four per cent more wood moves nothing, forty do."""
    settings, kiln = Settings(SPEC, Plight(())), Kiln(SPEC, 15.0)
    seen = []
    for wet_kg_h in (3.0, 3.12, 4.2):
        settings.set_for(wet_kg_h, kiln=kiln, stage=STAGE, hour=52.0, outside_c=15.0)
        seen.append(settings.inlets_of(settings.at(STAGE, 52.0)))

    assert seen[0] == seen[1]
    assert seen[2] > 1.2 * seen[0]


def test_mishaps_move_what_the_watch_set() -> None:
    """While they are on; the watch's own setting is there again afterwards."""
    spells = (Spell(Mishap.DAMPER, 52.0, 1.0, size=0.2), Spell(Mishap.INLETS, 52.0, 1.0, size=0.9))
    settings = Settings(SPEC, Plight(spells))
    settings.set_for(3.0, kiln=Kiln(SPEC, 15.0), stage=STAGE, hour=52.0, outside_c=15.0)

    assert settings.at(STAGE, 52.5) == Setting(0.9, 0.9, 0.2)
    assert settings.at(STAGE, 53.0).damper == STAGE.damper
    assert settings.at(STAGE, 53.0).primary < 0.9


def test_kiln_closed_up_is_shut() -> None:
    """Inlets and damper alike."""
    setting = Settings(SPEC, Plight(())).at(SPEC.stage("cooling"), 90.0)

    assert max(setting.primary, setting.secondary, setting.damper) < 0.05
