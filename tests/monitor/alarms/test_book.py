"""The alarm book as a timeline: findings and conditions in, alarms and changes out."""

from dataclasses import replace
from importlib.resources import files
from typing import Any

import pytest

from monitor.alarms.book import AlarmBook
from monitor.alarms.records import Agreed, AlarmChange, Conditions, WatchedSensor
from monitor.alarms.state import Reason
from monitor.alarms.table import TABLE_FILE, TABLE_PACKAGE, AlarmTable, parse_table
from monitor.model import Finding, FindingKind, FindingState, SensorFault

TABLE = parse_table((files(TABLE_PACKAGE) / TABLE_FILE).read_text("utf-8"), TABLE_FILE)
SENSORS = (
    WatchedSensor("firebox", "shed-1", in_chamber=False),
    WatchedSensor("front", "shed-1", in_chamber=True),
    WatchedSensor("middle", "shed-1", in_chamber=True),
    WatchedSensor("back", "shed-2", in_chamber=True),
)
CLIMB = {"firebox": 700.0, "front": 620.0, "middle": 600.0, "back": 580.0}
HIGH = {name: c + 600.0 for name, c in CLIMB.items()}


def seen(**changes: Any) -> Conditions:
    """Return an undisturbed kiln in the climb, with `changes`."""
    calm: dict[str, Any] = {"guide": "middle", "celsius": CLIMB, "node_silence_s": {"shed-1": 0.5, "shed-2": 0.5}}
    return Conditions(**{**calm, **changes})


def told(kind: str, state: str, time: float, sensor: str | None, fault: str | None = None) -> Finding:
    """Return a finding known at `time`, its onset the same."""
    which = None if fault is None else SensorFault(fault)
    text = f"{fault or kind} at {sensor}"
    return Finding(time, FindingKind(kind), FindingState(state), sensor, time, None, None, text, which)


def book(table: AlarmTable = TABLE) -> AlarmBook:
    """Return an empty book of the demo kiln."""
    return AlarmBook(table, SENSORS)


def words(changes: list[AlarmChange]) -> list[tuple[str, str]]:
    """Return key and change word of each change."""
    return [(c.key, c.change.value) for c in changes]


FALL = told("fall", "begin", 0.0, "front")
FALL_END = told("fall", "end", 900.0, "front")


def test_a_fall_becomes_an_alarm_at_once() -> None:
    """A finding without further delay is active, unseen and sounds from its first step."""
    alarms = book()

    (change,) = alarms.step(10.0, [FALL], seen())
    assert (change.key, change.change, change.time, change.who) == ("fall", Reason.BEGAN, 10.0, None)
    assert alarms.alarms() == [change.alarm]
    assert (change.alarm.row, change.alarm.priority) == ("temperature-falling", 2)
    assert (change.alarm.active, change.alarm.acked) == (True, False)
    assert (change.alarm.since, change.alarm.sensor, change.alarm.text) == (10.0, "front", "fall at front")
    assert (alarms.sounding(), alarms.first_in_group()) == (2, "fall")


@pytest.mark.parametrize("kind", ["stoke", "reduction"])
def test_findings_that_ask_nobody_to_act_are_no_alarms(kind: str) -> None:
    """What the table has no row for is shown as a finding only."""
    alarms = book()

    assert alarms.step(0.0, [told(kind, "begin", 0.0, "front")], seen()) == []
    assert (alarms.alarms(), alarms.sounding(), alarms.first_in_group()) == ([], None, None)


def test_an_inferred_reduction_never_sounds() -> None:
    """A hint, however sure and in high fire, where reduction was never wanted: nothing is listed or sounds."""
    begin = replace(told("reduction", "begin", 0.0, None), confidence=0.97)
    end = told("reduction", "end", 7200.0, None)

    alarms = AlarmBook(TABLE, SENSORS, Agreed(reduction_c=()))
    for now, findings in ((0.0, [begin]), (3600.0, []), (7200.0, [end])):
        assert alarms.step(now, findings, seen(celsius=HIGH)) == []
        assert (alarms.alarms(), alarms.sounding(), alarms.first_in_group()) == ([], None, None)


