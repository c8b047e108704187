"""Stokes against looks through the door."""

import pytest

from monitor.engine.stoke_strength import Strength, learn_strength, new_strength, odds_against_look, refuse_look

DUE, NOT_DUE = -3.0, -6.5


@pytest.fixture
def even() -> Strength:
    """Return what is known of a crew whose stokes all show much alike."""
    strength = new_strength(1)
    for evidence in (40.0, 60.0, 50.0, 45.0, 55.0, 50.0, 42.0, 58.0):
        learn_strength(strength, 0, evidence)
    return strength


@pytest.mark.parametrize(
    ("evidence", "log_odds", "is_one"), [(12.0, NOT_DUE, True), (12.0, DUE, False), (60.0, NOT_DUE, False)]
)
def test_only_what_is_weak_and_not_due_is_a_look(
    even: Strength, evidence: float, log_odds: float, is_one: bool
) -> None:
    """Stokes of evidence 40 to 60: one of 12 is a look in between, and a stoke when one is due."""
    odds = odds_against_look(even, 0, evidence, log_odds)

    assert refuse_look(even, 0, odds, 1000.0) is is_one


def test_a_crew_of_uneven_charges_may_throw_a_small_one(even: Strength) -> None:
    """Where stokes range from evidence 5 to 100 a weak one at an odd time is less of a surprise."""
    uneven = new_strength(1)
    for evidence in (5.0, 100.0, 12.0, 60.0, 8.0, 30.0, 90.0, 6.0):
        learn_strength(uneven, 0, evidence)

    assert odds_against_look(uneven, 0, 6.0, -6.0) > odds_against_look(even, 0, 6.0, -6.0) + 3.0


def test_where_every_second_one_would_be_a_look_none_is(even: Strength) -> None:
    """Then the rhythm is twice as quick as it was taken for."""
    found = [refuse_look(even, 0, -5.0 if n % 2 else 5.0, 1000.0 + 300.0 * n) for n in range(20)]

    assert found[1]
    assert not any(found[12:])


def test_a_look_is_refused_as_a_whole_and_counts_once(even: Strength) -> None:
    """Its other slots, within 75 s, are no stoke either, and say nothing more of how often people look."""
    refuse_look(even, 0, -5.0, 1000.0)
    share = float(even.refused[0])

    assert refuse_look(even, 0, 9.0, 1040.0)
    assert float(even.refused[0]) == share
    assert not refuse_look(even, 0, 9.0, 1100.0)


def test_before_the_crew_is_known_nothing_is_called_a_look() -> None:
    """Fewer than six stokes say nothing."""
    assert odds_against_look(new_strength(1), 0, 5.0, NOT_DUE) == float("inf")
