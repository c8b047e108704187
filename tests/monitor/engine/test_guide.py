"""Which sensor guides."""

from collections.abc import Callable

import numpy as np
import pytest

from monitor.engine.guide import choose_guide
from monitor.engine.limits import BRIDGE_BEATS
from monitor.engine.setup import EngineSetup

PLACES = ["firebox", "front", "middle", "back", "flue"]
LONG = BRIDGE_BEATS + 1


NONE = np.zeros((1, 5), bool)


@pytest.mark.parametrize(
    ("no_value", "no_climb", "blind", "guide"),
    [
        ([], [], [], "middle"),
        (["middle"], ["middle"], [], "front"),
        ([], [], ["middle"], "front"),
        ([], ["middle"], [], "front"),
        (["middle", "front"], ["middle", "front"], ["back"], "firebox"),
        ([], PLACES, [], "middle"),
        (["middle"], PLACES, [], "front"),
        (PLACES, PLACES, [], "middle"),
        (PLACES, PLACES, PLACES, "middle"),
    ],
)
def test_the_guide_is_the_best_that_can_be_trusted(
    make_setup: Callable[..., EngineSetup], no_value: list[str], no_climb: list[str], blind: list[str], guide: str
) -> None:
    """A climb counts more than a place, a temperature more than a climb; with nothing at all the agreed guide stays."""
    setup = make_setup(PLACES)
    silent, slow, ill = (np.isin(PLACES, names)[None, :] for names in (no_value, no_climb, blind))

    found = choose_guide(setup, np.where(silent, LONG, 0), np.where(slow, LONG, 0), blind=ill, doubtful=NONE)

    assert PLACES[found[0]] == guide


def test_a_short_gap_leaves_the_guide_in_place(make_setup: Callable[..., EngineSetup]) -> None:
    """Three minutes without a value hand nothing over."""
    setup = make_setup(PLACES)
    since = np.where(np.isin(PLACES, ["middle"])[None, :], BRIDGE_BEATS, 0)

    assert choose_guide(setup, since, since, blind=NONE, doubtful=NONE).tolist() == [2]


@pytest.mark.parametrize(
    ("doubtful", "blind", "guide"),
    [
        (["middle"], [], "front"),
        (["middle"], ["front"], "back"),
        (PLACES, [], "middle"),
        (["middle"], PLACES[:2], "back"),
    ],
)
def test_a_doubtful_sensor_guides_only_where_no_other_can(
    make_setup: Callable[..., EngineSetup], doubtful: list[str], blind: list[str], guide: str
) -> None:
    """Off by an unknown amount is better than nothing and nothing more."""
    zero = np.zeros((1, 5), np.int64)
    doubted, ill = (np.isin(PLACES, names)[None, :] for names in (doubtful, blind))

    found = choose_guide(make_setup(PLACES), zero, zero, blind=ill, doubtful=doubted)

    assert PLACES[found[0]] == guide


def test_a_kiln_of_flue_and_timber_has_no_guide(make_setup: Callable[..., EngineSetup]) -> None:
    """Where no sensor can guide, none does."""
    setup = make_setup(["flue", "timber"])
    zero = np.zeros((1, 2), np.int64)

    found = choose_guide(setup, zero, zero, blind=NONE[:, :2], doubtful=NONE[:, :2])

    assert found.tolist() == [-1]
