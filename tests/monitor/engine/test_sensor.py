"""Sensor faults that status and silence tell: cases that must be told and cases that must not."""

import dataclasses
from collections.abc import Callable, Sequence

import numpy as np
import pytest

from monitor.engine.engine import Engine
from monitor.engine.sensor import (
    STATUS_FAULTS,
    SensorWatch,
    is_faulty,
    is_quiet,
    judge_sensors,
    new_watch,
    shows_fault,
)
from monitor.engine.setup import EngineSetup
from monitor.model import SLOT_S, CodeArray, Finding, FindingKind, FindingState, SensorFault, Slots, Status

OK, GONE, OPEN = int(Status.OK), int(Status.ABSENT), int(Status.OPEN)
RANGE, COLD = int(Status.RANGE), int(Status.COLD_JUNCTION)
LATE = -1
"""No sample that can be judged, but one of an earlier slot came."""

MakeSetup = Callable[..., EngineSetup]


def _run(
    setup: EngineSetup, codes: Sequence[int] | CodeArray, every_s: float = SLOT_S, watch: SensorWatch | None = None
) -> list[Finding]:
    """Judge one status, or `LATE`, a slot, `every_s` apart from time 0; each is known when its slot ends."""
    watch = watch or new_watch(setup.shape)
    told: list[Finding] = []
    for number, code in enumerate(codes, start=1):
        end = number * every_s
        known_at = np.full(setup.shape[0], end)
        told += [f for _, f in judge_sensors(watch, setup, end, known_at, **_slot(setup, code))]
    return told


def _slot(setup: EngineSetup, code: int) -> dict[str, np.ndarray]:
    status = np.full(setup.shape, GONE if code == LATE else code, dtype=np.uint8)
    return {"status": status, "late": np.full(setup.shape, code == LATE)}


def _told(findings: Sequence[Finding]) -> list[tuple[float, str, str | None, float]]:
    return [(f.time, f.state.value, f.fault.value if f.fault else None, f.onset) for f in findings]


@pytest.mark.parametrize(
    ("code", "fault"),
    [(OPEN, "open"), (RANGE, "range"), (COLD, "cold-junction"), (Status.ABOVE, "range")],
)
def test_a_lasting_fault_is_told_after_two_slots(make_setup: MakeSetup, code: int, fault: str) -> None:
    """Fault rows F01, F17 and F19: told at the second slot, with the onset at the first."""
    told = _run(make_setup(), [OK] * 10 + [code] * 10)

    assert _told(told) == [(60.0, "begin", fault, 50.0)]
    assert told[0].sensor == "middle"
    assert told[0].text.startswith("middle ")


def test_a_lasting_fault_ends_after_two_clean_minutes(make_setup: MakeSetup) -> None:
    """The end is known two minutes after the last break, which is its onset."""
    told = _run(make_setup(), [OK] * 10 + [OPEN] * 10 + [OK] * 40)

    assert _told(told) == [(60.0, "begin", "open", 50.0), (220.0, "end", "open", 100.0)]


def test_a_lasting_fault_from_the_first_scan_is_told(make_setup: MakeSetup) -> None:
    """A probe that was never connected is open from the beginning."""
    assert _told(_run(make_setup(), [OPEN] * 3)) == [(10.0, "begin", "open", 0.0)]


@pytest.mark.parametrize(
    "codes",
    [
        [OK] * 50,
        [OK] * 10 + [OPEN] + [OK] * 100,
        ([OPEN] + [OK] * 30) * 5,
        [Status.UNDEFINED] * 50,
        [Status.BELOW] * 50,
        [OK] * 20 + [OPEN] + [OK] * 10 + [RANGE] + [OK] * 10 + [COLD] + [OK] * 30,
    ],
    ids=["well", "one break", "rare breaks", "type B below its range", "swapped wires", "three different breaks"],
)
def test_what_is_no_fault_is_not_told(make_setup: MakeSetup, codes: list[int]) -> None:
    """A single break, breaks minutes apart, and values that a type cannot have are none."""
    assert _run(make_setup(), codes) == []


@pytest.mark.parametrize("seed", range(8))
def test_a_hot_wire_that_opens_and_closes_is_one_finding(make_setup: MakeSetup, seed: int) -> None:
    """Fault row F02: breaks of 1 to 20 s for half an hour are one begin and one end, from first to last break."""
    rng = np.random.default_rng(seed)
    codes = [OK] * 20
    while len(codes) < 380:
        codes += [OPEN] * int(rng.integers(0, 5)) + [OK] * int(rng.integers(1, 5))
    codes += [OK] * 60
    broken = np.flatnonzero(np.array(codes) == OPEN)
    begin, end = _run(make_setup(), codes)

    assert (begin.state, end.state) == (FindingState.BEGIN, FindingState.END)
    assert begin.onset == broken[0] * SLOT_S
    assert end.onset == (broken[-1] + 1) * SLOT_S


