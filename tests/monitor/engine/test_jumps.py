"""Jumps of a reading: contacts that must be told, and heat that must not."""

from collections.abc import Callable

import numpy as np
import pytest

from monitor.engine.beats import Beats, new_beats
from monitor.engine.jumps import is_under_way, judge_jumps, judge_offsets, keep_slot, new_jumps
from monitor.engine.seen import new_last_heard, see
from monitor.model import FloatArray, Slots

MakeSlots = Callable[..., Slots]
Told = list[tuple[float, str, str, float, float]]
HEAT = np.ones((1, 1), bool)
CLIMB_C_PER_SLOT = 40.0 / 720.0


def _ramp(slots: int, from_c: float = 900.0) -> FloatArray:
    return from_c + CLIMB_C_PER_SLOT * np.arange(slots) + np.random.default_rng(4).normal(0.0, 0.1, slots)


def _judge(slots: Slots, start: float, beats: Beats | None = None, *, in_flame: bool = False) -> Told:
    jumps = new_jumps((1, 1))
    beats = beats or new_beats((1, 1))
    seen = see(new_last_heard((1, 1)), slots, HEAT)
    told = []
    for i, end in enumerate(slots.end.tolist()):
        keep_slot(jumps, seen.at(i), seen.heard[i] & np.isfinite(seen.mean_c[i]), end)
        for change in judge_jumps(
            jumps, beats, seen.at(i), end=end, able=HEAT, in_flame=HEAT & in_flame
        ) + judge_offsets(jumps, seen.mean_c[i], end):
            assert change.measure_c is not None
            state = "begin" if change.begun[0, 0] else "end"
            onset, size = float(change.onset[0, 0]) - start, float(change.measure_c[0, 0])
            told.append((end - start, state, change.fault.value, onset, round(size)))
    assert not is_under_way(jumps)
    return told


def test_a_lead_shorted_at_the_head_is_told_within_a_minute(make_slots: MakeSlots, start: float) -> None:
    """F03: from 900 degC to the head's 60 in one scan; the way back ends it."""
    celsius = _ramp(200)
    celsius[100:160] = 60.0 + 0.01 * np.arange(60)

    told = _judge(make_slots(celsius), start)

    assert [t[:4] for t in told] == [(540.0, "begin", "short", 500.0), (840.0, "end", "short", 800.0)]


def test_a_short_that_falls_within_a_slot_is_told_too(make_slots: MakeSlots, start: float) -> None:
    """The slot in which it happens has a mean between both."""
    celsius = _ramp(200)
    celsius[100], celsius[101:] = 400.0, 60.0

    assert [t[1:3] for t in _judge(make_slots(celsius), start)] == [("begin", "short")]


def test_a_probe_that_slipped_is_told_as_drift(make_slots: MakeSlots, start: float) -> None:
    """F13: a step of -15 degC that stays; the step back ends it."""
    celsius = _ramp(300)
    celsius[100:200] -= 15.0

    told = _judge(make_slots(celsius), start)

    assert [t[:4] for t in told] == [(540.0, "begin", "drift", 500.0), (1040.0, "end", "drift", 1000.0)]
    assert told[0][4] == -15


def test_where_flame_passes_only_a_large_step_is_no_heat(make_slots: MakeSlots, start: float) -> None:
    """A flue's gas moves by 11 degC in a slot when a port is charged; by 25 it does not, and stay there."""
    small, large = _ramp(300), _ramp(300)
    small[100:] += 11.0
    large[100:] += 25.0

    assert [t[1:3] for t in _judge(make_slots(small), start)] == [("begin", "drift")]
    assert _judge(make_slots(small), start, in_flame=True) == []
    assert [t[1:3] for t in _judge(make_slots(large), start, in_flame=True)] == [("begin", "drift")]


def _first_order(slots: int, at: int, to_c: float, lag_s: float) -> FloatArray:
    """900 degC, going first order to `to_c` from slot `at` on."""
    celsius = np.full(slots, 900.0)
    age_s = 5.0 * (np.arange(slots) - at)
    return np.where(age_s > 0, to_c + (900.0 - to_c) * np.exp(-age_s / lag_s), celsius)


@pytest.mark.parametrize(("to_c", "lag_s"), [(20.0, 60.0), (880.0, 30.0), (860.0, 20.0), (700.0, 90.0), (960.0, 25.0)])
def test_heat_is_no_jump_however_fast(make_slots: MakeSlots, start: float, to_c: float, lag_s: float) -> None:
    """A probe pulled out, a stoke, an open door, a burst of flame: a sheath answers first order and goes on moving."""
    assert _judge(make_slots(_first_order(200, 100, to_c, lag_s)), start) == []


def test_a_dip_and_return_is_no_jump(make_slots: MakeSlots, start: float) -> None:
    """Down for three slots and back."""
    celsius = _ramp(200)
    celsius[100:103] -= 20.0

    assert _judge(make_slots(celsius), start) == []


def test_a_change_over_a_gap_is_no_jump(make_slots: MakeSlots, start: float) -> None:
    """Nobody saw how it went."""
    celsius = _ramp(200)
    celsius[90:110] = np.nan
    celsius[110:] -= 30.0

    assert _judge(make_slots(celsius), start) == []


def test_a_probe_read_every_other_slot_is_told_short_but_not_off(make_slots: MakeSlots, start: float) -> None:
    """In 10 s a small sheath follows a stoke as a contact would jump; from 900 degC to the head's 60 none does."""
    unread = np.arange(200) % 2 == 1
    stoked, shorted = _first_order(200, 99, 880.0, 4.0), _ramp(200)
    shorted[100:] = 60.0
    stoked[unread] = shorted[unread] = np.nan

    assert _judge(make_slots(stoked), start) == []
    assert [t[1:3] for t in _judge(make_slots(shorted), start)] == [("begin", "short")]


def test_a_step_must_stand_out_of_what_is_usual(make_slots: MakeSlots, start: float) -> None:
    """Where beats change by 4 degC anyway, a step of 15 is not told: six times 4 is more."""
    celsius = _ramp(200)
    celsius[100:] -= 15.0
    lively = new_beats((1, 1))
    lively.ring[0, 0] = 900.0 + 4.0 * (np.arange(lively.ring.shape[2]) % 2)

    assert _judge(make_slots(celsius), start, lively) == []


def test_timber_and_padding_do_not_jump(make_slots: MakeSlots) -> None:
    """Only sensors of fire or ware are judged."""
    celsius = _ramp(200)
    celsius[100:] -= 15.0
    slots = make_slots(celsius)
    jumps, beats, seen = new_jumps((1, 1)), new_beats((1, 1)), see(new_last_heard((1, 1)), slots, HEAT)

    for i, end in enumerate(slots.end.tolist()):
        keep_slot(jumps, seen.at(i), seen.heard[i] & ~HEAT, end)
        assert judge_jumps(jumps, beats, seen.at(i), end=end, able=~HEAT, in_flame=~HEAT) == []


def test_two_steps_the_same_way_are_one_drift(make_slots: MakeSlots, start: float) -> None:
    """It begins once, and ends when both are made good."""
    celsius = _ramp(500)
    celsius[100:400] -= 15.0
    celsius[200:300] -= 15.0

    assert [t[1] for t in _judge(make_slots(celsius), start)] == ["begin", "end"]
