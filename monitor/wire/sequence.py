"""Scans in order on the grid: what is accepted, what is late, and when each slot of record time is complete.

Theory of operation. Record time is cut into slots of `SLOT_S`, from a multiple of it up to before the next. A slot
closes when every node that delivers (its newest scan came in the last `WAIT_S` of clock) is complete up to the slot's
end, or when the clock is `WAIT_S` past that end. A scan that comes after its slot closed is late.

All that falls due by the clock has an exact moment: the end of a slot's wait, of a gap's wait, of a node's time to be
heard of again. Before anything arrives, these moments are worked off one by one in order, so that the result does not
depend on how often the clock is told, and `known_at` of a slot is such a moment or the arrival of a scan.
"""

from typing import Final, Self

import msgspec

from monitor.model import SLOT_S, Arrival, Tick
from monitor.wire.node_order import WAIT_S, NodeCounts, NodeOrder, Verdict

MAX_EMPTY_S: Final = 4 * 3600.0
"""Empty slots after the last one with a scan that are closed one by one; beyond that the grid sleeps until a scan."""

_NEVER: Final = float("inf")
_BEFORE_ALL: Final = float("-inf")


class Closing(msgspec.Struct, frozen=True, gc=False):
    """The slot that ends at record time `end` is complete, or waited for in vain, since the clock was `known_at`."""

    end: float
    known_at: float


class Step(msgspec.Struct, frozen=True, gc=False):
    """What one event did: the verdict on its scan (None for a tick), scans found lost by it, slots that closed.

    A judged scan belongs to its slot before the closings are worked off.
    """

    verdict: Verdict | None
    lost: int
    closings: tuple[Closing, ...]


class _State(msgspec.Struct):
    clock: float = _BEFORE_ALL
    nodes: dict[str, NodeOrder] = msgspec.field(default_factory=dict)
    next_end: float | None = None  # None: the grid sleeps
    closed_end: float = _BEFORE_ALL
    last_filled: float = _BEFORE_ALL
    filled: list[float] = msgspec.field(default_factory=list)  # ends of open slots that hold a scan


_NOTHING: Final = Step(None, 0, ())
_DECODER: Final = msgspec.msgpack.Decoder(_State)


def slot_end(time: float) -> float:
    """Return the end of the slot that holds record time `time`, a multiple of `SLOT_S`, epoch seconds."""
    return (time // SLOT_S + 1.0) * SLOT_S


class Sequencer:
    """Arrivals with absolute times and ticks in, verdicts and closings out; one kiln's nodes share its grid."""

    def __init__(self) -> None:
        self._state = _State()
        self._wake = _BEFORE_ALL  # no moment falls due before this clock; may be too early, never too late

    def take(self, event: Arrival | Tick) -> Step:
        """Take in one event; a clock that goes back counts as standing still."""
        state = self._state
        clock = max(event.clock, state.clock)
        closings = self._advance(clock) if clock >= self._wake else []
        state.clock = clock
        if isinstance(event, Tick):
            return Step(None, 0, tuple(closings)) if closings else _NOTHING
        return self._arrive(event, clock, closings)

    def horizon(self, node: str) -> float | None:
        """Return the record time up to which `node`'s scans are complete or given up, None before the first."""
        order = self._state.nodes.get(node)
        return None if order is None or order.horizon == _BEFORE_ALL else order.horizon

    def contiguous(self, node: str) -> tuple[str | None, int]:
        """Return boot and seq for the heartbeat: scans of `node` up to it came or are gone; (None, 0) before one."""
        order = self._state.nodes.get(node)
        return (None, 0) if order is None else order.contiguous()

    def counts(self) -> dict[str, NodeCounts]:
        """Return the counts of every node so far; they go on changing."""
        return {name: order.counts for name, order in self._state.nodes.items()}

    def save(self) -> bytes:
        """Return all that was learned, to go on from later with `restore`."""
        return msgspec.msgpack.encode(self._state)

    @classmethod
    def restore(cls, saved: bytes) -> Self:
        """Return a sequencer that goes on where the saved one stood.

        Raises:
            ValueError: these bytes were not saved by a sequencer.
        """
        sequencer = cls()
        sequencer._state = _DECODER.decode(saved)
        return sequencer

    def _arrive(self, arrival: Arrival, clock: float, closings: list[Closing]) -> Step:
        state, scan = self._state, arrival.scan
        node = state.nodes.get(scan.node)
        if node is None:
            node = state.nodes[scan.node] = NodeOrder()
        end = slot_end(scan.time)
        is_overdue = end <= state.closed_end or end + WAIT_S <= clock
        missed = node.counts.missed
        verdict = node.take(scan, clock, is_overdue=is_overdue)
        if verdict is Verdict.JUDGED:
            self._fill(end, clock)
        if state.next_end is not None and node.horizon >= state.next_end:
            self._close_complete(clock, closings)
        return Step(verdict, node.counts.missed - missed, tuple(closings))

    def _fill(self, end: float, clock: float) -> None:
        state = self._state
        if end not in state.filled:
            state.filled.append(end)
        if state.next_end is None:
            state.next_end = end
            state.closed_end = end - SLOT_S
        self._wake = min(self._wake, clock + WAIT_S, state.next_end + WAIT_S)

    def _advance(self, clock: float) -> list[Closing]:
        """Work off in order all that falls due up to `clock`."""
        closings: list[Closing] = []
        state = self._state
        while (moment := self._next_moment()) <= clock:
            state.clock = moment
            for node in state.nodes.values():
                node.give_up(moment)
            self._close_complete(moment, closings)
            if state.next_end is not None and state.next_end + WAIT_S <= moment:
                self._close(moment, closings)
        self._wake = moment
        return closings

    def _next_moment(self) -> float:
        state = self._state
        moment = _NEVER if state.next_end is None else state.next_end + WAIT_S
        for node in state.nodes.values():
            moment = min(moment, node.next_deadline())
            if node.active_until > state.clock:
                moment = min(moment, node.active_until)
        return moment

    def _close_complete(self, known_at: float, closings: list[Closing]) -> None:
        """Close the slots up to which every delivering node is complete; without one, only the clock closes."""
        state = self._state
        horizons = [node.horizon for node in state.nodes.values() if node.active_until > known_at]
        complete = min(horizons, default=_BEFORE_ALL)
        while state.next_end is not None and state.next_end <= complete:
            self._close(known_at, closings)

    def _close(self, known_at: float, closings: list[Closing]) -> None:
        state = self._state
        end = state.next_end
        assert end is not None
        closings.append(Closing(end, known_at))
        if end in state.filled:
            state.filled.remove(end)
            state.last_filled = end
        state.closed_end = end
        state.next_end = end + SLOT_S
        if state.next_end > state.last_filled + MAX_EMPTY_S:
            state.next_end = min(state.filled, default=None)
            if state.next_end is not None:
                state.closed_end = state.next_end - SLOT_S
