"""Sensor faults that show in the numbers themselves, and how they are told.

Most slots are plain: nothing odd, nothing under way. Those are passed over at once; all others go to each detector.
What takes minutes to show is judged every beat, what takes an hour every tick of 5 min. Two detectors may see the same
fault: it begins with the first and ends with the last.
"""

from dataclasses import dataclass, fields
from typing import Any

import numpy as np
import numpy.typing as npt

from monitor.engine.beats import NEVER, Beats, IntArray
from monitor.engine.cold import Cold, judge_cold, new_cold
from monitor.engine.electric import (
    FROZEN,
    REVERSED,
    SPIKES,
    Electric,
    judge_electric,
    new_electric,
    rests,
    warm_elsewhere,
)
from monitor.engine.fault_words import fault_finding
from monitor.engine.jumps import (
    SHORT,
    STEP,
    Jumps,
    is_under_way,
    judge_jumps,
    judge_offsets,
    keep_plain_slots,
    keep_slot,
    new_jumps,
)
from monitor.engine.jumps import SWAPPED as JUMPED_OVER
from monitor.engine.letter import Letters, judge_letters, new_letters
from monitor.engine.limits import BEAT_S, COLD_JUMP_C, HELD_S, NEGATIVE_VOLTS, TICK_S
from monitor.engine.neighbours import Neighbours, judge_neighbours, new_neighbours
from monitor.engine.pulled import Pulled, judge_pulled, new_pulled
from monitor.engine.seen import LastHeard, Seen, is_odd, new_last_heard, see
from monitor.engine.setup import BoolArray, EngineSetup
from monitor.engine.told import FaultChange
from monitor.model import SLOT_S, Finding, FloatArray, SensorFault, Slots, Status

Told = list[tuple[int, Finding]]
BEAT_SLOTS = round(BEAT_S / SLOT_S)
CODES = tuple(SensorFault)
_OK, _ABOVE = float(Status.OK), float(Status.ABOVE)
"""As they stand in `Gathered.raw`."""


@dataclass(slots=True, eq=False)
class Faults:
    """What the detectors remember."""

    last: LastHeard
    electric: Electric
    jumps: Jumps
    cold: Cold
    pulled: Pulled
    letters: Letters
    near: Neighbours
    gathered: "Gathered"
    ahead: "Ahead | None" = None

    @property
    def is_blind(self) -> BoolArray:
        """Where a sensor (K, S) says nothing of the fire."""
        off = self.jumps.told[:, :, SHORT] | self.pulled.told
        for told in (self.electric.told, self.letters.told):
            if told.any():
                off |= told.any(axis=2)
        return np.asarray(off)

    @property
    def is_doubtful(self) -> BoolArray:
        """Where a sensor (K, S) still moves with the fire but cannot be compared with others, or may be out of it."""
        jumped = self.jumps.told[:, :, STEP] | self.jumps.told[:, :, JUMPED_OVER]
        return np.asarray(jumped | self.near.told | self.cold.told | (self.pulled.beats > 0))

    def arrays(self) -> dict[str, npt.NDArray[Any]]:
        """Return the whole state by name."""
        catch_up(self)
        parts = {f.name: getattr(self, f.name) for f in fields(self) if f.name != "ahead"}
        return {f"{name}.{f.name}": getattr(part, f.name) for name, part in parts.items() for f in fields(part)}


@dataclass(slots=True, eq=False)
class Ahead:
    """Slots that were looked at together: those from `taken` up to `passed` were plain and are still to be kept.

    `is_calm` says that nothing was under way after the last one judged. Nothing of this outlives a call.
    """

    seen: Seen
    heat: BoolArray
    taken: int
    passed: int
    is_calm: bool


@dataclass(slots=True, eq=False)
class Gathered:
    """What is kept beside the detectors.

    `count` (K, S, F) says how many of them tell each fault now; `total_c` and `beats` (K, S) gather the open tick,
    numbered `tick` (1,); `held_at` (K, S) is when a value was last held; `raw` (4, K, S) is each sensor's last emf,
    cold junction, status and time.
    """

    count: IntArray
    total_c: FloatArray
    beats: IntArray
    tick: IntArray
    held_at: FloatArray
    raw: FloatArray


