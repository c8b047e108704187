"""Reduction inferred from temperatures: when it is told, how sure, and when it must not be.

The fires are made up: a swing with the stokes on a climb, without any kiln's physics. Which sign means what is common
practice (a fire with air to spare flares after a stoke, one short of air sinks), no source.
"""

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from monitor.engine.beats import Beats, new_beats
from monitor.engine.engine import Engine
from monitor.engine.inferred import PLACES, Fire, Hint, Inferred, chance_of, judge_inferred, new_inferred
from monitor.engine.limits import BEAT_S, HISTORY_BEATS, INFERRED_BIAS, INFERRED_OF_PLACE, INFERRED_PER_SWING
from monitor.engine.setup import BoolArray, EngineSetup
from monitor.model import Finding, FindingKind, FindingState, FloatArray, Slots
from monitor.oxygen.nernst import oxygen_share_from_emf
from monitor.oxygen.wood_gas import excess_air_from_oxygen

INTERVAL_S = 360.0
FIRST = 10_000 * 4
"""Number of a beat at which there is a look."""
SHORT, SPARE = (1.0, 1.0, -1.0), (-1.0, -1.0, 1.0)
"""How firebox, front and flue swing where air is short, and where it is to spare."""
FIRED = np.array([False])


@pytest.fixture
def setup(make_setup: Callable[..., EngineSetup]) -> EngineSetup:
    """Firebox, front and flue."""
    return make_setup(["firebox", "front", "flue"])


def _fire(setup: EngineSetup, beat: int, signs: tuple[float, ...], celsius: float = 900.0) -> Fire:
    """What the engine knows at `beat` where every sensor swings by its sign, stokes every 6 min."""
    now = beat * BEAT_S
    last = now - 150.0 - (now - 150.0) % INTERVAL_S
    onsets = (last - INTERVAL_S * np.arange(13, -1, -1))[None]
    at = now - (np.arange(HISTORY_BEATS - 1, -1, -1) + 0.5) * BEAT_S
    wave = np.cos(2.0 * np.pi * at / INTERVAL_S) + 0.2 * np.sin(at)
    beats: Beats = new_beats(setup.shape)
    beats.ring[...] = celsius + 4.0 * np.array(signs)[None, :, None] * wave
    beats.beat[...], beats.last_beat[...], beats.span[...] = beat, beat, HISTORY_BEATS
    return Fire(beats, np.full(setup.shape, celsius), onsets, np.zeros(setup.shape, bool), np.array([False]))


def _looks(
    inferred: Inferred, setup: EngineSetup, beats: range, make: Callable[[int], Fire], closed: BoolArray = FIRED
) -> list[tuple[int, bool, Hint]]:
    """Judge a run of beats; return those that change something, with whether it began."""
    hints = [(beat, judge_inferred(inferred, setup, make(beat), closed)) for beat in beats]
    told = [(beat, h) for beat, h in hints if h is not None and (h.change.begun[0] or h.change.ended[0])]
    return [(beat, bool(h.change.begun[0]), h) for beat, h in told]


def _told(setup: EngineSetup) -> Inferred:
    """The state after reduction was told."""
    inferred = new_inferred(1)
    (_,) = _looks(inferred, setup, range(FIRST, FIRST + 16), lambda beat: _fire(setup, beat, SHORT))
    assert inferred.is_open.all()
    return inferred


def test_the_chance_is_the_logistic_model() -> None:
    """Worked out by hand from the weights; a place that is not known adds nothing, one alone says nothing."""
    fire, front, flue = INFERRED_PER_SWING
    odds = INFERRED_BIAS + INFERRED_OF_PLACE[0] + 0.5 * fire + INFERRED_OF_PLACE[2] - 0.5 * flue
    chances = chance_of(np.array([[0.5, np.nan, -0.5], [0.9, np.nan, np.nan], [-0.5, -0.5, 0.0]]))

    assert chances[0] == pytest.approx(1.0 / (1.0 + np.exp(-odds)))
    assert np.isnan(chances[1])
    assert chances[2] < 0.01
    assert fire > 0.0
    assert front > 0.0
    assert flue < 0.0
    assert len(PLACES) == len(INFERRED_PER_SWING)


