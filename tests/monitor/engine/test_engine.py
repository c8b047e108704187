"""The engine as a whole: cutting, restarting, many kilns, order, and what it tells the panel."""

from collections.abc import Callable
from dataclasses import fields
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.engine.engine import Engine
from monitor.engine.limits import BRIDGE_BEATS, CLIMB_LAG_MIN
from monitor.engine.setup import setup_from_sites
from monitor.engine.told import in_order
from monitor.model import SLOT_S, Finding, FindingKind, FloatArray, Slots, Status
from monitor.site_file import Site, parse_site

START = 1_764_000_000.0
PER_MIN = 12
PLACES = ("firebox", "front", "middle")
LATE = 2
"""The sensor whose samples, where they are not judged, came late."""
Told = list[tuple[int, Finding]]


def _site(plan: str = "[plan]\npoints = [[0, 600], [20, 1200]]\n", places: tuple[str, ...] = PLACES) -> Site:
    text = '[kiln]\nname = "Test kiln"\n'
    for place in places:
        text += f'[[sensor]]\nid = "{place}"\ninput = "shed-1/{place}"\ntype = "K"\nplace = "{place}"\n'
    return parse_site(text + plan, "kiln.toml")


def _eventful(seed: int) -> tuple[FloatArray, FloatArray]:
    """Return degC and status (n, 3) of three and a half hours with a stall, a fall, faults, gaps and ripple."""
    rng = np.random.default_rng(seed)
    rates = np.repeat([35.0, 0.0, 40.0, -110.0, 60.0], np.array([70, 45, 35, 20, 40]) * PER_MIN)
    t = np.arange(len(rates)) / PER_MIN
    ware = 600.0 + np.cumsum(rates) / (60.0 * PER_MIN)
    ripple = np.sin(2.0 * np.pi * t / 5.5)[:, None] * [9.0, 5.0, 3.0]
    celsius = ware[:, None] + ripple + rng.normal(0.0, 0.4, (len(t), 3)) + [60.0, 10.0, 0.0]
    status = np.zeros(celsius.shape)
    status[300:340, 0] = Status.OPEN
    status[900:1000, 1] = np.where(rng.random(100) < 0.3, Status.OPEN, Status.OK)
    status[1500:1520, 2] = Status.COLD_JUNCTION
    celsius[1100:1140] = np.nan
    celsius[rng.integers(0, len(t), 40), rng.integers(0, 3, 40)] = np.nan
    return celsius, status


def _slots(celsius: FloatArray, status: FloatArray, passed_over: slice = slice(0, 0)) -> Slots:
    """Return slots (n, K, S) of K equal kilns shifted by degrees, some of them passed over."""
    kept = np.delete(np.arange(len(celsius)), passed_over)
    code = np.where(np.isnan(celsius) & (status == Status.OK), Status.ABSENT, status).astype(np.uint8)[kept]
    mean = np.where(code == Status.OK, celsius[kept], np.nan)
    end = START + SLOT_S * (kept + 1)
    known_at = end[:, None] + np.linspace(0.2, 9.0, celsius.shape[1])[: celsius.shape[1]]
    nothing = np.full(mean.shape, np.nan)
    late = np.isnan(mean) & (np.arange(mean.shape[2]) == LATE)
    return Slots(end, known_at, mean, np.where(np.isnan(mean), 0, 5), code, nothing, nothing, nothing, late)


def _one_kiln(seed: int, passed_over: slice = slice(0, 0)) -> Slots:
    celsius, status = _eventful(seed)
    return _slots(celsius[:, None, :], status[:, None, :], passed_over)


def _part(slots: Slots, begin: int, end: int) -> Slots:
    cut = slice(begin, end)
    return Slots(*(getattr(slots, column.name)[cut] for column in fields(Slots)))


EVENTFUL = _one_kiln(1, slice(2000, 2100))
WHOLE = Engine(setup_from_sites([_site()])).judge(EVENTFUL)


def test_the_eventful_record_has_every_kind_of_finding() -> None:
    """The record that the properties below cut up tells a stall, a fall and three kinds of sensor fault."""
    kinds = {(f.kind, f.fault) for _, f in WHOLE}

    assert {kind for kind, _ in kinds} == {FindingKind.STALL, FindingKind.FALL, FindingKind.SENSOR}
    assert {fault.value for _, fault in kinds if fault} == {"open", "cold-junction", "missing"}
    assert any("in time" in f.text for _, f in WHOLE if f.sensor == PLACES[LATE])


