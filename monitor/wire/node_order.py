"""One node's scans: which are new, which are lost, which are still waited for, and how far the rest is complete.

Theory of operation. A scan's identity is boot and seq, or its time where the node sends no seq. A seq that jumps leaves
a gap. For the count of losses a gap of a node that cannot send again is lost at once; one that says `oldest` has lost
what lies below it. For the order of scans any gap is waited for `WAIT_S` of clock, whoever left it: until then the
node's horizon, the record time up to which its scans are complete, stands before the gap. What comes after that is
late. Nothing here knows of other nodes or of the grid: `sequence.py` does.
"""

from enum import StrEnum
from typing import Final

import msgspec

from monitor.model import Scan
from monitor.wire.seen import SeenNumbers, SeenTimes

WAIT_S: Final = 10.0
"""Longest wait for a missing scan, seconds of clock."""

NEW_BOOT_AFTER_S: Final = 60.0
"""Without `boot`, a seq that is not above the highest but this much newer than the newest scan starts a boot."""

MAX_BOOTS: Final = 10_000
"""Boots remembered a node; a node that resets every 10 s for a day stays within."""

_BEFORE_ALL: Final = float("-inf")


class Verdict(StrEnum):
    """What became of an arriving scan: JUDGED and LATE are accepted, only JUDGED may reach the engine."""

    JUDGED = "judged"
    LATE = "late"
    REPEAT = "repeat"


class NodeCounts(msgspec.Struct):
    """Scans of one node so far. `missed` were counted as lost, `recovered` of them came after all; none ever falls."""

    judged: int = 0
    late: int = 0
    repeats: int = 0
    missed: int = 0
    recovered: int = 0
    boots: int = 0


class _Boot(msgspec.Struct):
    """One boot: `floor` is the first number that is ours to miss, `settled` the highest up to which all is known."""

    floor: int
    settled: int
    keeps: bool
    seen: SeenNumbers = msgspec.field(default_factory=SeenNumbers)
    newest: float = _BEFORE_ALL


class _Gap(msgspec.Struct):
    """Numbers `low` to `high` of `boot`, awaited until the clock `deadline`; the scan before them was at `before`."""

    boot: str
    low: int
    high: int
    deadline: float
    before: float


