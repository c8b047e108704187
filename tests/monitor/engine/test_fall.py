"""Fall: cases that must be told and cases that must not, through the whole engine."""

from collections.abc import Callable, Sequence

import numpy as np
import pytest

from monitor.engine.engine import Engine
from monitor.model import Finding, FindingKind, FindingState, FloatArray, Slots, Status

PER_MIN = 12
"""Slots a minute."""

MakeEngine = Callable[..., Engine]
MakeSlots = Callable[..., Slots]


def _course(*legs: tuple[float, float], begin_c: float = 900.0) -> FloatArray:
    """Return degC per slot of legs of (minutes, degC/h) one after another."""
    rates = np.concatenate([np.full(round(minutes * PER_MIN), rate) for minutes, rate in legs])
    return np.asarray(begin_c + np.cumsum(rates) / (60.0 * PER_MIN))


def _ripple(celsius: FloatArray, peak_to_peak: float, period_min: float) -> FloatArray:
    t = np.arange(len(celsius)) / PER_MIN
    return celsius + peak_to_peak / 2.0 * np.sin(2.0 * np.pi * t / period_min)


def _falls(told: Sequence[tuple[int, Finding]]) -> list[Finding]:
    return [f for _, f in told if f.kind is FindingKind.FALL]


CLIMB = (60.0, 40.0)
STEEP = _course(CLIMB, (25.0, -120.0), (60.0, 60.0))
GENTLE = _course(CLIMB, (50.0, -30.0), (60.0, 60.0))


@pytest.mark.parametrize(
    "celsius",
    [
        STEEP,
        GENTLE,
        _ripple(STEEP, 10.0, 6.0),
        _ripple(STEEP, 25.0, 5.0),
        _course((60.0, 0.0), (12.0, -200.0), (90.0, 60.0)),
    ],
    ids=["steep", "gentle", "under ripple", "under strong ripple", "short and deep"],
)
def test_a_fall_begins_once_and_ends_once(make_engine: MakeEngine, make_slots: MakeSlots, celsius: FloatArray) -> None:
    """Each course has one fall: a begin at the sensor with a depth beyond 10 degC, and an end."""
    begin, end = _falls(make_engine().judge(make_slots(celsius)))

    assert (begin.state, end.state) == (FindingState.BEGIN, FindingState.END)
    assert (begin.sensor, end.sensor, begin.unit) == ("middle", "middle", "Cel")
    assert begin.measure is not None
    assert begin.measure > 10.0
    assert begin.onset < begin.time < end.onset < end.time


@pytest.mark.parametrize(
    "celsius",
    [
        _course((240.0, 40.0)),
        _ripple(_course((240.0, 30.0)), 30.0, 8.0),
        _ripple(_course((240.0, 0.0)), 15.0, 4.0),
        _course(CLIMB, (120.0, -12.0)),
        _course(CLIMB, (4.0, -100.0), (60.0, 60.0)),
        np.append(_course((120.0, 40.0)), _course((120.0, 40.0), begin_c=60.0)),
    ],
    ids=[
        "climb",
        "climb under ripple",
        "soak under ripple",
        "slow cooling",
        "6 degrees only",
        "step of a failing sensor",
    ],
)
def test_what_is_no_fall_is_not_told(make_engine: MakeEngine, make_slots: MakeSlots, celsius: FloatArray) -> None:
    """Ripple, slow cooling, small dips and impossible steps are none."""
    assert _falls(make_engine().judge(make_slots(celsius))) == []


@pytest.mark.parametrize("place", ["firebox", "flue", "timber"])
def test_only_chamber_zones_fall(make_engine: MakeEngine, make_slots: MakeSlots, place: str) -> None:
    """A falling firebox, flue or shed alone is no fall."""
    assert _falls(make_engine([place]).judge(make_slots(STEEP))) == []


