"""A host that takes every scan, as far as a node needs one: what it reports as committed; pure.

After the wire contract: of the boot last begun, the number up to which every scan came or is known to be gone.
"""

from monitor.model import Scan
from monitor.wire.seen import SeenNumbers


class StandInHost:
    """Scans in, the words of the heartbeat out."""

    def __init__(self) -> None:
        self._boots: dict[str | None, SeenNumbers] = {}
        self._boot: str | None = None
        self._settled = 0

    def take(self, scan: Scan) -> None:
        """Take a scan in."""
        assert scan.seq is not None
        seen = self._boots.get(scan.boot)
        floor = scan.seq if scan.oldest is None else min(scan.oldest, scan.seq)
        if seen is None:
            seen = self._boots[scan.boot] = SeenNumbers()
            self._boot, self._settled = scan.boot, floor - 1
        seen.add(scan.seq)
        if scan.boot == self._boot:
            self._settled = seen.reach(max(self._settled, floor - 1))

    def committed(self) -> tuple[str | None, int]:
        """Return boot and number as the heartbeat tells them, (None, 0) before the first."""
        return (self._boot, self._settled) if self._settled >= 0 and self._boot is not None else (None, 0)
