"""Lines with a check sum: what passes, what is counted and dropped, and that memory stays bounded."""

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.wire.line import MAX_LINE_BYTES, LineCounts, LineReader, alive_line, frame_line, rest_line

GOLDEN = Path(__file__).parents[2] / "golden" / "packs"
LINES: list[dict[str, Any]] = json.loads((GOLDEN / "lines.json").read_text("utf-8"))


@pytest.mark.parametrize("case", LINES, ids=lambda case: case["payload"][:20])
def test_golden_line_is_written_and_read(case: dict[str, Any]) -> None:
    """The first is the check value of CRC-32/ISO-HDLC in the catalogue of parametrised CRC algorithms: cbf43926."""
    line = case["line"].encode()

    assert frame_line(case["payload"].encode()) == line
    assert LineReader().feed(line) == [case["payload"].encode()]


@given(st.lists(st.binary(max_size=40).filter(lambda b: b"\n" not in b), max_size=8), st.data())
def test_cutting_the_bytes_changes_nothing(payloads: list[bytes], data: st.DataObject) -> None:
    """However the bytes are cut into blocks, the same payloads come out."""
    stream = b"".join(frame_line(payload) for payload in payloads)
    cuts = sorted(data.draw(st.lists(st.integers(0, len(stream)), max_size=6)))
    reader = LineReader()
    blocks = [stream[a:b] for a, b in zip([0, *cuts], [*cuts, len(stream)], strict=True)]

    assert [payload for block in blocks for payload in reader.feed(block)] == payloads
    assert reader.counts == LineCounts(good=len(payloads))


@given(st.binary(max_size=300))
def test_garbage_never_hides_the_next_good_line(garbage: bytes) -> None:
    """Behind any garbage and a newline the next good line is read."""
    reader = LineReader()
    reader.feed(garbage + b"\n")

    assert reader.feed(frame_line(b"[]")) == [b"[]"]


@pytest.mark.parametrize(
    ("line", "counts"),
    [
        (b"[] 00000000\n", LineCounts(bad_crc=1)),
        (b"[]\n", LineCounts(no_crc=1)),
        (b"\n", LineCounts(no_crc=1)),
        (b"123456789 CBF43926\n", LineCounts(no_crc=1)),
        (b"123456789cbf43926\n", LineCounts(no_crc=1)),
        (b"123456789 cbf43926 \n", LineCounts(no_crc=1)),
        (b"\x00\x03\xff\n", LineCounts(no_crc=1)),
        (b"123456780 cbf43926\n", LineCounts(bad_crc=1)),
    ],
)
def test_line_without_its_check_sum_is_counted(line: bytes, counts: LineCounts) -> None:
    """A line without a CRC, or with another one, is dropped and counted by its kind."""
    reader = LineReader()

    assert reader.feed(line) == []
    assert reader.counts == counts


def test_return_before_the_newline_is_no_fault() -> None:
    """A terminal that writes a return before each newline does not break the line, since the CRC still tells."""
    assert LineReader().feed(b"123456789 cbf43926\r\n") == [b"123456789"]


def test_longest_line_passes_and_a_longer_one_does_not() -> None:
    """A line of 16,384 bytes with its newline is the longest."""
    longest = b"x" * (MAX_LINE_BYTES - 10)
    reader = LineReader()

    assert len(frame_line(longest)) == MAX_LINE_BYTES
    assert reader.feed(frame_line(longest)) == [longest]
    with pytest.raises(ValueError, match="does not go on one line"):
        frame_line(longest + b"x")
    assert reader.feed(b"x" + frame_line(longest)) == []
    assert reader.counts == LineCounts(good=1, too_long=1)


def test_payload_with_a_newline_is_not_framed() -> None:
    """A newline inside a payload would make two lines."""
    with pytest.raises(ValueError, match="does not go on one line"):
        frame_line(b"a\nb")


def test_megabyte_without_newline_is_one_bounded_line() -> None:
    """A megabyte without newline is counted once, is not kept, and the line behind it is read."""
    reader = LineReader()
    for _ in range(256):
        reader.feed(b"\x55" * 4096)
        assert len(reader._kept) <= MAX_LINE_BYTES

    assert reader.feed(b"\x55\n" + frame_line(b"[]")) == [b"[]"]
    assert reader.counts == LineCounts(good=1, too_long=1)


def test_cut_line_is_counted_once_and_forgotten() -> None:
    """What came before a port went away never joins what comes after."""
    reader = LineReader()
    reader.feed(b"[] 12")
    reader.drop_partial()
    reader.drop_partial()
    reader.feed(b"x" * MAX_LINE_BYTES)
    reader.drop_partial()

    assert reader.feed(frame_line(b"[]")) == [b"[]"]
    assert reader.counts == LineCounts(good=1, cut=1, too_long=1)


@pytest.mark.parametrize(
    ("boot", "seq", "line"),
    [("9f3ac2d1", 18231, b"alive 9f3ac2d1 18231\n"), (None, 0, b"alive - 0\n"), (None, 7, b"alive - 7\n")],
)
def test_heartbeat_says_boot_and_seq(boot: str | None, seq: int, line: bytes) -> None:
    """The heartbeat is one line; a dash stands for no boot."""
    assert alive_line(boot, seq) == line


def test_rest_is_one_line() -> None:
    """The word of an orderly stop is one line."""
    assert rest_line() == b"rest\n"
