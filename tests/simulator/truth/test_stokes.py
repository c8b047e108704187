"""What counts as one stoke, worked by hand."""

import pytest

from simulator.crew.deeds import Deed, DeedKind
from simulator.truth.stokes import Door, true_stokes

FRONT, SIDE = DeedKind.FRONT_STOKE, DeedKind.SIDE_STOKE


def _deed(second: float, kind: DeedKind, zone: str = "firebox", amount: float = 1.0) -> Deed:
    return Deed(second / 3600.0, kind, zone, amount)


def _seconds(deeds: list[Deed]) -> list[tuple[Door, int]]:
    return [(s.door, round(s.hour * 3600.0)) for s in true_stokes(deeds)]


@pytest.mark.parametrize(
    ("charges_s", "stokes_s"),
    [
        ([0, 70], [0]),  # less than 75 s apart: one, at the first
        ([0, 75], [0, 75]),  # not less
        ([36_000, 36_075], [36_000, 36_075]),  # nor after the rounding of hours
        ([0, 60, 120], [0]),  # each less than 75 s after the one before
        ([0, 60, 140], [0, 140]),
    ],
)
def test_charges_close_together_are_one_stoke_at_the_first(charges_s: list[int], stokes_s: list[int]) -> None:
    """Both sides of 75 s."""
    assert _seconds([_deed(s, FRONT) for s in charges_s]) == [(Door.FRONT, s) for s in stokes_s]


def test_one_stoke_holds_the_wood_of_all_its_charges() -> None:
    """Two armfuls."""
    (stoke,) = true_stokes([_deed(0, FRONT, amount=2.0), _deed(30, FRONT, amount=1.5)])

    assert (stoke.wet_kg, stoke.charges, stoke.zone) == (3.5, 2, "firebox")


def test_front_and_side_are_stokes_of_their_own() -> None:
    """A side port charged half a minute after the front door is another stoke; two ports in a row are one."""
    deeds = [_deed(0, FRONT), _deed(30, SIDE, "front"), _deed(60, SIDE, "middle"), _deed(300, SIDE, "back")]

    assert _seconds(deeds) == [(Door.FRONT, 0), (Door.SIDE, 30), (Door.SIDE, 300)]
    assert [s.zone for s in true_stokes(deeds)] == ["firebox", "front", "back"]


@pytest.mark.parametrize("kind", [DeedKind.RAKE, DeedKind.DAMPER, DeedKind.INLETS])
def test_what_charges_no_wood_is_no_stoke(kind: DeedKind) -> None:
    """Raking with the door open is none, and it does not join two stokes."""
    assert _seconds([_deed(0, FRONT), _deed(50, kind), _deed(100, FRONT)]) == [(Door.FRONT, 0), (Door.FRONT, 100)]
