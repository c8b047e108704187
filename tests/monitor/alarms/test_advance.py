"""What time does to an alarm: escalation, reminding, what was put off; and the journal's line of it."""

import pytest

from monitor.alarms.book import AlarmBook
from monitor.alarms.records import Host
from monitor.alarms.state import Reason
from monitor.model import Finding, FindingKind, FindingState
from tests.monitor.alarms.kiln import AGREED, HIGH, NOW, SENSORS, TABLE, seen

FALL = Finding(NOW, FindingKind.FALL, FindingState.BEGIN, "front", NOW, None, None, "fell")
FALL_END = Finding(NOW, FindingKind.FALL, FindingState.END, "front", NOW, None, None, "fell")


def book() -> AlarmBook:
    """Return an empty book."""
    return AlarmBook(TABLE, SENSORS, AGREED)


def changes(alarms: AlarmBook, now: float, *findings: Finding, **present: object) -> list[tuple[str, int]]:
    """Step at `now`, in high fire, and return change words with the level of escalation."""
    told = alarms.step(now, findings, seen(celsius=HIGH, last_sign=now, last_stoke=now, **present))
    return [(c.change.value, c.alarm.escalation) for c in told]


def test_an_unseen_urgent_alarm_is_carried_on_after_one_and_three_minutes() -> None:
    """At once, then louder and to the house, then to the next person; each step once."""
    alarms = book()
    told = {
        at: changes(alarms, NOW + at, *([FALL] if at == 0.0 else [])) for at in (0.0, 59.0, 60.0, 179.0, 180.0, 999.0)
    }

    assert told == {
        0.0: [("began", 0)], 59.0: [], 60.0: [("escalated", 1)], 179.0: [], 180.0: [("escalated", 2)], 999.0: [],
    }  # fmt: skip
    assert alarms.acknowledge("fall", "Ana", NOW + 1000.0).alarm.escalation == 0  # type: ignore[union-attr]


def test_a_milder_alarm_is_not_carried_on() -> None:
    """Priority 2 waits for whoever is on watch."""
    alarms = book()
    alarms.step(NOW, [FALL], seen())

    assert alarms.step(NOW + 500.0, [], seen(last_sign=NOW + 500.0, last_stoke=NOW + 500.0)) == []


def test_a_kiln_faster_than_life_is_carried_on_by_the_seconds_of_people() -> None:
    """At 60 times the speed an hour of the kiln is a minute of the watch."""
    alarms = book()
    changes(alarms, NOW, FALL, speed=60.0)

    assert changes(alarms, NOW + 3599.0, speed=60.0) == []
    assert changes(alarms, NOW + 3600.0, speed=60.0) == [("escalated", 1)]


def test_one_press_for_all_is_reminded_of_what_is_not_better() -> None:
    """It sounds again after its time to act (10 min), and is carried on anew; one that was seen by name is not."""
    alarms, by_name = book(), book()
    for each in (alarms, by_name):
        changes(each, NOW, FALL)
    alarms.acknowledge_all("the button", NOW + 10.0)
    by_name.acknowledge("fall", "Ana", NOW + 10.0)

    assert (alarms.sounding(), by_name.sounding()) == (None, None)
    assert changes(alarms, NOW + 609.0) == []
    assert changes(alarms, NOW + 610.0) == [("reminded", 0)]
    assert alarms.sounding() == 1
    assert changes(alarms, NOW + 670.0) == [("escalated", 1)]
    assert changes(by_name, NOW + 5000.0) == []


def test_what_was_put_off_comes_back_when_its_time_is_over() -> None:
    """Silent and listed meanwhile, with who and why; then it sounds if it still holds."""
    alarms = book()
    changes(alarms, NOW, FALL)
    answer = alarms.shelve("fall", "the ports are open on purpose", "Ana", NOW + 5.0, for_s=600.0)

    assert answer.reason is Reason.SHELVED
    assert (alarms.sounding(), len(alarms.alarms())) == (None, 1)
    (alarm,) = alarms.alarms()
    assert (alarm.shelved_until, alarm.shelved_by, alarm.active) == (NOW + 605.0, "Ana", True)
    assert changes(alarms, NOW + 604.0) == []
    assert changes(alarms, NOW + 605.0) == [("unshelved", 0)]
    assert alarms.sounding() == 1


