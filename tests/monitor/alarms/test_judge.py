"""Single judgements: there or not, judged or blind, explained or not, worse or not."""

from importlib.resources import files
from typing import Any

import pytest

from monitor.alarms.entry import Entry, OpenCause
from monitor.alarms.judge import Judgement, Scene, is_silent, judge, next_event, priority_now
from monitor.alarms.records import Conditions, WatchedSensor
from monitor.alarms.state import Event, State
from monitor.alarms.table import TABLE_FILE, TABLE_PACKAGE, AlarmRow, parse_table

TABLE = parse_table((files(TABLE_PACKAGE) / TABLE_FILE).read_text("utf-8"), TABLE_FILE)
ROWS = {row.id: row for row in TABLE.row}
FALL, STALL, SENSOR = ROWS["temperature-falling"], ROWS["stall"], ROWS["sensor-failed"]
NODE, STORE = ROWS["node-lost"], ROWS["store-failing"]
SENSORS = {
    "firebox": WatchedSensor("firebox", "shed-1", in_chamber=False),
    "front": WatchedSensor("front", "shed-1", in_chamber=True),
    "middle": WatchedSensor("middle", "shed-2", in_chamber=True),
}


def scene(
    now: float = 1000.0, failed: tuple[str, ...] = (), silent_at: dict[str, float] | None = None, **c: Any
) -> Scene:
    """Return a scene at `now` with the conditions `c`."""
    return Scene(now, Conditions(**c), TABLE.settings, SENSORS, frozenset(failed), silent_at or {})


def entry(row: AlarmRow, subject: str | None = None, state: State = State.NORMAL, **causes: OpenCause) -> Entry:
    """Return an entry with open `causes` by fault; `only` stands for the one without a fault."""
    causes = {name.replace("_", "-").replace("only", ""): cause for name, cause in causes.items()}
    return Entry(key="k", row=row.id, subject=subject, priority=row.priority, state=state, open=causes)


def present(lasted_s: float = 0.0, sensor: str | None = None, by: str | None = None) -> Judgement:
    """Return the judgement of a condition that holds."""
    return Judgement(present=True, blind=False, lasted_s=lasted_s, suppressed_by=by, text="", sensor=sensor)


GONE = Judgement(present=False, blind=False, lasted_s=0.0, suppressed_by=None, text=None, sensor=None)
BLIND = Judgement(present=False, blind=True, lasted_s=0.0, suppressed_by=None, text=None, sensor=None)
FELL = OpenCause(900.0, "fell", "front")


def test_an_open_fall_is_present_with_its_words() -> None:
    """A fall that began and has not ended is there, and is told in the finding's words."""
    judged = judge(entry(FALL, only=FELL), FALL, scene())

    assert judged == Judgement(
        present=True, blind=False, lasted_s=100.0, suppressed_by=None, text="fell", sensor="front"
    )


def test_a_fall_that_ended_is_gone() -> None:
    """Without an open finding and with data there is nothing."""
    assert judge(entry(FALL), FALL, scene()) == GONE


@pytest.mark.parametrize(
    ("conditions", "blind"),
    [
        ({"no_data": frozenset({"front"})}, True),
        ({"node_silence_s": {"shed-1": 15.0}}, True),
        ({"node_silence_s": {"shed-1": 14.9}}, False),
        ({"node_silence_s": {"shed-2": 99.0}}, False),
        ({"no_data": frozenset({"middle"})}, False),
    ],
)
def test_a_fall_is_blind_when_its_own_sensor_is(conditions: dict[str, Any], blind: bool) -> None:
    """Only the silence of the sensor that showed the fall, or of its node, makes the fall unknowable."""
    assert judge(entry(FALL, only=FELL), FALL, scene(**conditions)).blind is blind


@pytest.mark.parametrize(
    ("no_data", "blind"), [({"front", "middle"}, True), ({"front", "firebox"}, False), (set(), False)]
)
def test_a_fall_of_no_sensor_is_blind_when_the_chamber_is(no_data: set[str], blind: bool) -> None:
    """Where the finding names no sensor, the whole chamber must be without data."""
    nobody = OpenCause(900.0, "fell", None)

    assert judge(entry(FALL, only=nobody), FALL, scene(no_data=frozenset(no_data))).blind is blind


def test_without_a_chamber_nothing_is_blind() -> None:
    """A kiln without chamber sensors has no chamber to lose sight of."""
    bare = Scene(0.0, Conditions(), TABLE.settings, {}, frozenset(), {})

    assert not judge(entry(FALL), FALL, bare).blind