def test_the_third_break_in_two_minutes_is_told(make_setup: MakeSetup) -> None:
    """Three single breaks, none of them lasting, within the memory."""
    told = _run(make_setup(), [OK] * 10 + ([OPEN] + [OK] * 8) * 3)

    assert _told(told) == [(145.0, "begin", "open", 50.0)]


def test_two_faults_of_one_sensor_are_two_findings(make_setup: MakeSetup) -> None:
    """An open probe whose cold junction fails too: each begins and ends by itself."""
    told = _run(make_setup(), [OK] * 4 + [OPEN] * 5 + [COLD] * 5 + [OK] * 60)

    assert [(f.fault, f.state.value) for f in told] == [
        (SensorFault.OPEN, "begin"),
        (SensorFault.COLD_JUNCTION, "begin"),
        (SensorFault.OPEN, "end"),
        (SensorFault.COLD_JUNCTION, "end"),
    ]


def test_silence_falls_due_after_twenty_seconds_and_ends_with_the_next_sample(make_setup: MakeSetup) -> None:
    """`missing` begins at the time it fell due, with its onset at the last sample, and ends at the first after."""
    told = _run(make_setup(), [OK] * 10 + [GONE] * 20 + [OK] * 5)

    assert _told(told) == [(70.0, "begin", "missing", 50.0), (155.0, "end", "missing", 150.0)]
    assert told[0].text == "middle has sent nothing for 20 s."


@pytest.mark.parametrize("slots", [1, 2])
def test_short_silence_is_not_told(make_setup: MakeSetup, slots: int) -> None:
    """Ten seconds without a sample are none."""
    assert _run(make_setup(), [OK] * 10 + [GONE] * slots + [OK] * 10) == []


def test_a_sensor_that_never_came_is_not_missing(make_setup: MakeSetup) -> None:
    """What was never there cannot be missed."""
    assert _run(make_setup(), [GONE] * 100) == []


def test_slots_that_were_passed_over_count_as_silence(make_setup: MakeSetup) -> None:
    """When the grid jumps over a long silence, `missing` still begins when it fell due."""
    setup = make_setup()
    watch = new_watch(setup.shape)
    _run(setup, [OK] * 10, watch=watch)
    told = judge_sensors(watch, setup, 3600.0, np.array([3600.5]), **_slot(setup, OK))

    assert _told([f for _, f in told]) == [(70.0, "begin", "missing", 50.0), (3600.5, "end", "missing", 3595.0)]


@pytest.mark.parametrize("every_s", [30.0, 60.0, 300.0])
def test_a_sensor_that_is_read_rarely_is_not_missing(make_setup: MakeSetup, every_s: float) -> None:
    """A sensor's usual spacing sets what silence means."""
    assert _run(make_setup(), [OK] * 50, every_s=every_s) == []


def test_a_sensor_that_is_read_rarely_is_missed_after_three_spacings(make_setup: MakeSetup) -> None:
    """Read once a minute, it is missing three minutes after its last sample."""
    setup = make_setup()
    codes = ([GONE] * 11 + [OK]) * 5 + [GONE] * 60

    assert _told(_run(setup, codes)) == [(480.0, "begin", "missing", 300.0)]


def test_a_change_to_rare_reading_is_learnt_within_a_few_samples(make_setup: MakeSetup) -> None:
    """From every second to every minute: a handful of findings, then quiet."""
    told = _run(make_setup(), [OK] * 50 + ([GONE] * 11 + [OK]) * 40)

    assert 1 <= sum(f.state is FindingState.BEGIN for f in told) <= 4
    assert told[-1].time < 250.0 + 10 * 60.0


@pytest.mark.parametrize("late_slots", [4, 6, 35])
def test_a_sensor_whose_samples_come_late_is_not_missing(make_setup: MakeSetup, late_slots: int) -> None:
    """Under three minutes in which all that comes is too old to be judged: it does send."""
    assert _run(make_setup(), [OK] * 10 + [LATE] * late_slots + [OK] * 10) == []


def test_late_samples_now_and_then_break_the_silence(make_setup: MakeSetup) -> None:
    """One in fifteen seconds, as one that comes in time would."""
    assert _run(make_setup(), [OK] * 10 + [GONE, GONE, LATE] * 8 + [OK] * 10) == []


def test_a_sensor_that_falls_silent_after_late_samples_is_told_as_soon(make_setup: MakeSetup) -> None:
    """Twenty seconds after the last that came, late or not."""
    told = _run(make_setup(), [OK] * 10 + [LATE] * 20 + [GONE] * 10)

    assert _told(told) == [(170.0, "begin", "missing", 150.0)]


