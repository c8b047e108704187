"""Whole numbers to few bytes and back."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from monitor.store import packing
from monitor.store.packing import ALL_TRANSFORMS, TRANSFORMS, pack, unpack

INT64 = np.iinfo(np.int64)
matrices = hnp.arrays(
    np.int64,
    st.tuples(st.integers(1, 200), st.integers(1, 3)),
    elements=st.one_of(st.integers(INT64.min, INT64.max), st.integers(-20, 20)),
)


@settings(max_examples=60, deadline=None)
@given(matrix=matrices)
def test_any_numbers_come_back(matrix: np.ndarray) -> None:
    """What was packed is unpacked to the very same int64, extremes included."""
    assert np.array_equal(unpack(pack(matrix)), matrix)


@pytest.mark.parametrize("name", ALL_TRANSFORMS)
@pytest.mark.parametrize("moments", [1, 2, 3, 4, 5, 8, 9, 63, 64, 65, 127, 128, 129, 1000])
def test_each_transform_is_undone_at_every_length(name: str, moments: int) -> None:
    """Forward then backward gives the matrix again, whatever the length, with full-range numbers."""
    forward, backward = TRANSFORMS[name]
    matrix = np.random.default_rng(moments).integers(INT64.min, INT64.max, (moments, 2), endpoint=True)

    assert np.array_equal(backward(forward(matrix), moments, 2), matrix)


def test_lifting_tells_a_straight_line_by_zeros() -> None:
    """The 5/3 wavelet has two vanishing moments (Cohen, Daubechies, Feauveau 1992): a ramp has no details."""
    forward, _ = TRANSFORMS["lifting"]
    ramp = 8 * np.arange(1024, dtype=np.int64)[:, None]

    details = forward(ramp)[:511]  # the last one has only one neighbour

    assert not details.any()


def test_white_noise_costs_little_more_than_its_entropy() -> None:
    """Gaussian noise of 2.2 steps has log2(2.2 * sqrt(2 pi e)) = 3.18 bits; packing stays within a quarter more."""
    noise = np.rint(np.random.default_rng(1).normal(0, 2.2, (3600, 12))).astype(np.int64)
    entropy_bits = np.log2(2.2 * np.sqrt(2 * np.pi * np.e))

    packed = pack(noise)

    assert 8 * (len(packed.symbols) + len(packed.escapes)) / noise.size < 1.25 * entropy_bits


def test_a_steady_count_costs_almost_nothing() -> None:
    """A sequence number or an unchanging flag over an hour takes under 100 bytes."""
    count = np.stack([np.arange(18231, 18231 + 3600), np.full(3600, 7)], axis=1)

    packed = pack(count)

    assert len(packed.symbols) + len(packed.escapes) < 100


def test_the_smallest_candidate_is_kept() -> None:
    """No single transform packs a slow value under sub-step noise smaller than the choice among all."""
    chance = np.random.default_rng(2)
    matrix = np.rint(chance.normal(0, 0.5, (3600, 4)) + np.linspace(0, 40, 3600)[:, None]).astype(np.int64)
    sizes = {}
    for name in ALL_TRANSFORMS:
        only = pack(matrix, (name,))
        sizes[name] = len(only.symbols) + len(only.escapes)

    best = pack(matrix)

    assert len(best.symbols) + len(best.escapes) == min(sizes.values())
    assert best.transform == min(sizes, key=sizes.__getitem__) == "line"


def test_an_escape_of_every_width_comes_back() -> None:
    """Numbers at the edge of each symbol width are kept exactly."""
    words = np.array([0, 2, 3, 4, 14, 15, 16, 254, 255, 256, 2**63, 2**64 - 1], np.uint64)
    for width in packing.WIDTHS:
        symbols, escapes = packing._split(words, width)

        assert np.array_equal(packing._join(symbols, escapes, count=len(words), width=width), words)
