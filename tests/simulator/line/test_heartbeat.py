"""The host's word."""

import pytest

from monitor.wire.line import alive_line, rest_line
from simulator.line.heartbeat import Heartbeat, parse_heartbeat


def test_what_the_service_writes_is_read() -> None:
    """With a boot, and before the first scan."""
    assert parse_heartbeat(alive_line("9f3ac2d1", 18231)) == Heartbeat("9f3ac2d1", 18231)
    assert parse_heartbeat(alive_line(None, 0)) == Heartbeat(None, 0)


@pytest.mark.parametrize("word", [rest_line(), b"", b"alive", b"alive a", b"alive a -1", b"alive a x", b"dead a 1"])
def test_other_words_report_nothing(word: bytes) -> None:
    """The word of an orderly stop, and noise."""
    assert parse_heartbeat(word) is None
