"""What a node makes of the kiln's scans: its boots and numbers, its memory, its clock and what goes wrong with them.

Pure. Times are kiln time, epoch seconds. What the node writes may be lost or held up afterwards: see `faulty_line.py`.
"""

import zlib

from msgspec.structs import replace

from monitor.model import Scan
from simulator.line.line_spells import LineSpells, is_within
from simulator.line.node_memory import NodeMemory
from simulator.line.silences import downtimes
from simulator.script.line_faults import LineFault

TICKS_WRAP_S = 2**30 / 1000.0
"""Where a board's counter of milliseconds starts again from 0 (12.4 days)."""
UP_BEFORE_S = 60.0
"""How long a node has been up when a run begins."""
DAY_S = 86_400.0


class NodeLife:
    """One node whose run begins at epoch second `begins_at`."""

    def __init__(self, spells: LineSpells, begins_at: float) -> None:
        self.memory = NodeMemory()
        self._spells = spells
        self._downs = [down for down in spells.windows(downtimes(spells.all)) if down[1] > begins_at]
        self._starts = [begins_at - UP_BEFORE_S, *(end for _, end in self._downs)]
        for begin, end, _ in spells.of(LineFault.TICKS_WRAP):
            self._starts[self._boot_at(begin)] = (begin + end) / 2.0 - TICKS_WRAP_S
        self._boot = 0
        self._first_number = 0

    def write(self, scan: Scan, now_s: float) -> list[Scan]:
        """Return what the node writes when the kiln's `scan` is due: that one if it is taken, then what goes out again.

        Args:
            scan: as it comes from a node that never fails.
            now_s: a clock of the seconds in which the host speaks.
        """
        at = scan.time
        if is_within(self._downs, at):
            return []
        taken = self._taken(scan)
        if self._spells.is_on(LineFault.FORGETS, at):
            self.memory.forget()
            return [self._told(taken, at, None)]
        self.memory.keep(taken)
        oldest = self.memory.oldest
        return [self._told(s, at, oldest) for s in (taken, *self.memory.due(now_s))]

    def _taken(self, scan: Scan) -> Scan:
        """Return `scan` with this boot's name and number; it keeps the kiln's time until it is written."""
        boot = self._boot_at(scan.time)
        assert scan.seq is not None
        if boot != self._boot:
            self.memory.forget()
            self._boot, self._first_number = boot, scan.seq
        if boot == 0:
            return scan
        name = f"{zlib.crc32(f'{scan.boot} {boot}'.encode()):08x}"
        return replace(scan, boot=name, seq=scan.seq - self._first_number)

    def _told(self, taken: Scan, at: float, oldest: int | None) -> Scan:
        """Return a scan of this boot as it is written at `at`: with its time, or how long ago it was and `up`."""
        spells = self._spells
        wraps = spells.is_on(LineFault.TICKS_WRAP, at)
        time, up_s = taken.time + DAY_S * spells.size(LineFault.WRONG_CLOCK, taken.time), None
        if wraps or spells.is_on(LineFault.CLOCKLESS, at):
            time, up_s = round(taken.time - at, 3), round(taken.time - self._starts[self._boot], 3)
            if wraps and spells.size(LineFault.TICKS_WRAP, at):
                up_s %= TICKS_WRAP_S
        return Scan(taken.node, time, taken.readings, taken.boot, taken.seq, oldest, up_s)

    def _boot_at(self, at: float) -> int:
        return sum(end <= at for _, end in self._downs) if self._downs else 0
