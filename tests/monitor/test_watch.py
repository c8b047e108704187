"""What people do and what the engine sees, brought together for alarms and prompts."""

from dataclasses import replace

import pytest

from monitor.alarms.records import Host
from monitor.model import Entry, EntryKind, Finding, FindingKind, FindingState
from monitor.site_file import Site, parse_site
from monitor.watch import LinkState, Seen, Watch, agreed_of, watched_sensors
from tests.made_up import BEGIN, SITE_TEXT, tables

PEOPLE = """
[agreed]
stoke_every = [[300, 20]]
[crew]
changes = ["16:30"]
"""
SEEN = Seen("middle", dict.fromkeys(("firebox", "middle", "back"), 900.0), frozenset(), {}, is_closed_up=False)
HEARD = LinkState(host=Host(panels_with_sound=1))


def site(more: str = PEOPLE) -> Site:
    """Return the made-up kiln, whose people agreed on something; 16:00 UTC is `BEGIN`."""
    return parse_site(SITE_TEXT + more, "kiln.toml")


def watch() -> Watch:
    """Return a watch that has seen one moment."""
    kept = Watch(site(), tables())
    kept.step(BEGIN, [], SEEN, HEARD)
    return kept


def alarms_at(kept: Watch, after_s: float) -> set[str]:
    """Return the keys of what people must be shown `after_s` after the begin, looked at every 10 s from 600 s on."""
    for at in range(600, int(after_s) + 1, 10):
        kept.between(BEGIN + at, HEARD)
    return {alarm.key for alarm in kept.alarms()}


def stoke(at: float) -> Finding:
    """Return a stoke that the engine tells of."""
    return Finding(at, FindingKind.STOKE, FindingState.EVENT, "firebox", at, None, None, "stoke", door="front")


@pytest.mark.parametrize("way", ["finding", "entry", "door"])
def test_a_stoke_counts_whoever_tells_it(way: str) -> None:
    """A late one is told of after twice the agreed 20 min, from the newest stoke by any of three ways."""
    kept = watch()
    kept.step(BEGIN, [stoke(BEGIN)], SEEN, HEARD)
    later = BEGIN + 1800.0
    if way == "finding":
        kept.step(later, [stoke(later)], SEEN, HEARD)
    elif way == "entry":
        kept.take_entry(Entry("a", later, later, EntryKind.STOKED, "front", "Ana"))
    else:
        kept.take_opened(later, "front")

    assert "stoke-overdue" not in {a.key for a in kept.alarms()}
    assert "stoke-overdue" not in [c.key for c in kept.between(later + 2400.0, HEARD)]
    assert "stoke-overdue" in [c.key for c in kept.between(later + 2401.0, HEARD)]


def test_whatever_people_do_shows_that_they_are_there() -> None:
    """Nothing for 45 minutes and five more wakes the others; a button, a tap or a silence in time does not."""
    assert "sign-of-life" in alarms_at(watch(), 3010.0)
    for act in (
        lambda kept: kept.take_entry(Entry("a", BEGIN + 600.0, BEGIN + 600.0, EntryKind.PRESENT)),
        lambda kept: kept.take_opened(BEGIN + 600.0, "present"),
        lambda kept: kept.silenced("Ana", BEGIN + 600.0),
        lambda kept: kept.acknowledge("nothing", "Ana", BEGIN + 600.0),
    ):
        kept = watch()
        act(kept)
        assert "sign-of-life" not in alarms_at(kept, 3010.0)


def test_the_wired_button_has_seen_all_that_sounds() -> None:
    """What it changed is returned for the journal."""
    kept = watch()
    kept.between(BEGIN + 5.0, replace(HEARD, store_error="the disk is full"))

    assert [(c.key, c.who) for c in kept.take_opened(BEGIN + 6.0, "seen")] == [("store", "the button")]
    assert kept.sounding() is None


def test_a_handover_is_asked_for_and_then_alarmed() -> None:
    """At 16:30 by the rota; a quarter of an hour after with nobody's tick it is overdue."""
    kept = watch()
    kept.between(BEGIN + 1799.0, HEARD)
    assert "handover" not in {p.key for p in kept.prompts()}
    kept.between(BEGIN + 1800.0, HEARD)
    assert "handover" in {p.key for p in kept.prompts()}
    kept.between(BEGIN + 1810.0, HEARD)
    told = [c.key for c in kept.between(BEGIN + 2711.0, HEARD)]
    assert "handover" in told
    kept.take_entry(Entry("a", BEGIN + 2720.0, BEGIN + 2720.0, EntryKind.TICKED, None, "Rui", "handover/drink"))
    kept.between(BEGIN + 2725.0, HEARD)
    assert "handover" not in {alarm.key for alarm in kept.alarms()}


def test_a_saved_watch_goes_on() -> None:
    """Alarms, prompts and memory; damaged ones are refused."""
    kept = watch()
    kept.step(BEGIN + 10.0, [stoke(BEGIN + 8.0)], SEEN, replace(HEARD, store_error="the disk is full"))
    again = Watch(site(), tables())
    again.restore(kept.save())

    assert (again.alarms(), again.prompts(), again.save()) == (kept.alarms(), kept.prompts(), kept.save())
    with pytest.raises(ValueError, match="saved watch cannot be read"):
        again.restore(b"nonsense")


def test_a_clock_that_is_set_back_forgets_no_stoke() -> None:
    """What was told for later than now counts as told now."""
    kept = watch()
    kept.step(BEGIN + 7200.0, [stoke(BEGIN + 7200.0)], SEEN, HEARD)
    kept.between(BEGIN, HEARD)

    assert "stoke-overdue" not in [c.key for c in kept.between(BEGIN + 2400.0, HEARD)]
    assert "stoke-overdue" in [c.key for c in kept.between(BEGIN + 2401.0, HEARD)]


def test_a_new_firing_begins_without_the_old_ones_alarms() -> None:
    """And without its prompts."""
    kept = watch()
    kept.between(BEGIN + 5.0, replace(HEARD, store_error="the disk is full"))
    kept.begin_firing()

    assert (kept.alarms(), kept.prompts(), kept.first_in_group()) == ([], [], None)


def test_the_site_file_says_what_is_watched() -> None:
    """Nothing said: raw ware, no spread, no intervals, no reduction; an oxygen probe is no sensor of the chamber."""
    plain = agreed_of(site(""))
    probe = '[[sensor]]\nid = "lambda"\ninput = "shed-1/t9"\ntype = "zirconia"\nplace = "middle"\n'

    assert (plain.is_raw, plain.spread_c, plain.interval_s, plain.reduction_c) == (True, None, None, None)
    assert agreed_of(site()).interval_s == ((300.0, 1200.0),)
    assert {s.id: s.in_chamber for s in watched_sensors(site(probe))}["lambda"] is False