@settings(max_examples=8, deadline=None)
@given(st.lists(st.integers(0, len(EVENTFUL.end)), max_size=12))
def test_any_cutting_gives_the_same_findings(cuts: list[int]) -> None:
    """Calls of any length, empty ones included, tell the very same findings."""
    engine = Engine(setup_from_sites([_site()]))
    told: Told = []
    for begin, end in pairwise([0, *sorted(cuts), len(EVENTFUL.end)]):
        told += engine.judge(_part(EVENTFUL, begin, end))

    assert in_order(told) == WHOLE


def test_one_slot_a_call_gives_the_same_findings_and_climbs() -> None:
    """Live operation equals replay, to the last bit of every climb."""
    live, replay = Engine(setup_from_sites([_site()])), Engine(setup_from_sites([_site()]))
    told: Told = []
    for number in range(len(EVENTFUL.end)):
        told += live.judge(_part(EVENTFUL, number, number + 1))
    replay.judge(EVENTFUL)

    assert in_order(told) == WHOLE
    assert live.climbs() == replay.climbs()
    assert live.save() == replay.save()


@settings(max_examples=8, deadline=None)
@given(st.lists(st.integers(0, len(EVENTFUL.end)), min_size=1, max_size=4))
def test_a_restart_at_any_slot_changes_nothing(cuts: list[int]) -> None:
    """An engine restored from bytes goes on as the one that was saved."""
    engine = Engine(setup_from_sites([_site()]))
    told: Told = []
    for begin, end in pairwise([0, *sorted(cuts), len(EVENTFUL.end)]):
        told += engine.judge(_part(EVENTFUL, begin, end))
        saved = engine.save()
        engine = Engine(setup_from_sites([_site()]))
        engine.restore(saved)

    assert in_order(told) == WHOLE


def test_the_state_is_bounded() -> None:
    """The saved state has the same length after an hour and after three, and is small: under 15 kB a sensor."""
    engine = Engine(setup_from_sites([_site()]))
    engine.judge(_part(EVENTFUL, 0, 720))
    early = len(engine.save())
    engine.judge(_part(EVENTFUL, 720, len(EVENTFUL.end)))

    assert len(engine.save()) == early
    assert early < 15_000 * len(PLACES)


def test_many_kilns_in_one_call_are_judged_as_each_alone() -> None:
    """Kilns of different records, sensors and plans in one engine tell exactly what each tells by itself."""
    sites = [_site(), _site(plan=""), _site(places=("firebox", "front", "back"))]
    records = [_eventful(seed) for seed in (1, 2, 3)]
    celsius, status = (np.stack([record[i] for record in records], axis=1) for i in (0, 1))
    together = _slots(celsius, status)
    engine = Engine(setup_from_sites(sites))
    told = engine.judge(together)

    for kiln, site in enumerate(sites):
        alone = Engine(setup_from_sites([site]))
        mine = _slots(celsius[:, kiln : kiln + 1], status[:, kiln : kiln + 1])
        mine.known_at[:] = together.known_at[:, kiln : kiln + 1]
        assert [f for _, f in alone.judge(mine)] == [f for k, f in told if k == kiln]
        assert alone.climbs() == engine.climbs(kiln)
        assert alone.guide() == engine.guide(kiln)


def test_no_finding_knows_the_future() -> None:
    """Whatever comes after a finding's slot, the finding is the same."""
    times = {f.time for _, f in WHOLE}
    for moment in sorted(times)[::3]:
        upto = int(np.searchsorted(EVENTFUL.known_at[:, 0], moment, side="right"))
        engine = Engine(setup_from_sites([_site()]))
        known = engine.judge(_part(EVENTFUL, 0, upto))

        assert [f for _, f in known if f.time <= moment] == [f for _, f in WHOLE if f.time <= moment]


def test_findings_come_in_order_and_in_pairs() -> None:
    """Times rise, every end follows its begin, at most one of a kind, sensor and fault is open."""
    open_now: set[tuple[object, ...]] = set()
    for _, f in WHOLE:
        pair = (f.kind, f.sensor, f.fault)
        assert (f.state.value == "end") == (pair in open_now)
        open_now ^= {pair}

    assert [f.time for _, f in WHOLE] == sorted(f.time for _, f in WHOLE)


def test_a_beat_that_a_jump_leaves_open_is_judged_when_the_next_slot_comes(
    make_engine: Callable[..., Engine], make_slots: Callable[..., Slots]
) -> None:
    """Slots 1 to 3 of a beat, then a long jump: the beat counts, and its findings are known at the later slot."""
    engine = make_engine()
    early = make_slots(700.0 + np.arange(720.0) * 0.05)
    engine.judge(early)
    engine.judge(make_slots(np.full(3, 736.0), begin=float(early.end[-1])))
    beat_before = engine._beats.last_beat.item()
    engine.judge(make_slots(np.full(6, 740.0), begin=float(early.end[-1]) + 3600.0))

    assert beat_before == (early.end[-1]) / 30.0
    assert engine._beats.beat.item() == beat_before + 121
    assert np.isnan(engine.climbs()[0].climb_c_per_h or np.nan)