def test_a_sensor_that_is_judged_no_longer_is_told_of(make_setup: MakeSetup) -> None:
    """After three minutes of late samples alone a fall would go unseen: told when that is known, with the reason."""
    told = _run(make_setup(), [OK] * 10 + [LATE] * 60 + [OK] * 10)

    assert _told(told) == [(230.0, "begin", "missing", 50.0), (355.0, "end", "missing", 350.0)]
    assert told[0].text == "middle has sent nothing in time for 3 minutes: what comes late is not judged."
    assert told[1].text == "middle sends again."


def test_late_samples_do_not_end_a_silence(make_setup: MakeSetup) -> None:
    """What was kept through an outage comes late and is not judged: the sensor is back with the first that is."""
    told = _run(make_setup(), [OK] * 10 + [GONE] * 10 + [LATE] * 60 + [OK] * 5)

    assert _told(told) == [(70.0, "begin", "missing", 50.0), (405.0, "end", "missing", 400.0)]


def test_silence_of_a_sensor_that_only_ever_came_late_is_told(make_setup: MakeSetup) -> None:
    """It did come, so it can be missed, although nothing of it was ever judged."""
    assert _told(_run(make_setup(), [LATE] * 10 + [GONE] * 10)) == [(70.0, "begin", "missing", 50.0)]


def test_a_late_sample_after_slots_that_were_passed_over_ends_no_silence(make_setup: MakeSetup) -> None:
    """When the grid jumps, the silence that fell due meanwhile is told at its time; a late sample leaves it told."""
    setup = make_setup()
    watch = new_watch(setup.shape)
    _run(setup, [OK] * 10, watch=watch)
    told = judge_sensors(watch, setup, 3600.0, np.array([3600.5]), **_slot(setup, LATE))

    assert _told([f for _, f in told]) == [(70.0, "begin", "missing", 50.0)]


def test_silence_neither_ends_nor_begins_a_status_fault(make_setup: MakeSetup) -> None:
    """An open probe whose node falls silent for ten minutes stays open until it has been clean."""
    told = _run(make_setup(), [OK] * 4 + [OPEN] * 5 + [GONE] * 120 + [OK] * 60)

    assert [(f.fault, f.state.value) for f in told] == [
        (SensorFault.OPEN, "begin"),
        (SensorFault.MISSING, "begin"),
        (SensorFault.MISSING, "end"),
        (SensorFault.OPEN, "end"),
    ]


def test_padding_is_never_judged(make_setup: MakeSetup) -> None:
    """A kiln with fewer sensors than another says nothing of the padding."""
    wide = make_setup(["middle", "front"])
    setup = dataclasses.replace(wide, ids=(("middle",),), present=np.array([[True, False]]))

    assert {f.sensor for f in _run(setup, [OPEN] * 5 + [GONE] * 5)} == {"middle"}


def test_the_watch_is_quiet_only_with_nothing_told_or_remembered(make_setup: MakeSetup) -> None:
    """Quiet before and after, not while a fault is told, a break remembered or a sensor missing."""
    setup = make_setup()
    watch = new_watch(setup.shape)
    quiet = []
    for codes in ([OK] * 5, [OPEN], [OPEN], [OK] * 60, [GONE] * 5, [OK]):
        for code in codes:
            end = float(np.nanmax([watch.heard.item(), 0.0])) + SLOT_S if code != GONE else 1000.0
            judge_sensors(watch, setup, end, np.array([end]), **_slot(setup, code))
        quiet.append(is_quiet(watch))

    assert quiet == [True, False, False, True, False, True]
    assert not is_faulty(watch).any()


def test_shown_faults_are_those_of_the_table() -> None:
    """Every status of the table shows a fault, and no other does."""
    shown = {status for status in Status if shows_fault(np.array([status], np.uint8)).item()}

    assert shown == {status for _, statuses, _ in STATUS_FAULTS for status in statuses}


def test_a_faulty_sensor_causes_no_process_finding(
    make_engine: Callable[..., Engine], make_slots: Callable[..., Slots]
) -> None:
    """A hot wire in the middle of a climb, reading wild values between its breaks, is a sensor's story only."""
    rng = np.random.default_rng(1)
    celsius = 700.0 + np.arange(3000) * 40.0 / 720.0
    status = np.zeros(3000)
    bad = slice(1500, 1900)
    status[bad] = np.where(rng.random(400) < 0.4, OPEN, OK)
    celsius[bad] -= rng.uniform(0.0, 30.0, 400)
    told = make_engine().judge(make_slots(celsius[:, None], status[:, None]))

    assert [(f.kind, f.fault, f.state.value) for _, f in told] == [
        (FindingKind.SENSOR, SensorFault.OPEN, "begin"),
        (FindingKind.SENSOR, SensorFault.OPEN, "end"),
    ]