def test_reduction_is_told_after_six_minutes_with_its_chance(setup: EngineSetup) -> None:
    """Looks every four beats; it began in the middle of what the first of them saw."""
    ((beat, begins, hint),) = _looks(new_inferred(1), setup, range(FIRST, FIRST + 40), lambda b: _fire(setup, b, SHORT))
    first = _fire(setup, FIRST, SHORT).onsets[0]

    assert (beat, begins) == (FIRST + 12, True)
    assert 0.95 < hint.confidence[0] < 1.0
    assert hint.change.onset[0] == pytest.approx(0.5 * (first[-7] + first[-1]), abs=INTERVAL_S)


def test_air_to_spare_is_told_of_never(setup: EngineSetup) -> None:
    """Six hours of it."""
    assert _looks(new_inferred(1), setup, range(FIRST, FIRST + 720), lambda b: _fire(setup, b, SPARE)) == []


def test_a_short_lack_of_air_is_not_told(setup: EngineSetup) -> None:
    """Three looks say it, the fourth does not."""
    inferred = new_inferred(1)
    signs = {FIRST: SHORT, FIRST + 4: SHORT, FIRST + 8: SHORT}

    assert _looks(inferred, setup, range(FIRST, FIRST + 80), lambda b: _fire(setup, b, signs.get(b, SPARE))) == []


def test_it_ends_after_ten_minutes_of_air_to_spare_and_may_begin_again(setup: EngineSetup) -> None:
    """One pair at a time: begin, end, begin; the end is shown by temperatures, and lies after the onset."""
    inferred = new_inferred(1)
    spare = range(FIRST + 100, FIRST + 200)
    changes = _looks(
        inferred, setup, range(FIRST, FIRST + 300), lambda b: _fire(setup, b, SPARE if b in spare else SHORT)
    )

    assert [(beat - FIRST, begins) for beat, begins, _ in changes] == [(12, True), (120, False), (212, True)]
    end = changes[1][2]
    assert end.shown[0]
    assert changes[0][2].change.onset[0] < end.change.ended_at[0] < (FIRST + 120) * BEAT_S


def test_a_probe_that_speaks_ends_it_and_lets_none_begin(setup: EngineSetup) -> None:
    """At the very next beat, look or not."""
    inferred = _told(setup)

    def measured(beat: int) -> Fire:
        return replace(_fire(setup, beat, SHORT), measured=np.array([True]))

    ((beat, begins, hint),) = _looks(inferred, setup, range(FIRST + 17, FIRST + 200), measured)

    assert (beat, begins, bool(hint.shown[0])) == (FIRST + 17, False, False)
    assert hint.change.ended_at[0] == beat * BEAT_S


def test_a_closed_kiln_has_none(setup: EngineSetup) -> None:
    """What is told ends, and none begins, whatever the embers do."""
    inferred, closed = _told(setup), np.array([True])
    changes = _looks(inferred, setup, range(FIRST + 17, FIRST + 200), lambda b: _fire(setup, b, SHORT), closed)

    assert [(beat, begins) for beat, begins, _ in changes] == [(FIRST + 17, False)]


def _deaf(setup: EngineSetup, beat: int) -> Fire:
    fire = _fire(setup, beat, SPARE)
    fire.beats.last_beat[...] = FIRST
    fire.beats.span[...] = 0
    return fire


def _idle(setup: EngineSetup, beat: int) -> Fire:
    """Sensors speak, but nobody stokes."""
    fire = _fire(setup, beat, SPARE)
    return replace(fire, onsets=np.full_like(fire.onsets, np.nan))


