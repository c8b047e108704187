"""What every way in must fulfil, and the small parts that all of them share.

A source is one task for ever: it connects, delivers payloads, loses its line, says so in plain words, and tries again.
It never judges a payload and never ends by itself. The wiring reads its state for `/healthz` and metrics, and passes
the heartbeat to the source that a node was last heard on.
"""

import logging
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final, Protocol

Deliver = Callable[[bytes, str], None]
"""Takes one payload and the name of its source, at once and without waiting."""

FIRST_RETRY_S: Final = 0.2
LAST_RETRY_S: Final = 4.0
"""Longest pause between two tries, seconds: a line that comes back is found again within 5 s."""

STEADY_S: Final = 5.0
"""A line that stayed up this long, seconds, was no false start: the next loss is tried again at once."""

_log = logging.getLogger(__name__)


@dataclass(slots=True)
class SourceState:
    """How a source is doing: `error` says in words what is wrong and what to do, None while connected."""

    name: str
    kind: str
    connected: bool = False
    error: str | None = "not started yet"
    counts: Counter[str] = field(default_factory=Counter)

    def rise(self) -> None:
        """Note that the line is up; log it where that is news."""
        if not self.connected:
            _log.info("%s: connected", self.name)
            self.counts["connections"] += 1
        self.connected = True
        self.error = None

    def fall(self, error: str) -> None:
        """Note that the line is down and why; log it where that is news."""
        if self.connected or self.error != error:
            _log.warning("%s: %s", self.name, error)
        self.connected = False
        self.error = error


class Source(Protocol):
    """One way in."""

    state: SourceState

    async def run(self, deliver: Deliver) -> None:
        """Deliver payloads until cancelled; a line that is down is tried again for ever."""

    def send_alive(self, node: str | None, boot: str | None, seq: int) -> None:
        """Tell `node` (None: whoever listens, before the first scan) what is committed, without waiting."""

    async def send_rest(self) -> None:
        """Tell the nodes of an orderly stop and wait shortly until that is out; call before cancelling `run`."""


class Backoff:
    """Pauses between tries, doubling from `FIRST_RETRY_S` to `LAST_RETRY_S` until a line stays up."""

    def __init__(self) -> None:
        self._next_s = FIRST_RETRY_S

    def pause_s(self, up_for_s: float) -> float:
        """Return how long to wait before the next try after a line that was up for `up_for_s`, seconds."""
        pause_s = FIRST_RETRY_S if up_for_s >= STEADY_S else self._next_s
        self._next_s = min(pause_s * 2, LAST_RETRY_S)
        return pause_s
