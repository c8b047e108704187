"""The ember bed and the heaps of side stokes."""

import pytest

from simulator.physics.embers import EmberBed, burn_heap
from simulator.physics.fuel import CHAR_AIR_KG_KG, CHAR_J_KG


def test_ember_bed_burns_with_the_air_that_reaches_it() -> None:
    """Twice the air burns twice the char; all its heat and carbon monoxide come from char spent."""
    one, two = (EmberBed(6.0, 15.0, char_kg=8.0) for _ in range(2))
    slow, fast = one.burn(0.1, 5.0), two.burn(0.2, 5.0)

    assert fast.char_kg == pytest.approx(2.0 * slow.char_kg)
    assert slow.heat_j + slow.gas.heat_j == pytest.approx(slow.char_kg * CHAR_J_KG)
    assert slow.air_kg + slow.gas.air_kg == pytest.approx(slow.char_kg * CHAR_AIR_KG_KG)
    assert one.char_kg == pytest.approx(8.0 - slow.char_kg)


def test_bed_cannot_burn_more_than_it_holds() -> None:
    """A gale through the last embers burns some of them."""
    bed = EmberBed(6.0, 15.0, char_kg=0.01)
    bed.burn(100.0, 60.0)

    assert 0.0 < bed.char_kg < 0.01


def test_deep_bed_chokes_and_raking_opens_it() -> None:
    """Over-fed, the grate closes and carbon monoxide rises; a raked bed breathes, then packs again."""
    shallow, deep = EmberBed(6.0, 15.0, char_kg=4.0), EmberBed(6.0, 15.0, char_kg=30.0)
    monoxide = [bed.burn(0.2, 5.0).gas.heat_j for bed in (shallow, deep)]
    choked = deep.openness
    deep.rake()
    raked = deep.openness
    for _ in range(240):
        deep.burn(0.0, 60.0)

    assert shallow.openness > 0.9
    assert choked < 0.2
    assert monoxide[1] > monoxide[0]
    assert raked > 0.5
    assert deep.openness == pytest.approx(choked, abs=0.01)


def test_heap_burns_by_its_air_and_never_more_than_it_holds() -> None:
    """Little air: in proportion to it; much air: no quicker than char burns; cold: not at all."""
    little, twice = (burn_heap(0.5, air_kg=a, glowing=1.0, step_s=5.0) for a in (0.05, 0.1))
    gale = burn_heap(0.5, air_kg=1e6, glowing=1.0, step_s=5.0)

    assert twice == pytest.approx(2.0 * little)
    assert little < gale < 0.5 * 5.0 / 300.0
    assert burn_heap(0.5, air_kg=0.1, glowing=0.0, step_s=5.0) == 0.0
    assert burn_heap(0.0, air_kg=0.1, glowing=1.0, step_s=5.0) == 0.0
