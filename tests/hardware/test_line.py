"""Packs and heartbeats, read with CPython's zlib and json and checked against RFC 8428."""

import zlib
from fractions import Fraction

import pytest
from converter import BUS, COLD_JUNCTION, NO_COLD_JUNCTION, OPEN, RANGE, SET_UP, STUCK, VALUE, WAITING
from line import REST, pack_text, parse_heartbeat, sealed
from serial_lines import by_name, read_pack

K, S = ("t1", 23), ("t2", 25)


def test_a_scan_is_one_pack_with_its_identity():
    """Emf and cold junction exact, then boot, seq, oldest, up; no time, which RFC 8428 section 4.5.3 reads as now."""
    scan = (7, 123456, [(VALUE, 55829, 1588), (VALUE, -1, -1)])

    records = read_pack(sealed(pack_text("shed-1", "9f3ac2d1", [K, S], scan, oldest=3)))

    assert records == [
        {"bn": "shed-1/", "n": "t1/emf", "u": "V", "v": Fraction(55829 * 5, 2**23)},
        {"n": "t1/cj", "u": "Cel", "v": Fraction(1588, 64)},
        {"n": "t2/emf", "u": "V", "v": Fraction(-5, 2**25)},
        {"n": "t2/cj", "u": "Cel", "v": Fraction(-1, 64)},
        {"n": "boot", "vs": "9f3ac2d1"},
        {"n": "seq", "u": "count", "v": 7},
        {"n": "oldest", "u": "count", "v": 3},
        {"n": "up", "u": "s", "v": Fraction(123456, 1000)},
    ]


@pytest.mark.parametrize(
    ("kind", "name", "word"),
    [
        (OPEN, "t1/fault", "open"),
        (RANGE, "t1/fault", "range"),
        (COLD_JUNCTION, "t1/fault", "cold-junction"),
        (BUS, "t1/converter", "bus"),
        (SET_UP, "t1/converter", "set-up"),
        (WAITING, "t1/converter", "no-result"),
        (STUCK, "t1/converter", "ready-stuck"),
    ],
)
def test_an_input_without_a_value_has_a_word_and_no_number(kind, name, word):
    """A probe's fault stands in place of the emf; a converter's trouble goes under a name that the host ignores."""
    seen = by_name(sealed(pack_text("n", "b", [K], (1, 0, [(kind, 0, NO_COLD_JUNCTION)]), 1)))

    assert seen == {name: word, "boot": "b", "seq": 1, "oldest": 1, "up": 0}


def test_a_fault_keeps_a_good_cold_junction():
    """An open probe says nothing about the box it ends in."""
    seen = by_name(sealed(pack_text("n", "b", [K], (1, 0, [(OPEN, 0, 640)]), 1)))

    assert seen["t1/fault"] == "open"
    assert seen["t1/cj"] == 10


def test_a_scan_sent_again_carries_its_age():
    """The base time is negative: so long ago (RFC 8428 section 4.5.3), and belongs to the first record."""
    records = read_pack(sealed(pack_text("n", "b", [K], (1, 2000, [(VALUE, 1, 1)]), 1, age_ms=45678)))

    assert records[0]["bt"] == Fraction(-45678, 1000)
    assert all("bt" not in record for record in records[1:])


def test_the_checksum_is_that_of_iso_hdlc():
    """The published check of CRC-32/ISO-HDLC: 123456789 gives cbf43926."""
    assert sealed("123456789") == b"123456789 cbf43926\n"


def test_the_checksum_keeps_its_leading_zeros():
    """Eight digits always; these texts have a leading zero (found by trying numbers with zlib)."""
    for text in ("33", "37", "62"):
        assert sealed(text) == f"{text} {zlib.crc32(text.encode()):08x}\n".encode()
        assert sealed(text)[3:4] == b"0"


def test_the_longest_scan_is_far_below_the_longest_line():
    """Four inputs with the longest numbers stay below 1,000 bytes, and the link allows 16,384."""
    inputs = [(f"input-{number}", 25) for number in range(4)]
    scan = (2**32, 2**42, [(VALUE, -131071, -2559)] * 4)

    assert len(sealed(pack_text("a-long-node-name", "9f3ac2d1", inputs, scan, 2**32, 2**32))) < 1000


@pytest.mark.parametrize(
    ("heard", "meant"),
    [
        (b"alive 9f3ac2d1 18231", ("alive", b"9f3ac2d1", 18231)),
        (b"alive - 0", ("alive", None, 0)),
        (b"alive b 0", ("alive", b"b", 0)),
        (b"rest", REST),
    ],
)
def test_heartbeats_are_understood(heard, meant):
    """The three things a host says."""
    assert parse_heartbeat(heard) == meant


@pytest.mark.parametrize(
    "heard",
    [
        *(
            b"",
            b"alive",
            b"alive b",
            b"alive b x",
            b"alive b -1",
            b"alive b 1 2",
            b"alive  1",
            b"alive b 12345678901234567",
        ),
        *(b"rest now", b"REST", b"Alive b 1", b"\xff\xfe\x00", b"alive b \xb2", b"alive b 1.5"),
    ],
)
def test_anything_else_is_ignored(heard):
    """Noise on the line is not a heartbeat."""
    assert parse_heartbeat(heard) is None
