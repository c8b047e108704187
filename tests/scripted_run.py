"""A run without a kiln, for tests of what becomes of its scans."""

from collections.abc import Iterator
from types import SimpleNamespace

from monitor.model import Reading, Scan
from simulator.script.spells import Spell

LIT = 1_764_000_000


class ScriptedRun:
    """A run without a kiln: a scan a second, one reading each."""

    def __init__(self, *spells: Spell, seconds: int = 600, lead_in: int = 0, lit: int = LIT) -> None:
        self.seed = 1
        self.firing = SimpleNamespace(spells=spells, lit=lit, clock_s=0, spec=SimpleNamespace(node="shed-1"))
        self._seconds = seconds
        self._lead_in = lead_in

    def lead_in(self) -> Iterator[Scan]:
        """Yield the past."""
        return self._scans(0, self._lead_in)

    def live(self, _block_s: int) -> Iterator[Scan]:
        """Yield the present."""
        return self._scans(self._lead_in, self._seconds)

    def _scans(self, first: int, last: int) -> Iterator[Scan]:
        for n in range(first, last):
            yield Scan("shed-1", self.firing.lit + 1.0 + n, (Reading("shed-1/t1", emf_volts=0.01),), boot="a", seq=n)
