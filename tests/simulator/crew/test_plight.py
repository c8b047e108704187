"""What a crew is up against."""

import pytest

from simulator.crew.plight import Plight
from simulator.script.mishaps import Mishap
from simulator.script.spells import Spell

PLIGHT = Plight((Spell(Mishap.AJAR, 2.0, 1.0, size=0.4), Spell(Mishap.DRIFT, 10.0, 4.0, size=2.0)))


@pytest.mark.parametrize(("hour", "share"), [(1.9, 0.0), (2.0, 0.4), (2.9, 0.4), (3.0, 0.0)])
def test_spell_counts_while_it_is_on(hour: float, share: float) -> None:
    """Its size inside, what was asked for outside."""
    assert PLIGHT.size(Mishap.AJAR, hour, 0.0) == share
    assert PLIGHT.has(Mishap.AJAR, hour) == (share > 0.0)


def test_other_kinds_are_not_meant() -> None:
    """A door ajar is no doze."""
    assert not PLIGHT.has(Mishap.DOZE, 2.5)
    assert PLIGHT.spell(Mishap.DOZE, 2.5) is None


@pytest.mark.parametrize(("hour", "slow"), [(9.9, 1.0), (10.0, 1.0), (12.0, 1.5), (13.0, 1.75), (14.0, 1.0)])
def test_drift_grows_evenly_to_its_size(hour: float, slow: float) -> None:
    """Half grown half way."""
    assert PLIGHT.slowness(hour) == pytest.approx(slow)


def test_late_and_drift_multiply() -> None:
    """A late watch that gets later."""
    both = Plight((Spell(Mishap.LATE, 0.0, 4.0, size=1.5), Spell(Mishap.DRIFT, 0.0, 4.0, size=2.0)))

    assert both.slowness(2.0) == pytest.approx(1.5 * 1.5)
