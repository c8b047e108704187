"""What an eye at the kiln sees, word by word."""

import pytest

from simulator.kiln import Kiln
from simulator.spec.kiln_file import load_kiln
from simulator.training.sight import embers_of, flame_at_flue, flame_at_spyhole, smoke_of

SPEC = load_kiln("demo")


@pytest.mark.parametrize(
    ("last", "spyhole", "flue"),
    [
        ("firebox", "none", "none"),
        ("front", "short", "none"),
        ("middle", "short", "none"),
        ("back", "long", "none"),
        ("flue", "long", "short"),
        ("chimney", "long", "long"),
    ],
)
def test_flame_shows_as_far_as_gas_burns(last: str, spyhole: str, flue: str) -> None:
    """From the firebox alone to out of the chimney."""
    end = SPEC.zone_index(last)

    assert (flame_at_spyhole(SPEC, end), flame_at_flue(SPEC, end)) == (spyhole, flue)


@pytest.mark.parametrize(
    ("unburnt_w", "air_kg_s", "word"),
    [(0.0, 0.05, "clear"), (4.0e3, 0.05, "clear"), (20.0e3, 0.05, "grey"), (80.0e3, 0.05, "dark"), (0.0, 0.0, "clear")],
)
def test_smoke_is_what_leaves_unburnt(unburnt_w: float, air_kg_s: float, word: str) -> None:
    """By the heat of unburnt fuel in a kilogram of air; without any draught there is none to see."""
    state = Kiln(SPEC, 15.0).state
    state.unburnt_w = unburnt_w
    state.air_kg_s[-1] = air_kg_s

    assert smoke_of(state) == word


def test_embers_have_four_depths() -> None:
    """Low, good, deep, choking in this order; choking where the bed's own depth says so."""
    state = Kiln(SPEC, 15.0).state
    deep_kg = state.bed.deep_kg
    words = []
    for share in (0.0, 0.4, 0.65, 0.75, 0.99, 1.0, 2.0):
        state.bed.char_kg = share * deep_kg
        words.append(embers_of(state))

    assert words == ["low", "good", "good", "deep", "deep", "choking", "choking"]
