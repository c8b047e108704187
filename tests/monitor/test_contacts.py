"""Switches at doors: a stoke begins when a door opens, whatever the order in which that became known."""

import random

import pytest

from monitor.contacts import Contacts, Opened
from monitor.model import Reading, Scan
from monitor.site_file import ContactPart

FRONT = ContactPart(input="shed-1/d1", door="front")
SIDE = ContactPart(input="shed-1/d2", door="side", open=False)


def _scan(time: float, d1: bool | None = None, d2: bool | None = None) -> Scan:
    told = (("shed-1/d1", d1), ("shed-1/d2", d2))
    return Scan("shed-1", time, tuple(Reading(name, contact=c) for name, c in told if c is not None))


def _opened(scans: list[Scan], before: float = 1e9) -> list[Opened]:
    contacts = Contacts((FRONT, SIDE))
    for scan in scans:
        contacts.hold(scan)
    return contacts.opened(before)


def test_a_door_that_opens_is_told_once_at_its_moment() -> None:
    """Shut, open for three minutes, shut, open again."""
    scans = [_scan(60.0 * t, d1) for t, d1 in enumerate([False, True, True, True, False, False, True])]

    assert _opened(scans) == [Opened(60.0, "front"), Opened(360.0, "front")]


def test_charges_less_than_75_s_apart_are_one_stoke_at_the_first() -> None:
    """Opened at 10, 80, 150 s: one; at 225 s, 75 s after the last, another. Front and side do not join."""
    times = (10.0, 80.0, 150.0, 225.0)
    scans = [_scan(at + by, is_open) for at in times for by, is_open in ((-5.0, False), (0.0, True))]
    scans += [_scan(8.0, None, True), _scan(12.0, None, False)]

    assert _opened(scans) == [Opened(10.0, "front"), Opened(12.0, "side"), Opened(225.0, "front")]


def test_a_door_that_stands_open_when_first_heard_tells_nothing() -> None:
    """Nobody knows when it was opened."""
    assert _opened([_scan(0.0, True), _scan(1.0, True)]) == []


def test_each_switch_says_open_in_its_own_way() -> None:
    """The side's switch is closed (true) while the port is shut."""
    assert _opened([_scan(0.0, False, True), _scan(1.0, False, False)]) == [Opened(1.0, "side")]


def test_what_a_scan_does_not_tell_changes_nothing() -> None:
    """A missing word is no closing; another input is no contact."""
    other = Scan("shed-1", 2.0, (Reading("shed-1/d9", contact=True), Reading("shed-1/t1", emf_volts=0.01)))

    assert _opened([_scan(0.0, False), _scan(1.0, True), other, _scan(3.0), _scan(4.0, True)]) == [Opened(1.0, "front")]


def test_order_of_arrival_and_blocks_change_nothing() -> None:
    """The same readings shuffled within the wait, asked for in one go and slot by slot, across restarts."""
    dice = random.Random(4)
    scans = [_scan(40.0 * t, dice.random() < 0.2, dice.random() < 0.8) for t in range(400)]
    whole = _opened(scans)
    contacts, told = Contacts((FRONT, SIDE)), []
    for begin in range(0, 400, 10):
        for scan in dice.sample(scans[begin : begin + 10], 10):
            contacts.hold(scan)
        for before in (40.0 * (begin + 5), 40.0 * (begin + 10)):
            told += contacts.opened(before)
            saved = contacts.save()
            contacts = Contacts((FRONT, SIDE))
            contacts.restore(saved)

    assert len(whole) > 50
    assert told == whole


def test_a_state_of_another_site_or_damaged_is_refused() -> None:
    """The service then begins anew and says so."""
    contacts = Contacts((FRONT, SIDE))
    contacts.hold(_scan(0.0, True, True))

    with pytest.raises(ValueError, match="another site file"):
        Contacts((FRONT,)).restore(contacts.save())
    with pytest.raises(ValueError, match="cannot be read"):
        contacts.restore(b"\xff")
