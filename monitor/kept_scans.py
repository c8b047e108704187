"""Up to which scan of each node everything is on disk: what a node may be told, and forget; pure."""

from collections import deque
from collections.abc import Iterable

Position = tuple[str | None, int]
"""Boot and number of a scan."""


class KeptScans:
    """`known` holds by node the newest position up to which all is kept or known to be gone."""

    def __init__(self) -> None:
        self.known: dict[str, Position] = {}
        self._waiting: dict[str, deque[tuple[int, Position]]] = {}

    def wait_for(self, row: int, reached: Iterable[tuple[str, Position]]) -> None:
        """Remember the position that each node has reached, to be known once `row` is on disk."""
        for node, position in reached:
            self._waiting.setdefault(node, deque()).append((row, position))

    def commit(self, row: int) -> None:
        """Take note that everything up to `row` is on disk."""
        for node, waiting in self._waiting.items():
            while waiting and waiting[0][0] <= row:
                self.known[node] = waiting.popleft()[1]