def test_an_alarm_that_ended_unseen_stays_listed_and_silent() -> None:
    """Returned to normal is not forgotten: it waits to be seen, without sound."""
    alarms = book()
    alarms.step(0.0, [FALL], seen())

    assert words(alarms.step(900.0, [FALL_END], seen())) == [("fall", "ended-unseen")]
    (alarm,) = alarms.alarms()
    assert (alarm.active, alarm.acked, alarm.cleared) == (False, False, 900.0)
    assert alarms.sounding() is None
    assert alarms.acknowledge("fall", "Ana", 950.0).reason is Reason.ACKNOWLEDGED
    assert alarms.alarms() == []
    assert alarms.step(951.0, [], seen()) == []


def test_an_alarm_that_was_seen_ends_by_itself() -> None:
    """Seen and over is done."""
    alarms = book()
    alarms.step(0.0, [FALL], seen())
    alarms.acknowledge("fall", "Ana", 60.0)

    assert words(alarms.step(900.0, [FALL_END], seen())) == [("fall", "ended")]
    assert alarms.alarms() == []


def test_the_first_to_acknowledge_counts() -> None:
    """The second is told who was first and when, and changes nothing."""
    alarms = book()
    alarms.step(0.0, [FALL], seen())

    first = alarms.acknowledge("fall", "Ana", 60.0)
    second = alarms.acknowledge("fall", "Rui", 61.0)
    assert first.change is not None
    assert (first.change.change, first.change.who, first.change.time) == (Reason.ACKNOWLEDGED, "Ana", 60.0)
    assert (second.reason, second.change) == (Reason.ALREADY_ACKNOWLEDGED, None)
    assert second.alarm is not None
    assert (second.alarm.acked_by, second.alarm.acked_at) == ("Ana", 60.0)
    assert alarms.sounding() is None


def test_an_alarm_that_nobody_was_told_cannot_be_acknowledged() -> None:
    """An unknown, a waiting and a suppressed alarm answer alike."""
    alarms = book()
    alarms.step(0.0, [told("sensor", "begin", 0.0, "front", "open"), FALL], seen())

    for key in ("nonsense", "sensor:front", "fall"):
        answer = alarms.acknowledge(key, "Ana", 1.0)
        assert (answer.reason, answer.change, answer.alarm) == (Reason.NO_SUCH_ALARM, None, None)


def test_an_end_without_a_begin_is_nothing() -> None:
    """After a restart an end may come alone."""
    alarms = book()

    assert alarms.step(0.0, [FALL_END, told("sensor", "end", 0.0, "front", "open")], seen()) == []
    assert alarms.alarms() == []


def test_the_wired_button_acknowledges_what_sounds() -> None:
    """Seen goes to all that sound now, not to what ended unseen."""
    alarms = book()
    alarms.step(0.0, [FALL], seen())
    alarms.step(900.0, [FALL_END, told("stall", "begin", 900.0, "middle")], seen(store_error="disk full"))

    assert words(alarms.acknowledge_all("button", 901.0)) == [("store", "acknowledged"), ("stall", "acknowledged")]
    assert [a.key for a in alarms.alarms()] == ["fall", "store", "stall"]


def test_no_data_holds_an_alarm_and_says_so() -> None:
    """An end told while the sensor is silent clears nothing until its data are back."""
    alarms = book()
    alarms.step(0.0, [FALL], seen())

    blind = seen(no_data=frozenset({"front"}))
    assert words(alarms.step(100.0, [], blind)) == [("fall", "no-data")]
    assert alarms.step(900.0, [FALL_END], blind) == []
    assert (alarms.alarms()[0].no_data, alarms.sounding()) == (True, 2)
    assert words(alarms.step(1000.0, [], seen())) == [("fall", "ended-unseen")]
    assert not alarms.alarms()[0].no_data


def test_data_that_come_back_are_told() -> None:
    """A held alarm whose condition goes on loses its mark only."""
    alarms = book()
    alarms.step(0.0, [FALL], seen(no_data=frozenset({"front"})))

    assert alarms.alarms()[0].no_data
    assert words(alarms.step(10.0, [], seen())) == [("fall", "data-back")]