def test_a_gap_holds_what_was_told(setup: EngineSetup) -> None:
    """Three hours without a sample say nothing."""
    inferred = _told(setup)

    assert _looks(inferred, setup, range(FIRST + 17, FIRST + 377), lambda b: _deaf(setup, b)) == []
    assert inferred.is_open.all()


def test_without_stokes_it_ends_though_nothing_shows_it(setup: EngineSetup) -> None:
    """Sensors speak and nobody stokes: after 45 min nothing tells any longer, and it is not said that air is there."""
    inferred = _told(setup)
    ((beat, begins, hint),) = _looks(inferred, setup, range(FIRST + 16, FIRST + 300), lambda b: _idle(setup, b))

    assert (beat - FIRST - 16, begins, bool(hint.shown[0])) == (88, False, False)


@pytest.mark.parametrize("doubted", [(0, 1), (0, 2), (1, 2)])
def test_a_doubtful_sensor_never_feeds_it(setup: EngineSetup, doubted: tuple[int, int]) -> None:
    """Two of three are in doubt, and one place alone says nothing."""

    def doubtful(beat: int) -> Fire:
        fire = _fire(setup, beat, SHORT)
        fire.doubtful[0, doubted] = True
        return fire

    assert _looks(new_inferred(1), setup, range(FIRST, FIRST + 200), doubtful) == []


def test_a_line_over_a_gap_is_no_swing(setup: EngineSetup) -> None:
    """Bridged cells, and cells from before a history began anew, are left out."""

    def bridged(beat: int) -> Fire:
        fire = _fire(setup, beat, SHORT)
        fire.beats.bridged[0, :2] = True
        return fire

    def young(beat: int) -> Fire:
        fire = _fire(setup, beat, SHORT)
        fire.beats.span[0, :2] = 20
        return fire

    for make in (bridged, young):
        assert _looks(new_inferred(1), setup, range(FIRST, FIRST + 200), make) == []


def test_a_cold_kiln_says_nothing(setup: EngineSetup) -> None:
    """At 590 degC the same swings are smoke; at 610 they count."""
    for celsius, count in ((590.0, 0), (610.0, 1)):
        changes = _looks(
            new_inferred(1), setup, range(FIRST, FIRST + 60), lambda b, c=celsius: _fire(setup, b, SHORT, c)
        )  # fmt: skip
        assert len(changes) == count


def _made_up(hours: tuple[tuple[int, tuple[float, ...]], ...], celsius: float = 850.0) -> FloatArray:
    """Temperatures (n, 3) of spells of so many hours: a sharp dip at every stoke in the firebox, and swings."""
    rng = np.random.default_rng(9)
    signs = np.concatenate([np.tile(sign, (spell * 720, 1)) for spell, sign in hours])
    since = (5.0 * np.arange(1, len(signs) + 1)) % INTERVAL_S
    wave = np.cos(2.0 * np.pi * since / INTERVAL_S)[:, None] * np.array([2.5, 1.0, 3.0])
    dip = np.array([-9.0, 0.0, 0.0]) * np.interp(since, [0.0, 30.0, 75.0], [0.0, 1.0, 0.0])[:, None]
    climb = 20.0 * np.arange(len(signs))[:, None] / 720.0
    return celsius + np.array([120.0, 0.0, -60.0]) + climb + signs * wave + dip + rng.normal(0.0, 0.15, (len(signs), 3))


def _of(told: list[tuple[int, Finding]]) -> list[Finding]:
    return [f for _, f in told if f.kind is FindingKind.REDUCTION]