def test_a_sensor_that_the_site_does_not_know_is_judged_by_its_data_alone() -> None:
    """A finding about an unknown sensor is taken as it is."""
    stranger = entry(FALL, only=OpenCause(0.0, "fell", "attic"))

    assert not judge(stranger, FALL, scene(node_silence_s={"shed-1": 99.0})).blind
    assert judge(stranger, FALL, scene(no_data=frozenset({"attic"}))).blind


@pytest.mark.parametrize(("failed", "by"), [(("front",), "sensor:front"), (("middle",), None), ((), None)])
def test_only_its_own_failed_sensor_explains_a_fall(failed: tuple[str, ...], by: str | None) -> None:
    """Suppression by cause reaches the process alarms of that sensor and no other."""
    assert judge(entry(FALL, only=FELL), FALL, scene(failed=failed)).suppressed_by == by


def test_a_failing_store_is_present_and_never_blind() -> None:
    """The store's alarm has nothing to do with sensors."""
    full = OpenCause(990.0, "full", None)
    judged = judge(entry(STORE, only=full), STORE, scene(no_data=frozenset(SENSORS), failed=tuple(SENSORS)))

    assert judged == Judgement(present=True, blind=False, lasted_s=10.0, suppressed_by=None, text="full", sensor=None)


@pytest.mark.parametrize(
    ("silence", "there", "blind", "lasted_s"),
    [({"shed-1": 14.9}, False, False, 14.9), ({"shed-1": 15.0}, True, False, 15.0), ({"shed-2": 99.0}, False, True, 0)],
)
def test_a_node_is_judged_by_its_silence(silence: dict[str, float], there: bool, blind: bool, lasted_s: float) -> None:
    """Silence counts by itself; a node of which nothing is told cannot be judged."""
    judged = judge(entry(NODE, "shed-1"), NODE, scene(node_silence_s=silence))

    assert (judged.present, judged.blind, judged.lasted_s) == (there, blind, lasted_s)


def test_a_failed_sensor_tells_its_newest_fault_and_counts_from_its_oldest() -> None:
    """Several faults of one sensor are one alarm."""
    two = entry(SENSOR, "front", open=OpenCause(900.0, "open", "front"), frozen=OpenCause(950.0, "frozen", "front"))

    judged = judge(two, SENSOR, scene())
    assert (judged.present, judged.lasted_s, judged.text, judged.suppressed_by) == (True, 100.0, "frozen", None)


MISSING = OpenCause(900.0, "missing", "front")
OPEN = OpenCause(950.0, "open", "front")


@pytest.mark.parametrize(
    ("silent_at", "by", "lasted_s"),
    [
        ({}, None, 100.0),
        ({"shed-2": 1000.0}, None, 100.0),
        ({"shed-1": 1000.0}, "node:shed-1", 0.0),
        ({"shed-1": 970.0}, "node:shed-1", 0.0),
        ({"shed-1": 965.0}, None, 5.0),
        ({"shed-1": 800.0}, None, 100.0),
    ],
)
def test_a_silent_node_explains_a_missing_sensor(silent_at: dict[str, float], by: str | None, lasted_s: float) -> None:
    """While the node is silent and 30 s after, missing is the node's; only then does its own time begin to count."""
    judged = judge(entry(SENSOR, "front", missing=MISSING), SENSOR, scene(silent_at=silent_at))

    assert (judged.present, judged.suppressed_by, judged.lasted_s) == (True, by, lasted_s)


def test_a_silent_node_explains_no_open_input() -> None:
    """A fault that the node itself told before stays the sensor's own."""
    judged = judge(entry(SENSOR, "front", missing=MISSING, open=OPEN), SENSOR, scene(silent_at={"shed-1": 1000.0}))

    assert (judged.suppressed_by, judged.lasted_s, judged.text) == (None, 50.0, "open")


def test_a_sensor_without_faults_is_gone() -> None:
    """No open fault, no alarm; a sensor that the site does not know has no node to be silent."""
    assert not judge(entry(SENSOR, "front"), SENSOR, scene()).present
    assert not judge(entry(SENSOR, "attic"), SENSOR, scene(node_silence_s={"": 0.0})).blind


