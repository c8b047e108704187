"""Stokes as a whole, on made-up fireboxes: flicker through a sheath, charges in a rhythm."""

from collections.abc import Callable
from dataclasses import fields
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.signal import lfilter

from monitor.engine.engine import Engine
from monitor.engine.limits import SLOTS_PER_BEAT
from monitor.engine.setup import EngineSetup, setup_from_sites
from monitor.engine.stoke import judge_stokes, note_stoke
from monitor.engine.stoke_state import NOTES, Stoke, new_stokes
from monitor.model import Finding, FloatArray, Slots
from monitor.site_file import Site

NOBODY_CLOSED = np.zeros(1, bool)
Made = tuple[FloatArray, FloatArray]


def _firebox(seed: int, hours: float = 5.0, *, interval_s: float = 360.0, scatter: float = 0.08) -> Made:
    """Return degC per slot (n,) behind a sheath of 50 s, and the stokes' seconds; the first comes after 20 min."""
    rng = np.random.default_rng(seed)
    n = round(hours * 3600.0)
    lengths = interval_s * np.exp(rng.normal(0.0, scatter, round(hours * 3600.0 / interval_s)))
    moments = 1200.0 + np.cumsum(lengths)
    moments = moments[moments < n - 300.0]
    second = np.arange(n)
    gas = np.zeros(n)
    for moment in moments:
        age = second - moment
        amount = np.exp(rng.normal(0.0, 0.2))
        gas -= 40.0 * amount * np.where((age >= 0.0) & (age < 15.0), 1.0, 0.0)
        after = np.maximum(age - 20.0, 0.0)
        gas += 15.0 * amount * (1.0 - np.exp(-after / 20.0)) * np.exp(-after / 120.0)
    keeps, lag = np.exp(-1.0 / 20.0), np.exp(-1.0 / 50.0)
    gas = gas + lfilter([np.sqrt(1.0 - keeps**2)], [1.0, -keeps], rng.normal(0.0, 3.0, n))
    celsius = 900.0 + second / 120.0 + lfilter([1.0 - lag], [1.0, -lag], gas)
    return celsius.reshape(-1, 5).mean(axis=1) + rng.normal(0.0, 0.02, n // 5), moments


def _told(setup: EngineSetup, celsius: FloatArray, *, skip: range = range(0)) -> list[tuple[float, Stoke]]:
    """Return stokes with the second at which they were known; beats in `skip` never come."""
    watch = new_stokes(setup.shape)
    out = []
    beats = celsius.reshape(len(celsius) // SLOTS_PER_BEAT, SLOTS_PER_BEAT, -1)
    for number, beat in enumerate(beats, start=1):
        if number not in skip:
            told = judge_stokes(watch, setup, number, beat.T[None], NOBODY_CLOSED)
            out += [(number * 30.0, stoke) for stoke in told]
    return out


def _met(moments: FloatArray, told: list[tuple[float, Stoke]]) -> tuple[int, int]:
    """Return how many stokes have a finding within 90 s, and how many findings have no stoke."""
    onsets = np.array([stoke.onset for _, stoke in told])
    apart = np.abs(onsets[:, None] - moments)
    return int((apart.min(axis=0) <= 90.0).sum()), int((apart.min(axis=1) > 90.0).sum())


@pytest.fixture(scope="module")
def made() -> Made:
    """Return one made-up firebox for tests that only look at it in different ways."""
    return _firebox(1)


def test_stokes_are_told_soon_and_at_their_time(make_setup: Callable[..., EngineSetup], made: Made) -> None:
    """Five hours at the firebox: nine of ten told, one false at most, onsets within 15 s, known within 3.5 min."""
    celsius, moments = made
    told = _told(make_setup(("firebox",)), celsius)
    met, false = _met(moments, told)
    off = [min(abs(stoke.onset - moment) for moment in moments) for _, stoke in told]

    assert met >= 0.9 * len(moments)
    assert false <= 1
    assert np.median(off) <= 15.0
    assert np.median([known - stoke.onset for known, stoke in told]) <= 210.0
    assert all(stoke.dip_c > 0.5 for _, stoke in told if not stoke.is_late)


def test_a_fire_that_only_flickers_is_not_stoked(make_setup: Callable[..., EngineSetup]) -> None:
    """Ten hours of flicker without a stoke: one false finding at most."""
    celsius, _ = _firebox(2, 10.0, interval_s=1.0e6)

    assert len(_told(make_setup(("firebox",)), celsius)) <= 1


def test_a_chamber_sensor_alone_tells_what_it_shows(make_setup: Callable[..., EngineSetup], made: Made) -> None:
    """The same record at the front of a kiln without a firebox sensor: most stokes, without a dip's depth."""
    celsius, moments = made
    told = _told(make_setup(("front",)), celsius)

    assert _met(moments, told)[0] >= 0.7 * len(moments)
    assert all(np.isnan(stoke.dip_c) for _, stoke in told)


def test_a_chamber_sensor_helps_while_the_firebox_is_silent(make_setup: Callable[..., EngineSetup], made: Made) -> None:
    """The firebox sensor breaks after two hours: stokes are told on, from the front."""
    celsius, moments = made
    both = np.stack([celsius, 300.0 + celsius], axis=1)
    both[1440:, 0] = np.nan
    told = _told(make_setup(("firebox", "front")), both)
    late = moments[moments > 7800.0]

    assert _met(late, told)[0] >= 0.7 * len(late)
    assert {stoke.sensor for _, stoke in told if stoke.onset > 7800.0} <= {1, -1}


def test_a_gap_tells_nothing_and_ends_nothing(make_setup: Callable[..., EngineSetup], made: Made) -> None:
    """Beats 200 to 260 never come: no stoke is told for them, and stokes are told on afterwards."""
    celsius, moments = made
    told = _told(make_setup(("firebox",)), celsius, skip=range(200, 261))
    late = moments[moments > 260 * 30.0 + 900.0]

    assert not [stoke for _, stoke in told if 200 * 30.0 < stoke.onset < 259 * 30.0]
    assert _met(late, told)[0] >= 0.8 * len(late)


def test_a_kiln_closed_up_is_not_stoked(make_setup: Callable[..., EngineSetup], made: Made) -> None:
    """Whatever the firebox does then."""
    setup = make_setup(("firebox",))
    watch = new_stokes(setup.shape)
    beats = made[0].reshape(-1, 1, 1, SLOTS_PER_BEAT)

    assert not [s for i, b in enumerate(beats, 1) for s in judge_stokes(watch, setup, i, b, np.ones(1, bool))]


def test_the_engine_tells_stokes_as_events(
    make_engine: Callable[..., Engine], make_slots: Callable[..., object], made: Made
) -> None:
    """With door, sensor, onset and the depth of the dip; known after it happened."""
    told = [f for _, f in make_engine(("firebox",)).judge(make_slots(made[0])) if f.kind.value == "stoke"]

    assert len(told) > 20
    assert {(f.state.value, f.door) for f in told} == {("event", "front")}
    assert all(f.time > f.onset for f in told)
    assert {f.unit for f in told} <= {"Cel", None}


def test_a_noted_stoke_is_told_once_whether_the_sensors_show_it_or_not(
    make_engine: Callable[..., Engine], make_slots: Callable[..., Slots], made: Made
) -> None:
    """Taps within 20 s of half of the stokes, one where there was none, and a side stoke: each told once."""
    engine, slots = make_engine(("firebox",)), make_slots(made[0])
    begin = float(slots.end[0]) - 5.0
    taps = [*(made[1][::2] + 20.0), 900.0]
    plain = [f for _, f in make_engine(("firebox",)).judge(slots) if f.kind.value == "stoke"]
    told: list[Finding] = []
    for i in range(len(slots.end)):
        now = float(slots.end[i]) - begin
        for tap in taps:
            if now - 5.0 <= tap < now:
                engine.note_stoke(begin + tap, "front")
        if now == 5400.0:
            engine.note_stoke(begin + now, "side")
        told += [f for _, f in engine.judge(_one(slots, i)) if f.kind.value == "stoke"]
    front = np.array([f.onset - begin for f in told if f.door == "front"])
    apart = np.abs(front[:, None] - np.array(taps))

    assert (apart.min(axis=0) <= 60.0).all()
    assert ((apart < 70.0).sum(axis=0) == 1).all()
    assert len(front) >= len(plain)
    assert [(f.onset - begin, f.text) for f in told if f.door == "side"] == [
        (5400.0, "Stoked through a side port, as noted.")
    ]


@pytest.mark.parametrize("after_s", [5.0, 60.0, 110.0])
def test_a_tap_some_time_after_the_stoke_is_that_stoke(
    make_engine: Callable[..., Engine], make_slots: Callable[..., Slots], made: Made, after_s: float
) -> None:
    """The door is shut first: every stoke tapped, as late as that, and none is told twice or far from where it was."""
    engine, slots = make_engine(("firebox",)), make_slots(made[0])
    begin = float(slots.end[0]) - 5.0
    taps = made[1] + after_s
    told: list[Finding] = []
    for i in range(len(slots.end)):
        now = float(slots.end[i]) - begin
        for tap in taps[(taps >= now - 5.0) & (taps < now)]:
            engine.note_stoke(begin + float(tap), "front")
        told += [f for _, f in engine.judge(_one(slots, i)) if f.kind.value == "stoke"]
    onsets = np.array([f.onset - begin for f in told])
    over = made[1][made[1] < made[1].max() - 400.0]
    apart = np.abs(over[:, None] - onsets)

    assert ((apart < 75.0).sum(axis=1) == 1).mean() >= 0.95
    assert len(onsets) <= len(made[1]) + 1


def test_a_switch_tells_every_stoke_and_few_looks(
    make_engine: Callable[..., Engine], make_slots: Callable[..., Slots], made: Made
) -> None:
    """The door is opened at each stoke and, half way between every fourth and the next, to look: nothing moves then."""
    engine, slots = make_engine(("firebox",)), make_slots(made[0])
    begin = float(slots.end[0]) - 5.0
    looks = 0.5 * (made[1][:-1] + made[1][1:])[2::4]
    opened = np.sort(np.concatenate([made[1], looks]))
    told: list[Finding] = []
    for i in range(len(slots.end)):
        now = float(slots.end[i]) - begin
        for moment in opened[(opened >= now - 5.0) & (opened < now)]:
            engine.note_opened(begin + float(moment), "front")
        told += [f for _, f in engine.judge(_one(slots, i)) if f.kind.value == "stoke"]
    onsets = np.array([f.onset - begin for f in told])
    late = made[1][made[1] < made[1].max() - 300.0]
    settled = looks[looks > made[1][8]]

    assert (np.abs(late[:, None] - onsets).min(axis=1) <= 30.0).all()
    assert (np.abs(settled[:, None] - onsets).min(axis=1) <= 30.0).mean() <= 0.5
    assert len(settled) >= 3


def test_the_oldest_note_gives_way() -> None:
    """Nine notes that nothing takes up: the last eight are kept."""
    watch = new_stokes((1, 1))
    for moment in range(NOTES + 1):
        note_stoke(watch, 0, 100.0 + moment, is_side=False)

    assert sorted(watch.stokes.noted[0].tolist()) == [101.0 + moment for moment in range(NOTES)]


def _one(slots: Slots, i: int) -> Slots:
    return Slots(*(getattr(slots, f.name)[i : i + 1] for f in fields(slots)))


@settings(max_examples=4, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.integers(0, 2160), max_size=6), st.booleans())
def test_stokes_and_rhythm_do_not_depend_on_cuts_or_restarts(
    make_site: Callable[..., Site],
    make_slots: Callable[..., Slots],
    cut_slots: Callable[[Slots, int, int], Slots],
    cuts: list[int],
    restarts: bool,
) -> None:
    """Three hours in which the stokes slow down, cut anywhere, the engine saved and restored at every cut or not."""
    slots, whole = _slowing(make_slots)
    setup = setup_from_sites([make_site(("firebox",))])
    if not whole:
        whole += Engine(setup).judge(slots)
    engine, told = Engine(setup), []
    for begin, end in pairwise([0, *sorted(cuts), 2160]):
        told += engine.judge(cut_slots(slots, begin, end))
        if restarts:
            saved, engine = engine.save(), Engine(setup)
            engine.restore(saved)

    assert told == whole
    assert sum(f.kind.value == "stoke" for _, f in whole) > 15


_ONCE: list[tuple[Slots, list[tuple[int, Finding]]]] = []


def _slowing(make_slots: Callable[..., Slots]) -> tuple[Slots, list[tuple[int, Finding]]]:
    """Return the record of the property above and what the whole of it tells, made once."""
    if not _ONCE:
        quick, slow = _firebox(7, 1.8, interval_s=300.0)[0], _firebox(8, 1.2, interval_s=420.0)[0]
        celsius = np.append(quick, slow - slow[0] + quick[-1])
        celsius[700:760] = np.nan
        _ONCE.append((make_slots(celsius), []))
    return _ONCE[0]