def test_the_engine_tells_it_as_a_hint(
    make_engine: Callable[..., Engine], make_slots: Callable[..., Slots], start: float
) -> None:
    """Three hours with air to spare, three short of it, two to spare: one pair, and its words say what it is."""
    slots = make_slots(_made_up(((3, SPARE), (3, SHORT), (2, SPARE))))
    begin, end = _of(make_engine(["firebox", "front", "flue"]).judge(slots))

    assert (begin.state, end.state) == (FindingState.BEGIN, FindingState.END)
    assert begin.text.startswith("Inferred, ")
    assert end.text.startswith("Inferred, ")
    assert (begin.sensor, begin.measure, begin.unit, end.confidence) == (None, None, None, None)
    assert begin.confidence is not None
    assert 0.7 <= begin.confidence <= 1.0
    assert 3.0 <= (begin.time - start) / 3600.0 < 3.75
    assert (begin.onset - start) / 3600.0 == pytest.approx(3.0, abs=0.25)
    assert 6.0 <= (end.time - start) / 3600.0 < 6.75
    assert (end.onset - start) / 3600.0 == pytest.approx(6.0, abs=0.25)


def test_the_engine_tells_the_same_after_every_restart(
    make_engine: Callable[..., Engine],
    make_slots: Callable[..., Slots],
    cut_slots: Callable[[Slots, int, int], Slots],
    start: float,
) -> None:
    """Saved and taken up in the middle of a run of looks, while it is told, and while it is denied."""
    slots = make_slots(_made_up(((2, SPARE), (2, SHORT), (1, SPARE))))
    places = ["firebox", "front", "flue"]
    whole = _of(make_engine(places).judge(slots))
    engine, told = make_engine(places), []
    cuts = [0, 1600, 1700, 1773, 2500, 2999, 3100, 3211, len(slots.end)]
    for begin, end in pairwise(cuts):
        told += engine.judge(cut_slots(slots, begin, end))
        saved, engine = engine.save(), make_engine(places)
        engine.restore(saved)

    assert len(whole) == 2
    assert _of(told) == whole


def test_a_closed_up_engine_ends_it_then(
    make_engine: Callable[..., Engine],
    make_slots: Callable[..., Slots],
    cut_slots: Callable[[Slots, int, int], Slots],
    start: float,
) -> None:
    """Closing up is when it ended, and none begins after."""
    slots = make_slots(_made_up(((1, SPARE), (4, SHORT))))
    engine = make_engine(["firebox", "front", "flue"])
    begun = _of(engine.judge(cut_slots(slots, 0, 2160)))
    engine.close_up(start + 10_810.0)
    ended = _of(engine.judge(cut_slots(slots, 2160, len(slots.end))))

    assert [f.state for f in begun + ended] == [FindingState.BEGIN, FindingState.END]
    assert ended[0].onset == start + 10_810.0


PROBE = '[[sensor]]\nid = "gas"\ninput = "shed-1/o1"\ntype = "zirconia"\nplace = "flue"\n'


def test_where_a_probe_speaks_it_alone_counts(
    make_setup: Callable[..., EngineSetup], make_slots: Callable[..., Slots], start: float
) -> None:
    """Silent for four hours, while the kiln is taken to reduce; then it measures air to spare, and all ends at once."""
    setup = make_setup(["firebox", "front", "flue"], PROBE)
    celsius = _made_up(((1, SPARE), (5, SHORT)))
    probe = np.where(np.arange(len(celsius)) < 4 * 720, np.nan, 850.0)
    slots = make_slots(np.column_stack([celsius, probe]))
    lean_volts = 0.03
    slots.emf_min_volts[:, 0, 3] = slots.emf_max_volts[:, 0, 3] = np.where(np.isnan(probe), np.nan, lean_volts)
    hot = np.array(850.0)
    assert excess_air_from_oxygen(oxygen_share_from_emf(np.array(lean_volts), hot), hot) > 1.2
    begin, end = _of(Engine(setup).judge(slots))

    assert begin.text.startswith("Inferred, ")
    assert end.text == "Inferred, not measured: nothing tells any longer whether the kiln reduces."
    assert (end.time - start) / 60.0 == pytest.approx(240.0, abs=2.0)
