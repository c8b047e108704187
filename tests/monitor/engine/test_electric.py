"""Faults that show in the emf: cases that must be told and cases that must not."""

from collections.abc import Callable, Sequence

import numpy as np
import pytest

from monitor.engine.electric import Electric, judge_electric, new_electric, rests, warm_elsewhere
from monitor.engine.seen import new_last_heard, see
from monitor.engine.setup import EngineSetup
from monitor.model import FloatArray, Slots, Status

MakeSetup = Callable[..., EngineSetup]
NOISE_VOLTS = 1.5e-6
Told = list[tuple[float, str, str, float]]


def _slots(low: FloatArray, high: FloatArray) -> Slots:
    """Slots of one sensor whose samples lie between `low` and `high` volts, NaN where nothing was heard."""
    end = 5.0 * np.arange(1, len(low) + 1)
    shape = (len(low), 1, 1)
    heard = np.isfinite(low).reshape(shape)
    status = np.where(heard, Status.OK, Status.ABSENT).astype(np.uint8)
    mean = (0.5 * (low + high) / 40.0e-6).reshape(shape)
    count = np.where(heard, 5, 0)
    return Slots(
        end, end[:, None], mean, count, status, low.reshape(shape), high.reshape(shape), mean, np.zeros(shape, bool)
    )


def _noisy(volts: Sequence[float] | FloatArray) -> tuple[FloatArray, FloatArray]:
    """A converter's noise around `volts`: no two slots alike."""
    level = np.asarray(volts) + np.random.default_rng(1).normal(0.0, NOISE_VOLTS, len(volts))
    return level - 2.0 * NOISE_VOLTS, level + 2.0 * NOISE_VOLTS


def _judge(setup: EngineSetup, slots: Slots, *, warm: bool = True, electric: Electric | None = None) -> Told:
    electric = electric or new_electric((1, 1))
    seen = see(new_last_heard((1, 1)), slots, setup.present)
    told = []
    for i, end in enumerate(slots.end.tolist()):
        for change in judge_electric(electric, setup, seen.at(i), end=end, warm=np.array([[warm]])):
            state = "begin" if change.begun[0, 0] else "end"
            told.append((end, state, change.fault.value, float(change.onset[0, 0])))
    return told


def test_a_frozen_value_is_told_after_ten_minutes(make_setup: MakeSetup) -> None:
    """F18: the same code for 10 min (its noise is two counts rms); the onset is when it stopped moving."""
    low, high = _noisy([30.0e-3] * 260)
    low[100:230] = high[100:230] = 30.0e-3

    assert _judge(make_setup(), _slots(low, high)) == [
        (1100.0, "begin", "frozen", 500.0),
        (1155.0, "end", "frozen", 1150.0),
    ]


@pytest.mark.parametrize("same_slots", [1, 60, 119], ids=["once", "five minutes", "just under ten"])
def test_a_value_that_repeats_for_a_while_is_not_frozen(make_setup: MakeSetup, same_slots: int) -> None:
    """Two equal readings are chance; ten minutes of them are not."""
    low, high = _noisy([30.0e-3] * 260)
    low[100 : 100 + same_slots] = high[100 : 100 + same_slots] = 30.0e-3
    electric = new_electric((1, 1))

    assert _judge(make_setup(), _slots(low, high), electric=electric) == []
    assert rests(electric)


def test_silence_does_not_thaw_a_frozen_value(make_setup: MakeSetup) -> None:
    """A gap says nothing: the same value after it is still the same."""
    low = np.full(260, 30.0e-3)
    low[50:80] = np.nan

    assert _judge(make_setup(), _slots(low, low)) == [(600.0, "begin", "frozen", 0.0)]


def test_finished_temperatures_may_stand_for_half_an_hour(make_setup: MakeSetup) -> None:
    """They come in coarse steps; the emf is not known."""
    slots = _slots(np.full(500, 30.0e-3), np.full(500, 30.0e-3))
    unknown = np.full_like(slots.mean_c, np.nan)
    finished = Slots(
        slots.end, slots.known_at, slots.mean_c, slots.count, slots.status, unknown, unknown, unknown, slots.late
    )

    assert _judge(make_setup(), finished) == [(1800.0, "begin", "frozen", 0.0)]


