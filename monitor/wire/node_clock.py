"""When a scan was taken, on the host's clock, for nodes whose own clock cannot say it.

A node without a clock sends times relative to its moment of sending (RFC 8428 section 4.5.3) and `up`, its time since
start at the scan. The line only ever adds delay, so the least of "arrival less up" over the last `WINDOW_S` is the best
mapping; it is slewed, so that times neither jump nor run back. A new boot, or an `up` that falls back, starts anew. An
absolute time further than `WRONG_BY_S` from a host's clock is a clock that was never set: arrival counts instead.
"""

from typing import Final, Self

import msgspec

from monitor.model import Arrival, Scan
from monitor.wire.fields import RELATIVE_BELOW_S

WINDOW_S: Final = 600.0
"""How long a small delay is remembered, seconds of clock."""

WRONG_BY_S: Final = 86_400.0
"""Difference from the host's clock beyond which a node's clock is not believed, seconds."""

SLEW_BACK: Final = 0.05
"""Fastest correction of a mapping that was too late, seconds a second; well below 1, so that times still rise."""

SLEW_ON: Final = 0.001
"""Fastest correction of a mapping that is too early, seconds a second; above the drift of any crystal."""

STEP_S: Final = 10.0
"""Error that is no delay and no drift but a clock that was set: corrected at once, seconds."""

STEP_AFTER_S: Final = 540.0
"""How long a mapping must look too early by a step, as a slow line does, before it is believed, seconds of clock."""

UP_FELL_S: Final = 60.0
"""An `up` this far below the highest was not reordered but begun anew, seconds."""

MAX_BOOTS: Final = 4
"""Boots of one node with a mapping, for scans kept from an earlier boot."""


class NodeClockCounts(msgspec.Struct):
    """Scans of one node whose time the host made: `mapped` from relative times, `replaced` wrong absolute ones."""

    mapped: int = 0
    replaced: int = 0


class _Mapping(msgspec.Struct):
    """One boot: host time = `offset` + up. `least` holds (clock, sample) pairs, both rising, front the least."""

    offset: float
    highest_up: float
    least: list[tuple[float, float]]
    early_since: float | None = None


class _Node(msgspec.Struct):
    mappings: dict[str, _Mapping] = msgspec.field(default_factory=dict)
    counts: NodeClockCounts = msgspec.field(default_factory=NodeClockCounts)


_DECODER: Final = msgspec.msgpack.Decoder(dict[str, _Node])


class NodeClock:
    """Arrivals in, arrivals with absolute times out."""

    def __init__(self) -> None:
        self._nodes: dict[str, _Node] = {}

    def place(self, arrival: Arrival, *, is_host_clock: bool) -> Arrival:
        """Return `arrival` with an absolute scan time.

        Args:
            arrival: a scan as it came.
            is_host_clock: whether `arrival.clock` was read from a host's clock; false in a recording without host
                lines, whose absolute times are all there is and stay as they are.
        """
        scan = arrival.scan
        if scan.time >= RELATIVE_BELOW_S:
            if not is_host_clock or abs(scan.time - arrival.clock) <= WRONG_BY_S:
                return arrival
            self._node(scan.node).counts.replaced += 1
            return _at(arrival, arrival.clock)
        node = self._node(scan.node)
        node.counts.mapped += 1
        told = arrival.clock + scan.time
        if scan.up_s is None:
            return _at(arrival, told)
        return _at(arrival, _mapped(node, scan.boot or "", told, scan.up_s, arrival.clock))

    def counts(self) -> dict[str, NodeClockCounts]:
        """Return the counts of every node whose time the host had to make; they go on changing."""
        return {name: node.counts for name, node in self._nodes.items()}

    def save(self) -> bytes:
        """Return all that was learned, to go on from later with `restore`."""
        return msgspec.msgpack.encode(self._nodes)

    @classmethod
    def restore(cls, saved: bytes) -> Self:
        """Return a node clock that goes on where the saved one stood.

        Raises:
            ValueError: these bytes were not saved by a node clock.
        """
        clock = cls()
        clock._nodes = _DECODER.decode(saved)
        return clock

    def _node(self, name: str) -> _Node:
        return self._nodes.setdefault(name, _Node())


def _at(arrival: Arrival, time: float) -> Arrival:
    """Return `arrival` with its scan at `time`, whole milliseconds: the mapping knows no better."""
    scan = arrival.scan
    moment = round(time, 3)
    return Arrival(Scan(scan.node, moment, scan.readings, scan.boot, scan.seq, scan.oldest, scan.up_s), arrival.clock)


def _mapped(node: _Node, boot: str, told: float, up_s: float, clock: float) -> float:
    """Return the host time of a scan taken at `up_s`, and learn from it; `told` is arrival less the age it claims."""
    sample = told - up_s
    mapping = node.mappings.get(boot)
    if mapping is None or (up_s < mapping.highest_up - UP_FELL_S and sample > mapping.offset + STEP_S):
        node.mappings.pop(boot, None)
        mapping = node.mappings[boot] = _Mapping(sample, up_s, [(clock, sample)])
        if len(node.mappings) > MAX_BOOTS:
            del node.mappings[next(iter(node.mappings))]
    else:
        elapsed_s = max(up_s - mapping.highest_up, 0.0)
        mapping.highest_up += elapsed_s
        _learn(mapping, sample, clock, elapsed_s)
    return mapping.offset + up_s


def _learn(mapping: _Mapping, sample: float, clock: float, elapsed_s: float) -> None:
    """Draw the mapping towards the least sample; `elapsed_s` of the node's own time, which no setting of ours moves."""
    least = mapping.least
    while least and least[-1][1] >= sample:
        least.pop()
    least.append((clock, sample))
    while least[0][0] < clock - WINDOW_S:
        del least[0]
    error = least[0][1] - mapping.offset
    if error <= STEP_S:
        mapping.early_since = None
    elif mapping.early_since is None:
        mapping.early_since = clock
    was_set = mapping.early_since is not None and clock - mapping.early_since >= STEP_AFTER_S
    if error < -STEP_S or was_set:
        mapping.offset += error
        mapping.early_since = None
    else:
        mapping.offset += min(max(error, -SLEW_BACK * elapsed_s), SLEW_ON * elapsed_s)
