"""The host's word to a node, read as a node reads it; pure."""

from typing import NamedTuple


class Heartbeat(NamedTuple):
    """All scans of `boot` (None for a node that sends none) up to `seq` are on disk or known to be gone."""

    boot: str | None
    seq: int


def parse_heartbeat(word: bytes) -> Heartbeat | None:
    """Return what the line or message `word` reports, None for any other word, the host's `rest` included."""
    parts = word.split()
    if len(parts) != 3 or parts[0] != b"alive" or not parts[2].isdigit():
        return None
    boot = parts[1].decode("ascii", errors="replace")
    return Heartbeat(None if boot == "-" else boot, int(parts[2]))