def new_faults(shape: tuple[int, int]) -> Faults:
    """Return the state of kilns and sensors of `shape` before the first slot."""
    return Faults(
        new_last_heard(shape), new_electric(shape), new_jumps(shape), new_cold(shape), new_pulled(shape),
        new_letters(shape), new_neighbours(shape),
        Gathered(
            count=np.zeros((*shape, len(CODES)), np.int64),
            total_c=np.zeros(shape),
            beats=np.zeros(shape, np.int64),
            tick=np.array([NEVER]),
            held_at=np.full(shape, np.nan),
            raw=np.full((4, *shape), np.nan),
        ),
    )  # fmt: skip


def look_at(faults: Faults, setup: EngineSetup, slots: Slots) -> tuple[Seen, BoolArray]:
    """Return what `slots` show, and which of them are odd; an oxygen cell's emf may do what it likes."""
    catch_up(faults)
    seen = see(faults.last, slots, setup.present & ~setup.oxygen)
    faults.ahead = Ahead(seen, setup.heat, 0, 0, _is_calm(faults))
    return seen, is_odd(seen, slots.end)


def is_calm(faults: Faults) -> bool:
    """Return whether nothing is under way, so that a plain slot may be passed over."""
    return faults.ahead is not None and faults.ahead.is_calm


def pass_over(faults: Faults, end: int) -> None:
    """Pass over the slots looked at up to, not including, number `end`: plain, and nothing is under way."""
    assert faults.ahead is not None
    faults.ahead.passed = end


def judge_faults(
    faults: Faults, setup: EngineSetup, beats: Beats, slot: int, *, known_at: FloatArray, odd: bool
) -> Told:
    """Take up one of the slots looked at, known at `known_at` (K,).

    A sensor that jumped begins a new history in `beats`. A plain slot while nothing is under way is only passed over.
    """
    ahead = faults.ahead
    assert ahead is not None
    ahead.passed = slot + 1
    if ahead.is_calm and not odd:
        return []
    catch_up(faults)
    seen = ahead.seen.at(slot)
    end = seen.end
    told = _judge_slot(faults, setup, beats, seen, end=end, known_at=known_at)
    ahead.is_calm = _is_calm(faults)
    return told


def catch_up(faults: Faults) -> None:
    """Keep the slots that were passed over."""
    ahead = faults.ahead
    if ahead is None or ahead.passed == ahead.taken:
        return
    part = slice(ahead.taken, ahead.passed)
    ahead.taken = ahead.passed
    seen, jumps = ahead.seen, faults.jumps
    end = seen.raw[part, 3, 0, 0]
    speaks = seen.heard[part] & np.isfinite(seen.mean_c[part]) & ahead.heat
    if (speaks == ahead.heat).all() and (end[1:] - end[:-1] <= 3 * SLOT_S).all():
        keep_plain_slots(jumps, seen.mean_c[part], seen.middle_volts[part], end=end, who=ahead.heat)
    else:
        for slot, who in zip(range(part.start, part.stop), speaks, strict=True):
            keep_slot(jumps, seen.at(slot), who, seen.at(slot).end)
    heard, raw = seen.heard[part], seen.raw[part]
    first = -1 if (heard[-1] == heard.any(axis=0)).all() else 0  # most often the newest slot has all of them
    for who, row in zip(heard[first:], raw[first:], strict=True):
        faults.gathered.raw = np.where(who, row, faults.gathered.raw)


def _is_calm(faults: Faults) -> bool:
    return rests(faults.electric) and not is_under_way(faults.jumps)


def _judge_slot(
    faults: Faults, setup: EngineSetup, beats: Beats, seen: Seen, *, end: float, known_at: FloatArray
) -> Told:
    now_c = np.where(np.isfinite(seen.mean_c), seen.mean_c, seen.before_c)
    able = setup.heat & ~_is_held(faults, seen, end)
    changes = judge_electric(faults.electric, setup, seen, end=end, warm=warm_elsewhere(setup, now_c))
    changes += judge_jumps(faults.jumps, beats, seen, end=end, able=able, in_flame=setup.heat & ~setup.chamber)
    return _findings(faults, setup, changes, known_at, now_c)


