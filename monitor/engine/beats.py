"""Beats of 30 s: the mean of a beat's slots without spikes, and each sensor's last 40 min of them without holes.

A spike is a slot far from the beat's median; a plain median would lose when within the beat a stoke came. Gaps up to
3 min are bridged by a straight line once they are over; a longer gap, or a jump that no sheathed thermocouple can
follow, starts a new history. While a gap lasts, nothing is said.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from monitor.engine.limits import BEAT_S, BRIDGE_BEATS, HISTORY_BEATS, JUMP_C, SLOTS_PER_BEAT, SPIKE_C
from monitor.engine.setup import BoolArray
from monitor.model import SLOT_S, FloatArray

IntArray = npt.NDArray[np.int64]

NEVER = np.iinfo(np.int64).min // 2
"""A beat number before every other."""


@dataclass(slots=True, eq=False)
class Beats:
    """The open beat and the history of closed ones.

    `open_beat` (1,) is its number (its end in units of `BEAT_S`), `cells` (K, S, slots) its slots so far. `beat` (1,)
    is the newest closed beat, `ring` (K, S, n) the history, newest last, `span` (K, S) how many of its newest cells are
    one unbroken history, `bridged` (K, S, n) which cells are a line over a gap, `last` and `last_beat` (K, S) the
    newest value. `tainted` (K, S) says that a fault or a jump was seen since.
    """

    open_beat: IntArray
    cells: FloatArray
    beat: IntArray
    ring: FloatArray
    bridged: BoolArray
    span: IntArray
    last: FloatArray
    last_beat: IntArray
    tainted: BoolArray


@dataclass(frozen=True, slots=True, eq=False)
class Heard:
    """What one closed beat brought: `valid` (K, S) where it has a value, `renewed` where that starts a new history.

    `forget` (K, S) marks renewals after a fault or a jump: nothing from before compares with what comes now.
    """

    beat: int
    elapsed: int
    valid: BoolArray
    renewed: BoolArray
    forget: BoolArray


def new_beats(shape: tuple[int, int]) -> Beats:
    """Return the state of kilns and sensors of `shape` before the first slot."""
    return Beats(
        open_beat=np.array([NEVER]),
        cells=np.full((*shape, SLOTS_PER_BEAT), np.nan),
        beat=np.array([NEVER]),
        ring=np.full((*shape, HISTORY_BEATS), np.nan),
        bridged=np.zeros((*shape, HISTORY_BEATS), bool),
        span=np.zeros(shape, np.int64),
        last=np.full(shape, np.nan),
        last_beat=np.full(shape, NEVER),
        tainted=np.zeros(shape, bool),
    )


def beat_of(slot_end: float) -> int:
    """Return the number of the beat that holds the slot ending at `slot_end`."""
    return -int(-slot_end // BEAT_S)


def plain_runs(slot_end: FloatArray, plain: BoolArray) -> list[int]:
    """Return for each slot (n,) how many `plain` ones of one beat begin with it, 0 where it is none itself.

    Plain slots follow one another without a gap.
    """
    left = (-slot_end % BEAT_S / SLOT_S).astype(np.int64).tolist()
    runs: list[int] = []
    run = 0
    for is_plain, slots_left in zip(plain[::-1].tolist(), left[::-1], strict=True):
        run = min(run, slots_left) + 1 if is_plain else 0
        runs.append(run)
    return runs[::-1]


def place_slots(beats: Beats, slot_end: float, celsius: FloatArray) -> None:
    """Put slots without a gap (n, K, S), the last ending at `slot_end`, NaN where there is none, into the open beat."""
    end = round((slot_end - (beat_of(slot_end) - 1) * BEAT_S) / SLOT_S)
    beats.cells[:, :, end - len(celsius) : end] = celsius.transpose(1, 2, 0)


def close_beat(beats: Beats) -> Heard:
    """Close the open beat: reduce its slots, move the history on, bridge gaps, refuse jumps."""
    number = int(beats.open_beat[0])
    elapsed = min(number - int(beats.beat[0]), HISTORY_BEATS)
    value = mean_without_spikes(beats.cells)
    beats.cells.fill(np.nan)
    age = number - beats.last_beat
    near = age <= BRIDGE_BEATS
    jumped = np.abs(value - beats.last) > JUMP_C
    refused = near & jumped
    value[refused] = np.nan
    valid = np.isfinite(value)
    renewed = valid & ~near
    forget = renewed & (beats.tainted | jumped)
    beats.tainted = (beats.tainted | refused) & ~valid
    _move_on(beats, elapsed)
    beats.ring[:, :, -1] = value
    _bridge(beats, value, np.where(valid & near, age, 0))
    beats.span = np.where(valid, np.where(near, np.minimum(beats.span + age, HISTORY_BEATS), 1), beats.span)
    beats.last = np.where(valid, value, beats.last)
    beats.last_beat = np.where(valid, number, beats.last_beat)
    beats.beat[0] = number
    return Heard(number, elapsed, valid, renewed, forget)


def mean_without_spikes(cells: FloatArray) -> FloatArray:
    """Return the mean (K, S) of those of `cells` (K, S, slots) that lie within `SPIKE_C` of their median."""
    near = np.abs(cells - median_of_slots(cells)[:, :, None]) <= SPIKE_C
    count = near.sum(axis=2)
    total = np.where(near, cells, 0.0).sum(axis=2)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def median_of_slots(cells: FloatArray) -> FloatArray:
    """Return the median (K, S) of `cells` (K, S, slots) over those that are not NaN; NaN without any."""
    slots = cells.shape[2]
    ordered = np.sort(cells, axis=2)
    if np.isfinite(ordered[:, :, -1]).all():  # NaN is sorted to the end
        return np.asarray(0.5 * (ordered[:, :, (slots - 1) // 2] + ordered[:, :, slots // 2]))
    count = np.isfinite(cells).sum(axis=2, keepdims=True)
    low = np.take_along_axis(ordered, np.maximum(count - 1, 0) // 2, axis=2)
    high = np.take_along_axis(ordered, count // 2 % slots, axis=2)
    return np.asarray(0.5 * (low + high)[:, :, 0])


def _move_on(beats: Beats, elapsed: int) -> None:
    if elapsed < HISTORY_BEATS:
        beats.ring[:, :, :-elapsed] = beats.ring[:, :, elapsed:]
        beats.bridged[:, :, :-elapsed] = beats.bridged[:, :, elapsed:]
    beats.ring[:, :, -elapsed:] = np.nan
    beats.bridged[:, :, -elapsed:] = False


def _bridge(beats: Beats, value: FloatArray, age: IntArray) -> None:
    """Fill the cells between the last value and this one, `age` (K, S) beats apart, with a straight line."""
    for ago in range(1, int(age.max(initial=0))):
        within = age > ago
        line = value + (beats.last - value) * (ago / np.maximum(age, 1))
        beats.ring[:, :, -1 - ago] = np.where(within, line, beats.ring[:, :, -1 - ago])
        beats.bridged[:, :, -1 - ago] |= within