def test_a_lost_node_is_one_alarm() -> None:
    """All sensors of the node are missing: one alarm at 2 min, worse at 10 min, and silence about the sensors."""
    alarms = book()
    missing = [told("sensor", "begin", 20.0, s, "missing") for s in ("firebox", "front", "middle")]

    def lost(silence_s: float) -> Conditions:
        return seen(node_silence_s={"shed-1": silence_s, "shed-2": 0.5}, celsius={"back": 580.0})

    assert alarms.step(16.0, [], lost(16.0)) == []
    assert {c.change for c in alarms.step(20.0, missing, lost(20.0))} == {Reason.SUPPRESSED}
    assert [(a.key, a.suppressed_by) for a in alarms.suppressed()] == [
        ("sensor:firebox", "node:shed-1"), ("sensor:front", "node:shed-1"), ("sensor:middle", "node:shed-1"),
    ]  # fmt: skip
    assert alarms.step(119.0, [], lost(119.0)) == []
    assert words(alarms.step(120.0, [], lost(120.0))) == [("node:shed-1", "began")]
    assert [(a.key, a.priority) for a in alarms.alarms()] == [("node:shed-1", 2)]
    alarms.acknowledge("node:shed-1", "Ana", 130.0)
    assert alarms.sounding() is None
    assert words(alarms.step(600.0, [], lost(600.0))) == [("node:shed-1", "worse")]
    (alarm,) = alarms.alarms()
    assert (alarm.priority, alarm.acked, alarm.acked_by, alarms.sounding()) == (1, False, None, 1)


def test_sensors_of_a_node_that_returns_do_not_chatter() -> None:
    """Missing ends a little after the node is heard again, and nobody is told of it."""
    alarms = book()
    alarms.step(20.0, [told("sensor", "begin", 20.0, "front", "missing")], seen(node_silence_s={"shed-1": 20.0}))

    assert alarms.step(50.0, [], seen()) == []
    assert words(alarms.step(50.1, [told("sensor", "end", 45.0, "front", "missing")], seen())) == [
        ("sensor:front", "unsuppressed")
    ]
    assert (alarms.alarms(), alarms.suppressed()) == ([], [])


def test_a_sensor_that_stays_missing_after_its_node_returned_alarms() -> None:
    """What the node does not explain any more is the sensor's own, 10 s later."""
    alarms = book()
    alarms.step(20.0, [told("sensor", "begin", 20.0, "front", "missing")], seen(node_silence_s={"shed-1": 20.0}))

    assert words(alarms.step(51.0, [], seen())) == [("sensor:front", "unsuppressed")]
    assert alarms.step(59.9, [], seen()) == []
    assert words(alarms.step(60.0, [], seen())) == [("sensor:front", "began")]


def test_in_a_demo_faster_than_life_a_silent_node_still_explains_its_sensors() -> None:
    """Missing falls due in record time, silence counts host seconds: speed brings them together."""
    alarms = book()
    quiet = seen(node_silence_s={"shed-1": 0.5}, speed=60.0)
    alarms.step(60.0, [told("sensor", "begin", 60.0, "front", "missing")], quiet)

    assert alarms.step(90.0, [], quiet) == []
    assert [a.key for a in alarms.suppressed()] == ["sensor:front"]


def test_a_sensor_alone_that_goes_missing_alarms_after_ten_seconds() -> None:
    """Its node speaks on: the sensor itself has failed; the guide is worse."""
    alarms = book()
    alarms.step(0.0, [told("sensor", "begin", 0.0, s, "missing") for s in ("front", "middle")], seen())

    assert words(alarms.step(10.0, [], seen())) == [("sensor:front", "began"), ("sensor:middle", "began")]
    assert [(a.key, a.priority) for a in alarms.alarms()] == [("sensor:middle", 1), ("sensor:front", 2)]


def test_a_failed_sensor_suppresses_its_own_fall_only() -> None:
    """A fall shown by a sensor that is open is that sensor's; another sensor's stall is not."""
    alarms = book()
    broken = told("sensor", "begin", 0.0, "front", "open")

    changes = alarms.step(5.0, [broken, FALL, told("stall", "begin", 5.0, "middle")], seen())
    assert words(changes) == [("fall", "suppressed"), ("stall", "began")]
    assert alarms.suppressed()[0].suppressed_by == "sensor:front"
    assert words(alarms.step(6.0, [told("sensor", "end", 6.0, "front", "open")], seen())) == [("fall", "began")]


