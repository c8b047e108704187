"""Whole lines out, bounded lines in."""

import pytest
from fake_board import FakeClock
from port import LONGEST_HEARD, MOST_AT_ONCE, WRITE_LIMIT_MS, Port


class Stream:
    """A stream that takes so many bytes per write and gives what was put in."""

    def __init__(self, takes):
        self.takes = takes
        self.written = b""
        self.incoming = b""

    def poll(self, _limit_ms):
        """Say whether there is input."""
        return [self] if self.incoming else []

    def read(self, count):
        """Give bytes."""
        given, self.incoming = self.incoming[:count], self.incoming[count:]
        return given

    def write(self, rest):
        """Take the next step's number of bytes; None stands for a stream that would block."""
        count = self.takes.pop(0) if self.takes else len(rest)
        if count is None:
            return None
        self.written += bytes(rest[:count])
        return min(count, len(rest))


def port_on(takes=()):
    """Return (port, stream, clock)."""
    stream, clock = Stream(list(takes)), FakeClock()
    return Port(stream, stream, stream, clock), stream, clock


@pytest.mark.parametrize("takes", [(), (3, 2), (None, 3, None, 0, 1)])
def test_a_line_goes_out_whole_however_the_stream_takes_it(takes):
    """Short and blocked writes are continued."""
    port, stream, _ = port_on(takes)

    assert port.write_line(b"abcdefg\n")
    assert stream.written == b"abcdefg\n"
    assert port.lines_torn == 0


def test_a_torn_line_is_ended_before_the_next_one():
    """The host sees one broken line and then a good one."""
    port, stream, clock = port_on([3, *[None] * (WRITE_LIMIT_MS + 5)])

    assert not port.write_line(b"abcdefg\n")
    assert clock.now_ms <= WRITE_LIMIT_MS + 1
    stream.takes.clear()
    assert port.write_line(b"second\n")
    assert port.write_line(b"third\n")
    assert stream.written == b"abc\nsecond\nthird\n"
    assert port.lines_torn == 1


def test_a_line_that_never_began_leaves_nothing_behind():
    """The next line starts clean, and a torn one stays torn until its end went out."""
    port, stream, _ = port_on([None] * (WRITE_LIMIT_MS + 5))

    assert not port.write_line(b"lost\n")
    stream.takes[:] = [2, *[None] * (WRITE_LIMIT_MS + 5)]
    assert not port.write_line(b"torn\n")
    stream.takes[:] = [None] * (WRITE_LIMIT_MS + 5)
    assert not port.write_line(b"lost too\n")
    stream.takes.clear()
    assert port.write_line(b"good\n")
    assert stream.written == b"to\ngood\n"
    assert port.lines_torn == 3


def test_lines_come_in_whole_from_any_pieces():
    """Ends of line of either kind, empty lines dropped, the rest kept for the next call."""
    port, stream, _ = port_on()
    stream.incoming = b"alive b 1\r\n\nal"

    assert port.lines() == [b"alive b 1"]
    stream.incoming = b"ive b 2\nrest\n"
    assert port.lines() == [b"alive b 2", b"rest"]
    assert port.lines() == []


def test_a_line_without_end_is_dropped_and_memory_stays_bounded():
    """A megabyte of noise is cut short, and the next good line is read."""
    port, stream, _ = port_on()
    stream.incoming = b"x" * 100000 + b"\nalive b 3\n"
    heard = []
    while stream.incoming:
        before = len(stream.incoming)
        heard += port.lines()

        assert before - len(stream.incoming) <= MOST_AT_ONCE
        assert len(port._heard) <= LONGEST_HEARD + 1

    assert heard == [b"alive b 3"]


def test_a_stream_that_says_ready_and_gives_nothing_does_not_hang():
    """A hung-up line polls as ready and reads as empty."""
    port, stream, _ = port_on()
    stream.poll = lambda _limit_ms: [stream]

    assert port.lines() == []