@pytest.mark.parametrize(
    ("state", "judged", "event"),
    [
        (State.NORMAL, present(9.9), Event.INACTIVE),
        (State.NORMAL, present(10.0), Event.ACTIVE),
        (State.CLEARED, present(10.0), Event.ACTIVE),
        (State.NORMAL, present(99.0, by="node:n"), Event.SUPPRESS),
        (State.UNACKED, present(99.0, by="node:n"), Event.ACTIVE),
        (State.SUPPRESSED, GONE, Event.INACTIVE),
        (State.NORMAL, BLIND, Event.INACTIVE),
        (State.UNACKED, BLIND, Event.ACTIVE),
        (State.ACKED, BLIND, Event.ACTIVE),
    ],
)
def test_on_delay_and_suppression_come_before_the_announcement(state: State, judged: Judgement, event: Event) -> None:
    """An alarm begins after 10 s of its condition unless explained; announced, it is held without data."""
    assert next_event(entry(SENSOR, "front", state), SENSOR, judged, 0.0) is event


def test_off_delay_counts_only_unbroken_time_with_data() -> None:
    """An alarm ends after 30 s of known absence; a return or a gap begins the count anew."""
    held = entry(SENSOR, "front", State.ACKED)
    story = [(0, GONE), (29, GONE), (29.5, BLIND), (30, GONE), (59, present()), (60, GONE), (89.9, GONE), (90, GONE)]

    events = [next_event(held, SENSOR, judged, now) for now, judged in story]
    assert events == [Event.ACTIVE] * 7 + [Event.INACTIVE]


def test_a_clock_set_back_does_not_lengthen_the_off_delay() -> None:
    """The count begins anew at the earlier time."""
    held = entry(SENSOR, "front", State.ACKED)

    events = [next_event(held, SENSOR, GONE, now) for now in (5000.0, 100.0, 130.0)]
    assert events == [Event.ACTIVE, Event.ACTIVE, Event.INACTIVE]


def test_a_row_that_latches_holds_instead_of_ending() -> None:
    """The end of the condition is told apart where the row latches."""
    latching = FALL.model_copy(update={"latching": True})

    assert next_event(entry(FALL, state=State.UNACKED), latching, GONE, 0.0) is Event.LATCH


@pytest.mark.parametrize(
    ("celsius", "priority"),
    [
        ({"middle": 1000.0, "front": 900.0}, 1),
        ({"middle": 900.0, "front": 1000.0}, 1),
        ({"middle": 999.9, "front": 999.9, "firebox": 1100.0}, 2),
        ({"firebox": 1100.0}, 1),
        ({}, 2),
    ],
)
def test_a_fall_is_worse_in_high_fire(celsius: dict[str, float], priority: int) -> None:
    """The guide or the fall's own sensor tells high fire (1000 degC, a starting value); without both, any sensor."""
    at = scene(guide="middle", celsius=celsius)

    assert priority_now(FALL, entry(FALL), present(sensor="front"), at) == priority


@pytest.mark.parametrize(
    ("sensor", "guide", "celsius", "priority"),
    [
        ("front", "front", {"middle": 900.0}, 1),
        ("front", "middle", {"middle": 900.0}, 2),
        ("front", None, {"firebox": 900.0}, 1),
        ("front", None, {"front": 900.0}, 1),
        ("firebox", "middle", {}, 2),
        ("attic", None, {}, 2),
        (None, None, {}, 2),
    ],
)
def test_a_failed_sensor_is_worse_as_guide_or_last(
    sensor: str | None, guide: str | None, celsius: dict[str, float], priority: int
) -> None:
    """Blindness at the guide or in the whole chamber is urgent; elsewhere others still see."""
    at = scene(guide=guide, celsius=celsius)

    assert priority_now(SENSOR, entry(SENSOR, sensor), present(), at) == priority


@pytest.mark.parametrize(("lasted_s", "priority"), [(599.9, 2), (600.0, 1)])
def test_a_lost_node_is_worse_after_ten_minutes(lasted_s: float, priority: int) -> None:
    """Ten minutes of silence make it urgent."""
    assert priority_now(NODE, entry(NODE, "shed-1"), present(lasted_s), scene()) == priority


def test_a_row_without_worse_keeps_its_priority() -> None:
    """A stall is never more than its row says."""
    assert priority_now(STALL, entry(STALL), present(9e9), scene(celsius={"middle": 1300.0})) == 2


def test_a_node_of_which_nothing_is_told_is_not_silent() -> None:
    """In a replay there are no host ages; nothing is silent then."""
    assert not is_silent("shed-1", Conditions(), TABLE.settings)