def test_slots_must_rise(make_engine: Callable[..., Engine], make_slots: Callable[..., Slots]) -> None:
    """Judging a slot twice, or slots out of order, is refused."""
    engine = make_engine()
    slots = make_slots(np.full(10, 500.0))
    engine.judge(slots)

    with pytest.raises(ValueError, match="slots must rise"):
        engine.judge(slots)


def test_climbs_are_told_in_the_sites_order_with_their_uncertainty(make_slots: Callable[..., Slots]) -> None:
    """A ramp and a standing sensor: their rates, with an uncertainty; None for one that never came."""
    engine = Engine(setup_from_sites([_site()]))
    t = np.arange(60.0 * PER_MIN) / (60.0 * PER_MIN)
    engine.judge(make_slots(np.stack([600.0 + 45.0 * t, np.full(len(t), 500.0), np.full(len(t), np.nan)], axis=1)))
    firebox, front, middle = engine.climbs()

    assert (firebox.sensor, front.sensor, middle.sensor) == PLACES
    assert firebox.climb_c_per_h == pytest.approx(45.0, abs=1e-6)
    assert front.climb_c_per_h == pytest.approx(0.0, abs=1e-6)
    assert firebox.uncertainty_c_per_h is not None
    assert 0.0 < firebox.uncertainty_c_per_h < 5.0
    assert (middle.climb_c_per_h, middle.uncertainty_c_per_h) == (None, None)


def test_the_climb_is_that_of_eight_minutes_ago(make_slots: Callable[..., Slots]) -> None:
    """While the rate itself rises steadily, the climb is the rate of `CLIMB_LAG_MIN` to a few minutes before."""
    engine = Engine(setup_from_sites([_site(places=("middle",))]))
    t = np.arange(120.0 * PER_MIN) / (60.0 * PER_MIN)
    engine.judge(make_slots(600.0 + 20.0 * t + 5.0 * t**2))
    (middle,) = engine.climbs()
    rate_now = 20.0 + 10.0 * t[-1]
    assert middle.climb_c_per_h is not None

    lag_min = (rate_now - middle.climb_c_per_h) / 10.0 * 60.0
    assert CLIMB_LAG_MIN - 1.0 < lag_min < CLIMB_LAG_MIN + 6.0


def test_the_guide_hands_over_and_comes_back(make_slots: Callable[..., Slots]) -> None:
    """Middle guides, front while middle is silent, middle again once its climb is known; before any slot, middle."""
    engine = Engine(setup_from_sites([_site()]))
    guides = [engine.guide()]
    begin = START
    for minutes, middle in ((40, 700.0), (BRIDGE_BEATS // 2 + 2, np.nan), (40, 700.0)):
        celsius = np.tile([900.0, 750.0, middle], (minutes * PER_MIN, 1))
        engine.judge(make_slots(celsius, begin=begin))
        begin += minutes * 60.0
        guides.append(engine.guide())

    assert guides == ["middle", "middle", "front", "middle"]


def test_a_kiln_that_nothing_can_guide_has_none() -> None:
    """A shed of timber sensors has no guide."""
    assert Engine(setup_from_sites([_site(plan="", places=("timber",))])).guide() is None


def test_lighting_is_the_plans_or_the_first_slot_with_a_sample(make_slots: Callable[..., Slots]) -> None:
    """Without `lit` the plan runs from the first sample; with it, from there."""
    empty_then_full = np.where(np.arange(200) < 100, np.nan, 600.0)[:, None]
    first = Engine(setup_from_sites([_site(places=("middle",))]))
    first.judge(make_slots(empty_then_full))
    told = _site('[plan]\nlit = "2025-11-24T12:00:00+00:00"\npoints = [[0, 600], [20, 1200]]\n', ("middle",))
    second = Engine(setup_from_sites([told]))
    second.judge(make_slots(empty_then_full))

    assert first._guiding().lit.tolist() == [START + 100 * SLOT_S]
    assert second._guiding().lit.tolist() == [1_763_985_600.0]


@pytest.mark.parametrize("saved", [b"", b"nonsense", Engine(setup_from_sites([_site(places=("back",))])).save()])
def test_a_state_that_does_not_fit_is_refused(saved: bytes) -> None:
    """Damage and another site's state raise, and the engine goes on as it was."""
    engine = Engine(setup_from_sites([_site()]))

    with pytest.raises(ValueError, match="start without it"):
        engine.restore(saved)
    assert engine.judge(EVENTFUL) == WHOLE