@pytest.mark.parametrize("letter_slope_v_per_c", [40.0e-6, 6.0e-6], ids=["K", "S"])
def test_swapped_wires_are_told_while_the_kiln_is_young(make_setup: MakeSetup, letter_slope_v_per_c: float) -> None:
    """F05: the emf of a kiln that warms by 60 degC/h falls; told before the kiln is at 100 degC over the shed."""
    over_shed_c = 60.0 * np.arange(2 * 720) / 720.0
    told = _judge(make_setup(), _slots(*_noisy(-letter_slope_v_per_c * over_shed_c)))

    assert [(state, fault) for _, state, fault, _ in told] == [("begin", "reversed")]
    assert over_shed_c[int(told[0][0] / 5.0) - 1] < 100.0


def test_a_flue_colder_than_the_box_by_the_kiln_is_not_reversed(make_setup: MakeSetup) -> None:
    """Half the night 0.25 mV below (6 degC of type K), while the chamber warms: a cold flue is no fault."""
    assert _judge(make_setup(), _slots(*_noisy([-0.25e-3] * 3000))) == []


def test_a_hot_reversed_probe_is_told_at_once(make_setup: MakeSetup) -> None:
    """Someone swaps the wires of a hot probe: nothing in a kiln is at -50 degC. The way back ends it."""
    volts = [30.0e-3] * 20 + [-30.0e-3] * 30 + [30.0e-3] * 20
    told = _judge(make_setup(), _slots(*_noisy(volts)), warm=False)

    assert told == [(130.0, "begin", "reversed", 100.0), (255.0, "end", "reversed", 250.0)]


def test_a_cold_kiln_below_the_shed_is_not_reversed(make_setup: MakeSetup) -> None:
    """On a frosty morning the probes are colder than the box in the sun; nowhere is a fire."""
    told = _judge(make_setup(), _slots(*_noisy([-0.6e-3] * 720)), warm=False)

    assert told == []


def test_spikes_are_told_at_the_tenth_and_end_after_ten_calm_minutes(make_setup: MakeSetup) -> None:
    """F20: one sample in fifty is 5 mV off, in slots of five samples: every tenth slot is wide."""
    low, high = _noisy([30.0e-3] * 400)
    high[10:110:10] += 5.0e-3

    assert _judge(make_setup(), _slots(low, high)) == [
        (510.0, "begin", "spikes", 50.0),  # the slot after the tenth shows that it came back
        (1105.0, "end", "spikes", 505.0),
    ]


def test_lone_samples_far_off_count_as_spikes(make_setup: MakeSetup) -> None:
    """Read once a slot there is no width; the sample after it shows that the emf came back."""
    level = 30.0e-3 + np.random.default_rng(2).normal(0.0, NOISE_VOLTS, 200)
    level[10:170:12] -= 3.0e-3
    told = _judge(make_setup(), _slots(level, level))

    assert [(state, fault) for _, state, fault, _ in told] == [("begin", "spikes")]
    assert told[0][0] == 5.0 * (10 + 9 * 12 + 2)


@pytest.mark.parametrize(
    "wide",
    [[50], list(range(10, 100, 10)), list(range(10, 400, 20))],
    ids=["one", "nine in ten minutes", "one in 100 s"],
)
def test_few_spikes_are_no_finding(make_setup: MakeSetup, wide: list[int]) -> None:
    """Nine in ten minutes stay below the mark, and so does one every 100 s."""
    low, high = _noisy([30.0e-3] * 400)
    high[wide] += 5.0e-3

    assert _judge(make_setup(), _slots(low, high)) == []


def test_a_step_that_stays_is_no_spike(make_setup: MakeSetup) -> None:
    """The sample after it does not come back."""
    level = np.where(np.arange(400) // 20 % 2 == 0, 30.0e-3, 33.0e-3)
    level = level + np.random.default_rng(3).normal(0.0, NOISE_VOLTS, 400)

    assert _judge(make_setup(), _slots(level, level)) == []


def test_warm_elsewhere_asks_another_sensor(make_setup: MakeSetup) -> None:
    """A sensor does not vouch for itself, timber for none; a lone sensor is never told warm."""
    setup = make_setup(["firebox", "middle", "timber"])

    assert warm_elsewhere(setup, np.array([[200.0, 20.0, 90.0]])).tolist() == [[False, True, True]]
    assert warm_elsewhere(setup, np.array([[np.nan, np.nan, 90.0]])).tolist() == [[False] * 3]
    assert warm_elsewhere(make_setup(), np.array([[900.0]])).tolist() == [[False]]
