"""The spells of one node and its line, asked by kiln time; pure."""

from collections.abc import Iterable, Sequence

from simulator.script.line_faults import LineFault
from simulator.script.spells import Spell


class LineSpells:
    """The line's share of `spells`, which count from the lighting at `lit`, epoch seconds."""

    def __init__(self, spells: Iterable[Spell], lit: float) -> None:
        self._lit = lit
        self.all = tuple(s for s in spells if isinstance(s.what, LineFault))
        self._of: dict[LineFault, list[tuple[float, float, float]]] = {}
        for spell in self.all:
            assert isinstance(spell.what, LineFault)
            windows = self._of.setdefault(spell.what, [])
            windows.append((self.at(spell.begin_h), self.at(spell.end_h), spell.size))

    def of(self, fault: LineFault) -> list[tuple[float, float, float]]:
        """Return begin, end (epoch seconds) and size of the spells of `fault`."""
        return self._of.get(fault, [])

    def is_on(self, fault: LineFault, at: float) -> bool:
        """Return whether `fault` is on at epoch second `at`."""
        return fault in self._of and any(begin <= at < end for begin, end, _ in self._of[fault])

    def size(self, fault: LineFault, at: float) -> float:
        """Return the size of `fault` at epoch second `at`, added up where spells overlap, 0 where it is not on."""
        return sum(size for begin, end, size in self._of[fault] if begin <= at < end) if fault in self._of else 0.0

    def at(self, hour: float) -> float:
        """Return epoch seconds, to the millisecond, of an hour from lighting."""
        return round(self._lit + hour * 3600.0, 3)

    def windows(self, hours: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
        """Return spans of hours from lighting as epoch seconds, in order."""
        return sorted((self.at(begin), self.at(end)) for begin, end in hours)


def is_within(windows: Sequence[tuple[float, float]], at: float) -> bool:
    """Return whether `at` lies in one of `windows`, its begin included, its end not."""
    return bool(windows) and any(begin <= at < end for begin, end in windows)
