"""Doors that stand open for seconds."""

import pytest

from simulator.crew.doors import Doors


def test_a_door_is_open_for_its_seconds_and_no_other_is() -> None:
    """Twelve seconds in steps of five: two whole ones and two fifths."""
    doors = Doors(3)
    doors.open(1, 2.0, 12.0)
    steps = [doors.shares(2.0 + n * 5.0 / 3600.0, 5.0) for n in range(4)]

    assert [s[1] for s in steps] == pytest.approx([1.0, 1.0, 0.4, 0.0], abs=1e-6)
    assert {s[zone] for s in steps for zone in (0, 2)} == {0.0}


def test_opening_an_open_door_for_less_does_not_shut_it() -> None:
    """A look into the door that stands open for raking."""
    doors = Doors(1)
    doors.open(0, 1.0, 20.0)
    doors.open(0, 1.0, 4.0)

    assert doors.shares(1.0, 30.0)[0] == pytest.approx(20.0 / 30.0)
