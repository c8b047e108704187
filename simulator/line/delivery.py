"""From the kiln's scans to what comes out of the line: the node's life, then the faults of the line; pure."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from monitor.model import Scan
from simulator.line.faulty_line import FaultyLine, Sending
from simulator.line.line_spells import LineSpells
from simulator.line.node_life import NodeLife
from simulator.line.stand_in_host import StandInHost
from simulator.script.spells import Spell


@dataclass(frozen=True, slots=True)
class Beginning:
    """Where a run begins: the kiln lit at epoch second `lit`, its first scan after `begins_at`, its node, its seed."""

    lit: float
    begins_at: float
    node: str
    seed: int


class Delivery:
    """One node and its line."""

    def __init__(self, spells: Iterable[Spell], beginning: Beginning) -> None:
        own = LineSpells(spells, beginning.lit)
        self._node = NodeLife(own, beginning.begins_at)
        self._line = FaultyLine(own, node=beginning.node, seed=beginning.seed, begins_at=beginning.begins_at)
        self.now = beginning.begins_at
        """Kiln time of the last step, epoch seconds."""

    def step(self, scan: Scan, now_s: float) -> list[Sending]:
        """Return in order what comes out of the line up to the time of the kiln's `scan`.

        Args:
            scan: the next one, as it comes from a node that never fails.
            now_s: a clock of the seconds in which the host speaks.
        """
        self.now = scan.time
        for place, written in enumerate(self._node.write(scan, now_s)):
            self._line.carry(written, scan.time, is_again=place > 0)
        return self._line.due(scan.time)

    def heard(self, boot: str | None, seq: int, now_s: float) -> None:
        """Take the host's word that all of `boot` up to `seq` is committed, unless the line is out."""
        if not self._line.is_out(self.now):
            self._node.memory.heard(boot, seq, now_s)


def delivered(scans: Iterable[Scan], delivery: Delivery) -> Iterator[Sending]:
    """Yield what arrives of `scans` at a host that commits at once and says so before each scan."""
    host = StandInHost()
    for scan in scans:
        delivery.heard(*host.committed(), scan.time)
        for sending in delivery.step(scan, scan.time):
            if isinstance(sending.what, Scan):
                host.take(sending.what)
            yield sending