@pytest.mark.parametrize("slots_lost", [1, 2])
def test_spikes_are_no_fall(make_engine: MakeEngine, make_slots: MakeSlots, slots_lost: int) -> None:
    """Slots that read 300 degC too low every ten minutes change nothing."""
    celsius = _course((180.0, 40.0))
    for first in range(100, len(celsius), 10 * PER_MIN):
        celsius[first : first + slots_lost] -= 300.0

    assert _falls(make_engine().judge(make_slots(celsius))) == []


def test_the_announcement_comes_within_five_minutes_of_the_true_onset(
    make_engine: MakeEngine, make_slots: MakeSlots, start: float
) -> None:
    """For a turn from +40 to -120 degC/h the mean over a centred 20 min is 10 degC below its highest after 8.6 min."""
    (begin, _) = _falls(make_engine().judge(make_slots(STEEP)))
    kernel = np.full(20 * PER_MIN + 1, 1.0 / (20 * PER_MIN + 1))
    mean = np.convolve(STEEP, kernel, mode="valid")
    true_onset_min = 10.0 + np.flatnonzero(np.maximum.accumulate(mean) - mean > 10.0)[0] / PER_MIN

    assert (begin.time - start) / 60.0 - true_onset_min < 5.0
    assert abs((begin.onset - start) / 60.0 - true_onset_min) < 3.0


def test_one_span_covers_all_zones_and_names_the_first(make_engine: MakeEngine, make_slots: MakeSlots) -> None:
    """Back falls first, front five minutes later: one begin naming back, one end when neither is low."""
    front = _course((65.0, 40.0), (25.0, -120.0), (90.0, 60.0))
    back = _course((60.0, 40.0), (25.0, -120.0), (95.0, 60.0))
    begin, end = _falls(make_engine(["front", "back"]).judge(make_slots(np.stack([front, back], axis=1))))

    assert (begin.sensor, end.sensor) == ("back", "back")


def test_of_zones_that_fall_together_the_deepest_is_named(make_engine: MakeEngine, make_slots: MakeSlots) -> None:
    """Two zones that cross the depth in the same beat: the deeper one is told."""
    sister = STEEP - 1e-3 * np.maximum(np.arange(len(STEEP)) - 60.0 * PER_MIN, 0.0)
    begin, _ = _falls(make_engine(["front", "back"]).judge(make_slots(np.stack([STEEP, sister], axis=1))))

    assert begin.sensor == "back"


def test_a_break_under_ten_minutes_is_closed(make_engine: MakeEngine, make_slots: MakeSlots) -> None:
    """A fall that recovers for a few minutes and goes on is one fall."""
    celsius = _course(CLIMB, (15.0, -120.0), (16.0, 75.0), (25.0, -150.0), (90.0, 60.0))

    assert [f.state for f in _falls(make_engine().judge(make_slots(celsius)))] == [FindingState.BEGIN, FindingState.END]


@pytest.mark.parametrize("minutes", [2.0, 20.0, 90.0])
def test_a_gap_never_ends_a_fall(make_engine: MakeEngine, make_slots: MakeSlots, minutes: float) -> None:
    """While nothing is heard the fall stays open, and it goes on after the gap."""
    celsius = _course(CLIMB, (20.0, -120.0), (minutes, -40.0), (120.0, 60.0))
    lost = slice(round(80 * PER_MIN), round((80 + minutes) * PER_MIN))
    celsius[lost] = np.nan
    begin, end = _falls(make_engine().judge(make_slots(celsius)))

    assert begin.time < make_slots(celsius).end[lost.start]
    assert end.onset > make_slots(celsius).end[lost.stop]


def test_a_gap_alone_says_nothing(make_engine: MakeEngine, make_slots: MakeSlots) -> None:
    """A long gap in a steady climb begins no fall."""
    celsius = _course((240.0, 40.0))
    celsius[1000:2000] = np.nan

    assert _falls(make_engine().judge(make_slots(celsius))) == []


