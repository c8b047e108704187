"""The line between a node and its host: what it loses, doubles, holds up, jumbles and adds; pure.

In goes what the node writes, out comes what arrives and when, in kiln time, epoch seconds. Draws for fresh scans and
for those sent again come from streams of their own, so that the host's words do not move what happens to fresh ones.
"""

import heapq
from collections import deque
from dataclasses import dataclass
from itertools import count

import numpy as np

from monitor.model import Scan
from simulator.line.line_noise import Noise, noises
from simulator.line.line_spells import LineSpells, is_within
from simulator.line.silences import holes, outages
from simulator.script.line_faults import LineFault

TURNS = (LineFault.OUTAGE, LineFault.REPLUG, LineFault.TWIN, LineFault.RETAINS)
"""Faults that the end of the line itself must bring about."""


@dataclass(frozen=True, slots=True)
class Turn:
    """From now on `fault`, one of `TURNS`, is on, or no more."""

    fault: LineFault
    is_on: bool


@dataclass(frozen=True, slots=True)
class Sending:
    """Something that comes out of the line at kiln time `at`, epoch seconds."""

    at: float
    what: Scan | Noise | Turn


class FaultyLine:
    """The line of the node `node`, from epoch second `begins_at` on."""

    def __init__(self, spells: LineSpells, *, node: str, seed: int, begins_at: float) -> None:
        self._spells = spells
        self._outages = spells.windows(outages(spells.all))
        self._lossy = self._outages + spells.windows(holes(spells.all, seed))
        self._loss_rngs = [np.random.default_rng([seed, k]) for k in (30, 31)]
        self._delay_rngs = [np.random.default_rng([seed, k]) for k in (32, 33)]
        self._order = count()
        self._pending: list[tuple[float, int, Sending]] = []
        self._noises = (n for n in noises(spells, node=node, seed=seed) if n[0] >= begins_at)
        self._next_noise = next(self._noises, None)
        self._replays = sorted((b, int(size)) for b, _, size in spells.of(LineFault.REPLAY) if b >= begins_at)
        self._newest: deque[Scan] = deque(maxlen=max((size for _, size in self._replays), default=0))
        self._plan_turns(begins_at)

    def is_out(self, at: float) -> bool:
        """Return whether nothing passes at `at`, neither way."""
        return is_within(self._outages, at)

    def carry(self, scan: Scan, at: float, *, is_again: bool) -> None:
        """Take what the node writes at `at`, fresh or again."""
        if self._replays:
            self._newest.append(scan)
        if is_within(self._lossy, at) or self._is_lost(at, is_again=is_again):
            return
        arrives = at + self._held_up_s(at, is_again=is_again)
        copies = 2 if self._spells.is_on(LineFault.TWICE, at) else 1
        for _ in range(copies):
            self._put(arrives, scan)

    def due(self, until: float) -> list[Sending]:
        """Return in order all that comes out up to `until`."""
        while self._replays and self._replays[0][0] <= until:
            begin, size = self._replays.pop(0)
            for scan in list(self._newest)[-size:]:
                self._put(begin, scan)
        while self._next_noise is not None and self._next_noise[0] <= until:
            self._put(*self._next_noise)
            self._next_noise = next(self._noises, None)
        found = []
        while self._pending and self._pending[0][0] <= until:
            sending = heapq.heappop(self._pending)[2]
            if isinstance(sending.what, Turn) or not self.is_out(sending.at):
                found.append(sending)
        return found

    def _put(self, at: float, what: Scan | Noise | Turn) -> None:
        heapq.heappush(self._pending, (at, next(self._order), Sending(at, what)))

    def _is_lost(self, at: float, *, is_again: bool) -> bool:
        if not self._spells.is_on(LineFault.LOSS, at):
            return False
        return bool(self._loss_rngs[is_again].random() < self._spells.size(LineFault.LOSS, at))

    def _held_up_s(self, at: float, *, is_again: bool) -> float:
        held_s = self._spells.size(LineFault.DELAY, at) * 3600.0
        if self._spells.is_on(LineFault.SHUFFLE, at):
            held_s += self._delay_rngs[is_again].random() * self._spells.size(LineFault.SHUFFLE, at)
        return round(held_s, 3) if held_s else 0.0

    def _plan_turns(self, begins_at: float) -> None:
        for fault in TURNS:
            for begin, end, _ in self._spells.of(fault):
                if end > begins_at:
                    self._put(max(begin, begins_at), Turn(fault, is_on=True))
                    self._put(end, Turn(fault, is_on=False))