class NodeOrder(msgspec.Struct):
    """State of one node; times are record times, clocks the host's, epoch seconds.

    `horizon` is the record time up to which scans are complete or given up, `active_until` the clock until which the
    node counts as delivering. Keys of `boots` are "b" and the node's word, or "h" and the host's number.
    """

    horizon: float = _BEFORE_ALL
    active_until: float = _BEFORE_ALL
    counts: NodeCounts = msgspec.field(default_factory=NodeCounts)
    boots: dict[str, _Boot] = msgspec.field(default_factory=dict)
    current: str = ""
    newest: float = _BEFORE_ALL
    newest_judged: float = _BEFORE_ALL
    gaps: list[_Gap] = msgspec.field(default_factory=list)
    times: SeenTimes = msgspec.field(default_factory=SeenTimes)
    host_boots_after: list[float] = msgspec.field(default_factory=list)

    def take(self, scan: Scan, clock: float, *, is_overdue: bool) -> Verdict:
        """Take in a scan that arrives at `clock`; `is_overdue` says that its place on the grid is closed."""
        if scan.seq is None:
            is_new, is_late = self.times.add(scan.time), is_overdue
        else:
            is_new, is_late = self._take_number(scan, scan.seq, clock, is_overdue=is_overdue)
        if not is_new:
            self.counts.repeats += 1
            return Verdict.REPEAT
        self.newest = max(self.newest, scan.time)
        if is_late:
            self.counts.late += 1
            return Verdict.LATE
        self.counts.judged += 1
        if scan.time > self.newest_judged:
            self.newest_judged = scan.time
            self.active_until = clock + WAIT_S
        self._raise_horizon()
        return Verdict.JUDGED

    def give_up(self, clock: float) -> None:
        """Stop waiting for what is due at `clock` or before."""
        count = next((i for i, gap in enumerate(self.gaps) if gap.deadline > clock), len(self.gaps))
        if count:
            del self.gaps[:count]
            self._raise_horizon()

    def next_deadline(self) -> float:
        """Return the clock at which the next wait ends, infinity without one."""
        return self.gaps[0].deadline if self.gaps else float("inf")

    def contiguous(self) -> tuple[str | None, int]:
        """Return boot and highest seq up to which every scan came or is gone; (None, 0) before there is one."""
        boot = self.boots.get(self.current)
        if boot is None or boot.settled < 0:
            return None, 0
        return (self.current[1:] if self.current[0] == "b" else None), boot.settled

    def _take_number(self, scan: Scan, seq: int, clock: float, *, is_overdue: bool) -> tuple[bool, bool]:
        """Return whether the number is new, and whether its scan is late."""
        key = self._boot_key(scan, seq)
        boot = self.boots.get(key)
        if boot is None:
            boot = self._begin_boot(key, scan, seq)
        before = boot.seen.highest
        is_new = boot.seen.add(seq)
        is_late = is_overdue
        if seq > before:
            boot.keeps = boot.keeps or scan.oldest is not None
            low = boot.floor if before < 0 else before + 1
            if low < seq:
                self._open_gap(boot, _Gap(key, low, seq - 1, clock + WAIT_S, boot.newest), is_overdue=is_overdue)
            boot.newest = max(boot.newest, scan.time)
            self.current = key if scan.time > self.newest else self.current
        elif is_new:
            was_waited_for = self._fill_gap(key, seq, scan.time)
            is_late = is_overdue or (seq >= boot.floor and not was_waited_for)
            self.counts.recovered += boot.floor <= seq <= boot.settled
        if scan.oldest is not None:
            self._pass_over(key, boot, min(scan.oldest, seq))
        boot.settled = boot.seen.reach(boot.settled) if boot.keeps else boot.seen.highest
        return is_new, is_late

    def _boot_key(self, scan: Scan, seq: int) -> str:
        if scan.boot is not None:
            return f"b{scan.boot}"
        afters = self.host_boots_after
        if not afters:
            afters.append(_BEFORE_ALL)
        last = self.boots.get(f"h{len(afters)}")
        if last is not None and seq <= last.seen.highest and scan.time > self.newest + NEW_BOOT_AFTER_S:
            afters.append(self.newest)
        # A scan no newer than the end of an earlier boot belongs to that one, a repeat of it most likely.
        number = len(afters)
        while scan.time <= afters[number - 1]:
            number -= 1
        return f"h{number}"

    def _begin_boot(self, key: str, scan: Scan, seq: int) -> _Boot:
        floor = seq if scan.oldest is None else min(scan.oldest, seq)
        boot = self.boots[key] = _Boot(floor=floor, settled=floor - 1, keeps=scan.oldest is not None)
        if len(self.boots) > MAX_BOOTS:
            del self.boots[next(iter(self.boots))]
        self.counts.boots += 1
        self.current = key
        return boot

    def _open_gap(self, boot: _Boot, gap: _Gap, *, is_overdue: bool) -> None:
        """Count what a number leaped as lost unless the node can send it again, and wait for it unless that is vain."""
        if not boot.keeps:
            self.counts.missed += gap.high - gap.low + 1
        if not is_overdue:
            self.gaps.append(gap)

    def _fill_gap(self, key: str, seq: int, time: float) -> bool:
        """Take `seq` out of the gap that waits for it; return whether one does."""
        for at, gap in enumerate(self.gaps):
            if gap.boot == key and gap.low <= seq <= gap.high:
                rest = (
                    _Gap(key, gap.low, seq - 1, gap.deadline, gap.before),
                    _Gap(key, seq + 1, gap.high, gap.deadline, max(gap.before, time)),
                )
                self.gaps[at : at + 1] = [part for part in rest if part.low <= part.high]
                return True
        return False

    def _pass_over(self, key: str, boot: _Boot, oldest: int) -> None:
        """Count what is missing below `oldest` as lost and wait for it no longer."""
        if oldest - 1 > boot.settled:
            self.counts.missed += boot.seen.missing_between(boot.settled + 1, oldest - 1)
            boot.settled = oldest - 1
        for gap in self.gaps:
            if gap.boot == key:
                gap.low = max(gap.low, oldest)
        self.gaps = [gap for gap in self.gaps if gap.low <= gap.high]
        self._raise_horizon()

    def _raise_horizon(self) -> None:
        reached = self.newest_judged
        for gap in self.gaps:
            reached = min(reached, gap.before)
        self.horizon = max(self.horizon, reached)
