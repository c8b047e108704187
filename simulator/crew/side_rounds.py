"""Side stoking: which port is next, in the lead's order, and what a watch that looks at the ware does about it."""

from collections.abc import Sequence

from simulator.spec.crew_spec import SideSpec

LAGGING_C = 12.0
"""How far a zone is behind the mean of the chamber before its colour tells (common practice, no source)."""


class SideRound:
    """The round over the ports; a watch that favours the lagging zone gives it every second turn."""

    def __init__(self) -> None:
        self._turn = 0
        self._was_favour = False

    def next_port(self, side: SideSpec, chamber: Sequence[str], ware_c: Sequence[float], *, favours: bool) -> str:
        """Return the zone whose port is fed next.

        Args:
            side: the lead's order.
            chamber: the chamber's zones from front to back.
            ware_c: how hot the ware of each looks, degC.
            favours: whether this watch feeds the zone that is behind out of turn.
        """
        favoured = _port_for_lagging(side, chamber, ware_c) if favours and not self._was_favour else None
        self._was_favour = favoured is not None
        if favoured is not None:
            return favoured
        port = side.ports[self._turn % len(side.ports)]
        self._turn += 1
        return port


def _port_for_lagging(side: SideSpec, chamber: Sequence[str], ware_c: Sequence[float]) -> str | None:
    """Return the port that heats the coldest zone, if one is behind: heat goes from a port toward the flue."""
    coldest = min(range(len(ware_c)), key=lambda n: ware_c[n])
    if sum(ware_c) / len(ware_c) - ware_c[coldest] < LAGGING_C:
        return None
    for zone in (chamber[max(coldest - 1, 0)], chamber[coldest]):
        if zone in side.ports:
            return zone
    return None
