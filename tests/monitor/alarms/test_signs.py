"""All signs of one moment together."""

from monitor.alarms.signs import signs_of
from tests.monitor.alarms.kiln import never, sight


def test_each_condition_and_subject_has_one_sign() -> None:
    """Two would overwrite one another."""
    keys = [(s.condition, s.subject) for s in signs_of(sight(), never)]

    assert len(keys) == len(set(keys)) > 15


def test_a_calm_kiln_shows_none() -> None:
    """Everything is known and nothing is there."""
    assert {s.present for s in signs_of(sight(), never)} == {False}
