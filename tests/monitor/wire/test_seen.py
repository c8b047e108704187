"""What was seen is known for ever."""

from itertools import pairwise

import msgspec
from hypothesis import given
from hypothesis import strategies as st

from monitor.wire import seen
from monitor.wire.seen import SeenNumbers, SeenTimes


@given(st.lists(st.integers(0, 40), max_size=80))
def test_numbers_are_new_once(numbers: list[int]) -> None:
    """Ranges know what a set knows, stay disjoint and apart, and count what is missing."""
    ranges, told = SeenNumbers(), set[int]()
    for number in numbers:
        assert ranges.add(number) == (number not in told)
        told.add(number)

    pairs = list(zip(ranges.lows, ranges.highs, strict=True))
    assert [n for low, high in pairs for n in range(low, high + 1)] == sorted(told)
    assert all(b[0] > a[1] + 1 for a, b in pairwise(pairs))
    assert ranges.highest == max(told, default=-1)


@given(st.sets(st.integers(0, 30)), st.integers(-1, 31), st.integers(0, 31))
def test_missing_and_reach_agree_with_a_set(told: set[int], low: int, length: int) -> None:
    """What is missing, and how far all is seen, is what walking a set finds."""
    ranges = SeenNumbers()
    for number in told:
        ranges.add(number)
    reach = low
    while reach + 1 in told:
        reach += 1

    assert ranges.missing_between(low, low + length) == len(set(range(low, low + length + 1)) - told)
    assert ranges.reach(low) == reach


@given(st.lists(st.sampled_from([1764000000.25 + k / 8 for k in range(30)]), max_size=60))
def test_times_are_new_once(times: list[float]) -> None:
    """Times are told apart to the last bit, in whatever order they come, also after a restart."""
    kept, told = SeenTimes(), set[float]()
    for time in times:
        kept = msgspec.msgpack.decode(msgspec.msgpack.encode(kept), type=SeenTimes)
        assert kept.add(time) == (time not in told)
        told.add(time)

    assert len(kept.packed) == 8 * len(told)


def test_oldest_times_are_forgotten_and_count_as_seen() -> None:
    """Memory is bounded: beyond the limit the oldest tenth goes, and what lies there is taken for a repeat."""
    kept = SeenTimes()
    for time in range(seen.MAX_TIMES + 1):
        kept.add(float(time))
    first_kept = seen.MAX_TIMES // 10

    assert kept.forgotten_before == first_kept
    assert not kept.add(0.5)
    assert kept.add(first_kept + 0.5)
    assert len(kept.packed) == 8 * (seen.MAX_TIMES + 1 - first_kept + 1)
