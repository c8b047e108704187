"""What a slot shows against the last one heard, however slots are cut."""

from collections.abc import Callable

import numpy as np
import pytest

from monitor.engine.seen import LastHeard, is_odd, new_last_heard, see
from monitor.model import Slots

MakeSlots = Callable[..., Slots]
CutSlots = Callable[[Slots, int, int], Slots]
PRESENT = np.ones((1, 1), bool)


def test_a_slot_is_compared_with_the_last_one_heard_before_it(make_slots: MakeSlots, start: float) -> None:
    """Gaps are passed over; before the first nothing is known."""
    seen = see(new_last_heard((1, 1)), make_slots(np.array([500.0, np.nan, np.nan, 503.0])), PRESENT)

    np.testing.assert_array_equal(seen.before_c[:, 0, 0], [np.nan, 500.0, 500.0, 500.0])
    np.testing.assert_array_equal(seen.before_end[:, 0, 0], [np.nan, start + 5.0, start + 5.0, start + 5.0])
    assert seen.heard[:, 0, 0].tolist() == [True, False, False, True]
    assert seen.at(3).mean_c[0, 0] == 503.0


def test_any_cut_shows_the_same(make_slots: MakeSlots, cut_slots: CutSlots) -> None:
    """What was last heard is carried from call to call."""
    rng = np.random.default_rng(5)
    celsius = np.where(rng.random((40, 2)) < 0.4, np.nan, 600.0 + rng.normal(0.0, 1.0, (40, 2)))
    slots, present = make_slots(celsius), np.ones((1, 2), bool)
    whole = see(new_last_heard((1, 2)), slots, present)
    last: LastHeard = new_last_heard((1, 2))
    parts = [see(last, cut_slots(slots, a, b), present) for a, b in ((0, 1), (1, 7), (7, 7), (7, 30), (30, 40))]

    for name in ("mean_c", "before_c", "before_end", "before_volts", "is_same", "is_wide"):
        together = np.concatenate([getattr(p, name) for p in parts])
        np.testing.assert_array_equal(together, getattr(whole, name), err_msg=name)


@pytest.mark.parametrize(
    ("celsius", "odd"),
    [
        ([600.0, 601.0, 602.0], [False, False, False]),
        ([600.0, 609.0, 609.5], [False, True, False]),
        ([600.0, np.nan, np.nan, 609.0], [False, False, False, False]),
        ([20.0, -12.0, -12.5], [False, True, True]),
    ],
    ids=["plain", "a jump", "a change over a gap", "below nothing"],
)
def test_odd_slots_are_picked_out(make_slots: MakeSlots, celsius: list[float], odd: list[bool]) -> None:
    """A jump from one slot to the next and a negative emf; a change over a gap of silence is no jump."""
    slots = make_slots(np.array(celsius))

    assert is_odd(see(new_last_heard((1, 1)), slots, PRESENT), slots.end).tolist() == odd


def test_an_emf_that_is_not_looked_at_makes_no_slot_odd(make_slots: MakeSlots) -> None:
    """An oxygen cell's emf may be as wide or as negative as it likes: its slots are as plain as others."""
    slots = make_slots(np.array([-12.0, -12.5, -12.0]))
    slots.emf_max_volts[:] = slots.emf_min_volts + 0.4e-3

    assert not is_odd(see(new_last_heard((1, 1)), slots, ~PRESENT), slots.end).any()
    assert is_odd(see(new_last_heard((1, 1)), slots, PRESENT), slots.end).all()


def test_the_very_same_value_is_odd(make_slots: MakeSlots) -> None:
    """An emf without any width, or a finished temperature equal to the last bit; noise makes it plain."""
    noisy = make_slots(np.full(3, 600.0))
    nothing = np.full_like(noisy.mean_c, np.nan)
    flat, finished = (
        Slots(noisy.end, noisy.known_at, noisy.mean_c, noisy.count, noisy.status, emf, emf, nothing, noisy.late)
        for emf in (noisy.emf_min_volts, nothing)
    )
    same = [see(new_last_heard((1, 1)), slots, PRESENT).is_same[:, 0, 0].tolist() for slots in (noisy, flat, finished)]

    assert same == [[False] * 3, [False, True, True], [False, True, True]]


def test_padding_is_never_heard(make_slots: MakeSlots) -> None:
    """A column that belongs to no sensor says nothing."""
    seen = see(new_last_heard((1, 2)), make_slots(np.full((3, 2), 600.0)), np.array([[True, False]]))

    assert seen.heard[:, 0].tolist() == [[True, False]] * 3