def test_a_drop_within_a_gap_is_told_when_it_is_known(make_engine: MakeEngine, make_slots: MakeSlots) -> None:
    """A quarter of an hour without data after which the kiln is 40 degC colder is a fall, told afterwards."""
    celsius = _course(CLIMB, (15.0, -160.0), (60.0, 40.0))
    celsius[60 * PER_MIN : 75 * PER_MIN] = np.nan
    begin, _ = _falls(make_engine().judge(make_slots(celsius)))

    assert begin.time > make_slots(celsius).end[75 * PER_MIN]


def test_a_sensor_that_comes_back_from_a_fault_elsewhere_is_no_fall(
    make_engine: MakeEngine, make_slots: MakeSlots
) -> None:
    """An open probe that reads 40 degC lower once mended makes no fall of it."""
    celsius = _course((180.0, 40.0))
    status = np.zeros((len(celsius), 1))
    status[1000:1200] = Status.OPEN
    celsius[1200:] -= 40.0

    assert _falls(make_engine().judge(make_slots(celsius[:, None], status))) == []


def test_a_zone_whose_sensor_failed_does_not_hold_the_fall(make_engine: MakeEngine, make_slots: MakeSlots) -> None:
    """Front falls and its probe breaks for good; the back has recovered: after half an hour's silence the fall ends."""
    front = _course(CLIMB, (25.0, -120.0), (120.0, 60.0))
    back = _course(CLIMB, (25.0, -110.0), (120.0, 60.0))
    front[90 * PER_MIN :] = np.nan
    begin, end = _falls(make_engine(["front", "back"]).judge(make_slots(np.stack([front, back], axis=1))))

    assert (begin.state, end.state) == (FindingState.BEGIN, FindingState.END)


def test_with_every_zone_silent_the_fall_stays_open(make_engine: MakeEngine, make_slots: MakeSlots) -> None:
    """No data clears nothing, however long."""
    celsius = _course(CLIMB, (25.0, -120.0), (600.0, 0.0))
    celsius[85 * PER_MIN :] = np.nan

    assert [f.state for f in _falls(make_engine().judge(make_slots(celsius)))] == [FindingState.BEGIN]


def test_closing_up_ends_a_fall_and_none_begins_after(
    make_engine: MakeEngine, make_slots: MakeSlots, cut_slots: Callable[[Slots, int, int], Slots]
) -> None:
    """The end's onset is the moment of closing; the cooling that follows is no fall."""
    slots = make_slots(_course(CLIMB, (25.0, -120.0), (20.0, 40.0), (240.0, -100.0)))
    engine = make_engine()
    told = engine.judge(cut_slots(slots, 0, 80 * PER_MIN))
    closed_at = float(slots.end[80 * PER_MIN - 1])
    engine.close_up(closed_at)
    told += engine.judge(cut_slots(slots, 80 * PER_MIN, len(slots.end)))
    begin, end = _falls(told)

    assert (begin.state, end.state, end.onset) == (FindingState.BEGIN, FindingState.END, closed_at)
    assert end.time - closed_at <= 31.0


def test_a_kiln_fired_on_after_all_is_told_of_at_once(
    make_engine: MakeEngine, make_slots: MakeSlots, cut_slots: Callable[[Slots, int, int], Slots]
) -> None:
    """A wrong tap of closed up, taken back two minutes later: the fire that fell all the while is told again."""
    slots = make_slots(_course(CLIMB, (40.0, -120.0)))
    engine = make_engine()
    begin, undo = 75 * PER_MIN, 77 * PER_MIN
    told = engine.judge(cut_slots(slots, 0, begin))
    engine.close_up(float(slots.end[begin - 1]))
    told += engine.judge(cut_slots(slots, begin, undo))
    engine.fire_on()
    told += engine.judge(cut_slots(slots, undo, len(slots.end)))
    falls = _falls(told)

    assert [f.state for f in falls] == [FindingState.BEGIN, FindingState.END, FindingState.BEGIN]
    assert falls[2].time - float(slots.end[undo - 1]) <= 31.0
    assert engine.closed_up() is None