def test_a_doubtful_sensor_suppresses_nothing() -> None:
    """A number that is a little off still shows a fall."""
    alarms = book()
    off = told("sensor", "begin", 0.0, "front", "drift")

    assert words(alarms.step(15.0, [off, FALL], seen())) == [("sensor-uncertain:front", "began"), ("fall", "began")]


def test_a_fall_that_was_announced_is_not_taken_back_by_a_failing_sensor() -> None:
    """What a person was told goes on to sound until seen."""
    alarms = book()
    alarms.step(0.0, [FALL], seen())
    alarms.step(50.0, [told("sensor", "begin", 20.0, "front", "open")], seen(no_data=frozenset({"front"})))

    assert {a.key for a in alarms.alarms()} == {"fall", "sensor:front"}
    assert alarms.sounding() == 2


def test_a_second_fault_of_a_sensor_is_told_in_the_same_alarm() -> None:
    """One sensor, one alarm: only its words change."""
    alarms = book()
    alarms.step(10.0, [told("sensor", "begin", 0.0, "front", "open")], seen())

    changes = alarms.step(20.0, [told("sensor", "begin", 20.0, "front", "frozen")], seen())
    assert words(changes) == [("sensor:front", "renamed")]
    assert changes[0].alarm.text == "frozen at front"


def test_a_fall_that_goes_on_elsewhere_is_told_there() -> None:
    """The fall at the front ends and one at the back begins in the same step: one alarm that now speaks of the back."""
    alarms = book()
    alarms.step(0.0, [FALL], seen())

    elsewhere = [FALL_END, told("fall", "begin", 900.0, "back")]
    (renamed, blind) = alarms.step(900.0, elsewhere, seen(no_data=frozenset({"back"})))
    assert (renamed.change, renamed.alarm.sensor, renamed.alarm.text) == (Reason.RENAMED, "back", "fall at back")
    assert (blind.change, blind.alarm.no_data) == (Reason.NO_DATA, True)


@pytest.mark.parametrize(("celsius", "priority"), [(CLIMB, 2), (HIGH, 1)])
def test_a_fall_is_urgent_in_high_fire(celsius: dict[str, float], priority: int) -> None:
    """The same fall is priority 2 in the climb and 1 in high fire."""
    alarms = book()
    alarms.step(0.0, [FALL], seen(celsius=celsius))

    assert alarms.sounding() == priority


def test_an_alarm_grows_worse_but_not_milder() -> None:
    """Crossing into high fire sounds again what was seen; falling back below changes nothing."""
    alarms = book()
    alarms.step(0.0, [FALL], seen())
    alarms.acknowledge("fall", "Ana", 5.0)

    assert words(alarms.step(10.0, [], seen(celsius=HIGH))) == [("fall", "worse")]
    assert alarms.step(20.0, [], seen()) == []
    assert alarms.sounding() == 1


def test_an_alarm_that_returns_unseen_keeps_its_urgency() -> None:
    """What was urgent and not yet seen is still urgent when it begins again; once seen it is judged anew."""
    alarms = book()
    alarms.step(0.0, [FALL], seen(celsius=HIGH))
    alarms.step(900.0, [FALL_END], seen())

    alarms.step(950.0, [FALL], seen())
    assert alarms.sounding() == 1
    alarms.step(960.0, [FALL_END], seen())
    alarms.acknowledge("fall", "Ana", 961.0)
    alarms.step(970.0, [FALL], seen())
    assert alarms.sounding() == 2


def test_a_store_that_fails_alarms_and_ends_a_minute_after() -> None:
    """A full disk is told in its own words; a store that flickers does not chatter."""
    alarms = book()
    full = seen(store_error="no space left on the disk")

    (began,) = alarms.step(0.0, [], full)
    assert (began.key, began.alarm.text) == ("store", "Scans cannot be stored: no space left on the disk")
    assert alarms.step(10.0, [], seen()) == []
    assert alarms.step(20.0, [], full) == []
    assert alarms.step(30.0, [], seen()) == []
    assert words(alarms.step(90.0, [], seen())) == [("store", "ended-unseen")]


def test_the_first_alarm_of_a_group_is_known() -> None:
    """When several are active, the one that began first is marked, also when a worse one follows."""
    alarms = book()
    alarms.step(0.0, [told("stall", "begin", 0.0, "middle")], seen())
    alarms.step(10.0, [FALL], seen(celsius=HIGH))

    assert [a.key for a in alarms.alarms()] == ["fall", "stall"]
    assert alarms.first_in_group() == "stall"