def judge_slow_faults(faults: Faults, setup: EngineSetup, *, beat: int, known_at: FloatArray) -> Told:
    """Take up the beat number `beat` that just ended, known at `known_at` (K,)."""
    catch_up(faults)
    now = beat * BEAT_S
    _, cold_c, status, heard_at = faults.gathered.raw
    recent = setup.heat & (now - heard_at < 2.0 * BEAT_S)
    celsius = np.where(recent, faults.jumps.ring[:, :, -BEAT_SLOTS:].sum(axis=2) / BEAT_SLOTS, np.nan)
    if status.any():
        celsius = np.where(recent & (status == _ABOVE), np.inf, celsius)
        celsius = np.where(recent & (status != _OK) & (status != _ABOVE), np.nan, celsius)
    able = setup.heat & ~_is_off(faults)
    read_c = np.where(np.isfinite(celsius), celsius, np.nan)
    told_c = np.where(recent & ~faults.electric.told[:, :, FROZEN], cold_c, np.nan)  # one cached goes with its emf
    changes = judge_cold(faults.cold, setup, told_c, now)
    jumped = faults.jumps.jumped_at > now - TICK_S
    changes += judge_pulled(faults.pulled, read_c, now=now, able=able & ~jumped)
    changes += judge_offsets(faults.jumps, read_c, now)
    changes += _judge_tick(faults, setup, celsius, now)
    return _findings(faults, setup, changes, known_at, celsius)


def _judge_tick(faults: Faults, setup: EngineSetup, celsius: FloatArray, now: float) -> list[FaultChange]:
    """Gather a beat; at the end of a tick judge what is slow."""
    gathered, number = faults.gathered, int(now // TICK_S)
    ends = number > gathered.tick[0] > NEVER
    gathered.tick[0] = number
    known = ~np.isnan(celsius)
    gathered.total_c = np.where(known, gathered.total_c + celsius, gathered.total_c)
    gathered.beats += known
    if not ends:
        return []
    mean_c = np.where(gathered.beats > 0, gathered.total_c / np.maximum(gathered.beats, 1), np.nan)
    gathered.total_c, gathered.beats = np.zeros_like(mean_c), np.zeros_like(gathered.beats)
    off = _is_off(faults) | faults.pulled.told | faults.pulled.beats.astype(bool)
    swapped = faults.jumps.told[:, :, JUMPED_OVER]
    changes = judge_letters(faults.letters, setup, mean_c, gathered.raw, able=setup.heat & ~off & ~swapped, now=now)
    stepped = off | faults.is_blind | swapped | faults.jumps.told[:, :, STEP] | (faults.jumps.jumped_at > now - TICK_S)
    return changes + judge_neighbours(
        faults.near, setup, mean_c, able=setup.heat & ~stepped & np.isfinite(mean_c), now=now
    )


def _is_off(faults: Faults) -> BoolArray:
    """Return where a sensor's emf is not its junction's."""
    return np.asarray(faults.electric.told.any(axis=2) | faults.jumps.told[:, :, SHORT])


def _is_held(faults: Faults, seen: Seen, end: float) -> BoolArray:
    """Return where a change is explained: a value let go, wires swapped, spikes, a cold junction that moved."""
    same = end - faults.electric.same_since >= HELD_S
    negative = (seen.middle_volts < NEGATIVE_VOLTS) | (seen.before_volts < NEGATIVE_VOLTS)
    chilled = np.abs(seen.cold_c - seen.before_cold_c) > COLD_JUMP_C
    told = faults.electric.told[:, :, [REVERSED, SPIKES]].any(axis=2)
    held = same | negative | chilled | told
    faults.gathered.held_at = np.where(held, end, faults.gathered.held_at)
    return np.asarray(end - faults.gathered.held_at <= 2 * SLOT_S)


def _findings(
    faults: Faults, setup: EngineSetup, changes: list[FaultChange], known_at: FloatArray, now_c: FloatArray
) -> Told:
    """Return what becomes of `changes`: a fault begins with the first detector that tells it and ends with the last."""
    told = []
    for change in changes:
        count = faults.gathered.count[:, :, CODES.index(change.fault)]
        begun, ended = change.begun & (count == 0), change.ended & (count == 1)
        count += change.begun.astype(np.int64) - (change.ended & (count > 0))
        for k, s in np.argwhere(begun | ended).tolist():
            told.append(
                (k, fault_finding(setup, change, (k, s), known_at=float(known_at[k]), now_c=float(now_c[k, s])))
            )
    return told
