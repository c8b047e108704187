"""Sealed blocks, bit for bit."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.model import InputFault, Reading, Scan
from monitor.store.cells import cells_of, encode_cells
from monitor.store.codec import decode, encode, with_crc, without_crc
from monitor.store.errors import BlockDamageError
from monitor.store.scan_columns import ScanColumns, TailRow, columns_of, scans_of

numbers = st.none() | st.floats(width=64) | st.floats(-0.1, 0.1).map(lambda x: round(x, 7))
readings = st.fixed_dictionaries(
    {
        "emf_volts": numbers,
        "cold_junction_c": numbers,
        "fault": st.none() | st.sampled_from(InputFault),
        "temperature_c": numbers,
        "oxygen_emf_volts": numbers,
        "contact": st.none() | st.booleans(),
    }
)
scans = st.builds(
    lambda time, clock, boot, seq, late, found: (
        Scan("n", time, tuple(Reading(f"n/{name}", **kinds) for name, kinds in found.items()), boot=boot, seq=seq),
        clock,
        late,
    ),
    time=st.floats(0, 4e9),
    clock=st.floats(0, 4e9),
    boot=st.none() | st.text(max_size=8),
    seq=st.none() | st.integers(0, 2**53),
    late=st.booleans(),
    found=st.dictionaries(st.sampled_from("abc"), readings, max_size=3),
)


def same(left: ScanColumns, right: ScanColumns) -> bool:
    """Tell whether both are equal bit for bit."""
    arrays = ("row", "late", "seq", "boot", "told", "fault")
    floats = [(left.time, right.time), (left.clock, right.clock)]
    floats += [(left.numbers[name], right.numbers[name]) for name in left.numbers]
    return (
        (left.node, left.inputs, left.boots) == (right.node, right.inputs, right.boots)
        and list(left.numbers) == list(right.numbers)
        and all(np.array_equal(getattr(left, name), getattr(right, name)) for name in arrays)
        and all(np.array_equal(np.where(np.isnan(a), 0, a), np.where(np.isnan(b), 0, b)) for a, b in floats)
        and all(np.array_equal(a.view(np.int64)[~np.isnan(a)], b.view(np.int64)[~np.isnan(b)]) for a, b in floats)
        and all(np.array_equal(np.isnan(a), np.isnan(b)) for a, b in floats)
    )


@settings(max_examples=60, deadline=None)
@given(arrived=st.lists(scans, min_size=1, max_size=8))
def test_any_scans_come_back(arrived: list[tuple[Scan, float, bool]]) -> None:
    """Whatever mixture of inputs, kinds, faults, boots and odd numbers: columns are the same after sealing."""
    rows = [
        TailRow(3 * i + 1, "n", scan.boot, scan.seq, scan.time, clock, late, encode_cells(cells_of(scan.readings)))
        for i, (scan, clock, late) in enumerate(arrived)
    ]
    columns = columns_of(rows)

    assert same(decode(encode(columns)), columns)


def test_an_hour_comes_back_and_is_small(make_row: Callable[..., TailRow]) -> None:
    """An hour of two noisy inputs: the same scans, at under 1.2 bytes a sample (few inputs share the times' cost)."""
    columns = columns_of([make_row(number) for number in range(3600)])

    sealed = encode(columns)

    assert list(scans_of(decode(sealed))) == list(scans_of(columns))
    assert len(sealed) / (3600 * 2) < 1.2


def test_twelve_realistic_inputs_take_under_0_8_bytes_a_sample() -> None:
    """Converter noise of 1.3 uV rms (MAX31856 datasheet), cold junctions in 1/64 degC with half a step of noise."""
    chance = np.random.default_rng(7)
    step = 78.125e-3 / 2**17
    codes = np.rint(50_000 + np.linspace(0, 3000, 3600)[:, None] + chance.normal(0, 1.3e-6 / step, (3600, 12)))
    cold = np.rint((25 + chance.normal(0, 0.008, (3600, 12))) * 64) / 64
    rows = []
    for i in range(3600):
        measured = zip((codes[i] * step).round(9).tolist(), cold[i].round(2).tolist(), strict=True)
        cells = encode_cells(cells_of([Reading(f"n/t{j}", emf, cj) for j, (emf, cj) in enumerate(measured)]))
        at = round(1_764_000_000.25 + i + chance.normal(0, 0.001), 3)
        rows.append(TailRow(i + 1, "n", "9f3ac2d1", i, at, round(at + 0.09, 3), False, cells))

    assert len(encode(columns_of(rows))) / (3600 * 12) < 0.8


def test_a_flipped_bit_is_found_anywhere(make_row: Callable[..., TailRow]) -> None:
    """Each byte of a sealed block is guarded by the CRC."""
    sealed = encode(columns_of([make_row(number) for number in range(20)]))
    for position in range(0, len(sealed), 7):
        broken = bytearray(sealed)
        broken[position] ^= 0x10

        with pytest.raises(BlockDamageError, match="CRC"):
            decode(bytes(broken))


@pytest.mark.parametrize("sealed", [b"", b"\0", b"\0\0\0\0"])
def test_too_few_bytes_are_damage(sealed: bytes) -> None:
    """Nothing at all is not a block."""
    with pytest.raises(BlockDamageError, match=f"{len(sealed)} bytes"):
        decode(sealed)


def test_an_unknown_format_is_named() -> None:
    """A block of a newer format says so."""
    with pytest.raises(BlockDamageError, match="format 9 is not known"):
        decode(with_crc(b"\x09rest"))


def test_a_broken_form_under_a_right_crc_is_damage() -> None:
    """Bytes that are no block are damage, never a crash."""
    with pytest.raises(BlockDamageError, match="form is broken"):
        decode(with_crc(b"\x01\xc1"))


def test_the_crc_is_that_of_iso_hdlc() -> None:
    """CRC-32/ISO-HDLC of "123456789" is cbf43926, the check value of the CRC catalogues."""
    assert with_crc(b"123456789")[-4:] == bytes.fromhex("cbf43926")[::-1]
    assert without_crc(with_crc(b"123456789")) == b"123456789"