def test_what_is_over_when_its_time_is_over_is_done() -> None:
    """Whoever put it off knew of it: nobody is asked again."""
    alarms = book()
    changes(alarms, NOW, FALL)
    alarms.shelve("fall", "x", "Ana", NOW, for_s=600.0)

    assert changes(alarms, NOW + 100.0, FALL_END) == [("over", 0)]
    assert changes(alarms, NOW + 200.0, FALL) == [("back", 0)]
    assert changes(alarms, NOW + 300.0, FALL_END) == [("over", 0)]
    assert [a.active for a in alarms.alarms()] == [False]
    assert changes(alarms, NOW + 600.0) == [("ended", 0)]
    assert alarms.alarms() == []


def test_what_grows_worse_is_no_longer_put_off() -> None:
    """A fall put off in the climb sounds again in high fire."""
    alarms = book()
    alarms.step(NOW, [FALL], seen())
    alarms.shelve("fall", "x", "Ana", NOW, for_s=3600.0)

    assert changes(alarms, NOW + 10.0) == [("worse", 0)]
    assert alarms.sounding() == 1


def test_a_clock_that_is_set_back_puts_nothing_off_for_longer() -> None:
    """However the clock moves, no more than the time that was asked for remains."""
    alarms = book()
    changes(alarms, NOW, FALL)
    alarms.shelve("fall", "x", "Ana", NOW, for_s=600.0)

    assert changes(alarms, NOW - 7200.0) == [("shelved", 0)]
    assert changes(alarms, NOW - 7200.0 + 600.0) == [("unshelved", 0)]


@pytest.mark.parametrize(
    ("key", "for_s", "reason"),
    [
        ("fall", 901.0, Reason.TOO_LONG),  # priority 1: at most 15 min
        ("listening", 60.0, Reason.NEVER_SHELVED),
        ("nonsense", 60.0, Reason.NO_SUCH_ALARM),
    ],
)
def test_what_may_not_be_put_off_says_why(key: str, for_s: float, reason: Reason) -> None:
    """Nothing changes, and the reason is told."""
    alarms = book()
    for at in (0.0, 121.0):
        changes(alarms, NOW + at, FALL, host=Host(panels_with_sound=0))
    before = alarms.alarms()

    assert alarms.shelve(key, "x", "Ana", NOW + 122.0, for_s=for_s).reason is reason
    assert alarms.alarms() == before


def test_taking_back_sounds_at_once() -> None:
    """Who takes it back wants to hear of it."""
    alarms = book()
    changes(alarms, NOW, FALL)
    alarms.shelve("fall", "x", "Ana", NOW, for_s=600.0)

    assert alarms.unshelve("fall", "Rui", NOW + 1.0).reason is Reason.UNSHELVED
    assert alarms.sounding() == 1
    assert alarms.unshelve("fall", "Rui", NOW + 2.0).reason is Reason.NO_SUCH_ALARM


def test_an_alarm_that_ends_by_somebodys_doing_need_not_be_seen() -> None:
    """A panel with sound is back: nobody has to say so once more."""
    alarms = book()
    for at in (0.0, 121.0):
        changes(alarms, NOW + at, host=Host(panels_with_sound=0))

    assert alarms.sounding() == 1
    assert changes(alarms, NOW + 125.0) == [("ended", 0)]
    assert alarms.alarms() == []


def test_silence_is_journalled_for_what_sounded() -> None:
    """With who; the alarm itself is as it was."""
    alarms = book()
    changes(alarms, NOW, FALL)
    (line,) = alarms.silenced("Ana", NOW + 3.0)

    assert (line.key, line.change, line.who, line.time) == ("fall", Reason.SILENCED, "Ana", NOW + 3.0)
    assert line.alarm == alarms.alarms()[0]
