"""Lowest and highest temperature per minute."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from monitor.store.codec import with_crc
from monitor.store.errors import BlockDamageError
from monitor.store.heads import Heads, build_heads, decode_heads, encode_heads, reduce_by

celsius = st.floats(-200, 3000, width=32) | st.just(float("nan"))


@st.composite
def temperatures(draw: st.DrawFn) -> tuple[np.ndarray, np.ndarray]:
    """Draw times in any order within a quarter of an hour, and temperatures of three sensors."""
    count = draw(st.integers(0, 40))
    time = draw(hnp.arrays(np.float64, count, elements=st.floats(1.7e9, 1.7e9 + 900)))
    return time, draw(hnp.arrays(np.float64, (count, 3), elements=celsius))


def same(left: Heads, right: Heads) -> bool:
    """Tell whether both are equal."""
    return (
        np.array_equal(left.bucket, right.bucket)
        and np.array_equal(left.low, right.low, equal_nan=True)
        and np.array_equal(left.high, right.high, equal_nan=True)
    )


@settings(max_examples=80, deadline=None)
@given(measured=temperatures())
def test_heads_hold_all_values_tightly_and_come_back(measured: tuple[np.ndarray, np.ndarray]) -> None:
    """In any order of time: each head spans its minute's values by at most 1/16 degC more on each side."""
    time, values = measured

    heads = build_heads(time, values)

    assert same(decode_heads(encode_heads(heads)), heads)
    is_any = ~np.isnan(values).all(axis=1)
    assert heads.bucket.tolist() == sorted(set(np.floor(time[is_any] / 60).astype(int).tolist()))
    for at, bucket in enumerate(heads.bucket):
        for sensor in range(3):
            inside = values[np.floor(time / 60) == bucket, sensor]
            inside = inside[~np.isnan(inside)].astype(np.float32)
            low, high = heads.low[at, sensor], heads.high[at, sensor]
            if not len(inside):
                assert np.isnan(low)
                assert np.isnan(high)
            else:
                assert 0 <= inside.min() - low <= 1 / 16
                assert 0 <= high - inside.max() <= 1 / 16


def test_an_hour_of_twelve_sensors_takes_less_than_a_byte_a_number() -> None:
    """The 1,440 numbers of noisy sensors, scattered by 2 degC rms in each scan, take fewer bytes than numbers."""
    chance = np.random.default_rng(3)
    time = 1_764_000_000.0 + np.arange(3600)
    values = 800 + 40 * np.arange(3600)[:, None] / 3600 + chance.normal(0, 2, (3600, 12))

    assert len(encode_heads(build_heads(time, values))) < 60 * 12 * 2


def test_no_cells_reduce_to_none() -> None:
    """Nothing in, nothing out."""
    cell, low, high = reduce_by(np.zeros(0, np.int64), np.zeros((0, 2)), np.zeros((0, 2)))

    assert len(cell) == len(low) == len(high) == 0


def test_damage_is_found() -> None:
    """A flipped bit, and a form that is no head, are damage."""
    sealed = bytearray(encode_heads(build_heads(np.array([60.0]), np.array([[1.0]]))))
    sealed[3] ^= 1

    with pytest.raises(BlockDamageError, match="CRC"):
        decode_heads(bytes(sealed))
    with pytest.raises(BlockDamageError, match="heads"):
        decode_heads(with_crc(b"\xc1"))