def test_a_row_that_latches_sounds_until_seen() -> None:
    """Where the table says so, the end of the condition does not end the sound."""
    latching = TABLE.row[0].model_copy(update={"latching": True})
    alarms = book(TABLE.model_copy(update={"row": (latching, *TABLE.row[1:])}))
    alarms.step(0.0, [FALL], seen())

    assert words(alarms.step(900.0, [FALL_END], seen(no_data=frozenset({"front"})))) == [("fall", "no-data")]
    assert words(alarms.step(901.0, [], seen())) == [("fall", "latched")]
    assert alarms.sounding() == 2
    assert alarms.step(902.0, [], seen(no_data=frozenset({"front"}))) == []
    alarms.acknowledge("fall", "Ana", 910.0)
    assert (alarms.sounding(), alarms.alarms()) == (None, [])


def test_a_second_row_on_sensors_has_its_own_key() -> None:
    """A doubtful and a failed sensor are two alarms that do not meet."""
    doubt = TABLE.row[2].model_copy(update={"id": "sensor-uncertain", "faults": (SensorFault.DRIFT,), "worse": None})
    alarms = book(TABLE.model_copy(update={"row": (*TABLE.row, doubt)}))
    both = [told("sensor", "begin", 0.0, "front", fault) for fault in ("drift", "open")]

    assert [c.key for c in alarms.step(10.0, both, seen())] == ["sensor-uncertain:front", "sensor:front"]


def test_a_clock_set_back_neither_makes_nor_clears_an_alarm() -> None:
    """A delay that ran begins anew; what is active stays."""
    alarms = book()
    alarms.step(5000.0, [told("sensor", "begin", 5000.0, "front", "open"), FALL], seen(node_silence_s={"shed-2": 50}))
    alarms.acknowledge_all("Ana", 5000.0)

    assert alarms.step(100.0, [], seen()) == []
    assert alarms.step(109.9, [], seen()) == []
    assert words(alarms.step(110.0, [], seen())) == [("sensor:front", "began")]


def test_a_restart_keeps_everything() -> None:
    """A saved and restored book has the same alarms and goes on in the same way."""
    alarms = book()
    silent = seen(node_silence_s={"shed-1": 0.5, "shed-2": 50.0})
    alarms.step(
        0.0, [FALL, told("sensor", "begin", 0.0, "middle", "open"), told("stall", "begin", 0.0, "back")], silent
    )
    alarms.step(20.0, [told("sensor", "begin", 20.0, "back", "missing")], silent)
    alarms.acknowledge("fall", "Ana", 30.0)

    again = AlarmBook.restore(TABLE, SENSORS, alarms.save())
    assert (again.alarms(), again.suppressed(), again.sounding()) == (alarms.alarms(), alarms.suppressed(), 1)
    assert again.first_in_group() == alarms.first_in_group()
    assert again.left_out == ()
    for now in (40.0, 81.0, 95.0, 400.0):
        assert again.step(now, [], seen()) == alarms.step(now, [], seen())
    assert again.save() == alarms.save()


def test_alarms_whose_row_is_gone_are_named() -> None:
    """A table that lost a row does not lose its alarm without a word."""
    alarms = book()
    alarms.step(0.0, [FALL, told("stall", "begin", 0.0, "middle")], seen())
    shorter = TABLE.model_copy(update={"row": TABLE.row[1:]})

    again = AlarmBook.restore(shorter, SENSORS, alarms.save())
    assert ([a.key for a in again.alarms()], again.left_out) == (["stall"], ("fall",))


@pytest.mark.parametrize(
    ("saved", "said"),
    [
        (b"", "cannot be read"),
        (b'{"version":1}', "cannot be read"),
        (b'{"version":3,"entries":[],"silent_at":{},"order":0}', "version 3; this program reads 2"),
    ],
)
def test_a_book_that_cannot_be_read_is_refused(saved: bytes, said: str) -> None:
    """Damaged or foreign state is told, not guessed at."""
    with pytest.raises(ValueError, match=said):
        AlarmBook.restore(TABLE, SENSORS, saved)
