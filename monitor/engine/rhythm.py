"""Rhythm: stokes that come ever later than they did, told by an EWMA chart of log intervals.

The crew's intended interval is not known; the earlier rhythm stands for it. It follows a quicker rhythm at once, since
that is what every next stage of a firing wants, and never a slower one: that is the drift. A rhythm is one only where
most intervals are alike: a stoke seen where none was cuts one in two, which is no haste. Where no firebox sensor shows
the stokes, too many are missed to speak of a rhythm.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from monitor.engine.charts import ewma, ewma_limit
from monitor.engine.limits import (
    RHYTHM_ADOPT_S,
    RHYTHM_BACK_S,
    RHYTHM_EVEN,
    RHYTHM_FIVE,
    RHYTHM_FIVE_END,
    RHYTHM_LEAST_OFF,
    RHYTHM_MOST_EVEN,
    RHYTHM_MOST_QUICKER,
    RHYTHM_OFF_EACH,
    RHYTHM_OTHER,
    RHYTHM_QUICKER,
    RHYTHM_QUICKER_EACH,
    RHYTHM_SHARE,
    RHYTHM_SPREAD,
    RHYTHM_WIDTH,
    STOKE_LULL_S,
)
from monitor.engine.setup import BoolArray
from monitor.engine.stoke_state import Stoke
from monitor.model import FloatArray

ONSETS = 14
"""Stokes that are remembered."""

FIVE = 5
_LEARN = 8
_BACK = 3
_LARGEST = np.log(2.5)
_LIKE = 0.15
_SLOW_GAIN = 1.0 / 24.0
_SAME = 0.15
_HASTE = 1.9
_SILENT_BEATS = 2


@dataclass(slots=True, eq=False)
class Rhythm:
    """What is remembered of each kiln (K,).

    `onsets` (K, n) of stokes, epoch seconds, newest last, NaN where none; `usual_s` the rhythm to compare with, NaN
    while unknown; `earlier_s` and `changed` what it was before it quickened, and when; `silent` beats without a sample
    since the newest stoke; `open` whether a drift is told, `since` its onset.
    """

    onsets: FloatArray
    usual_s: FloatArray
    earlier_s: FloatArray
    changed: FloatArray
    silent: FloatArray
    open: BoolArray
    since: FloatArray


@dataclass(frozen=True, slots=True)
class Drift:
    """A drift that begins or ends at kiln `kiln`; `ratio` of the interval now, `interval_s`, to the usual one."""

    kiln: int
    onset: float
    interval_s: float
    ratio: float
    begins: bool


def new_rhythm(kilns: int) -> Rhythm:
    """Return the state of `kilns` kilns before the first stoke."""
    nothing = [np.full(kilns, np.nan) for _ in range(4)]
    return Rhythm(
        onsets=np.full((kilns, ONSETS), np.nan),
        usual_s=nothing[0],
        earlier_s=nothing[1],
        changed=nothing[2],
        silent=np.zeros(kilns),
        open=np.zeros(kilns, bool),
        since=nothing[3],
    )


def judge_rhythm(
    rhythm: Rhythm, stokes: Sequence[Stoke], *, now: float, heard: BoolArray, closed: BoolArray
) -> list[Drift]:  # fmt: skip
    """Take in the stokes that a beat made known; `heard` (K,) kilns with a sample in it, `closed` (K,) kilns up."""
    drifts: list[Drift] = []
    rhythm.silent += ~heard
    for stoke in (s for s in stokes if not s.is_side):
        is_sure = stoke.is_noted or bool(np.isfinite(stoke.dip_c))
        if is_sure or stoke.is_late:
            _take(rhythm, stoke)
        if is_sure and not stoke.is_late:
            drifts += _judge(rhythm, stoke.kiln)
    newest = rhythm.onsets[:, -1]
    over = rhythm.open & (closed | (heard & (now - newest > STOKE_LULL_S)))
    for kiln in np.flatnonzero(over).tolist() if over.any() else ():
        rhythm.open[kiln] = False
        drifts.append(Drift(kiln, float(newest[kiln]), np.nan, np.nan, begins=False))
    return drifts


def _take(rhythm: Rhythm, stoke: Stoke) -> None:
    """Put a stoke among the others in order; one after a silence or a lull starts a new row."""
    row = rhythm.onsets[stoke.kiln]
    if not stoke.is_late:
        if rhythm.silent[stoke.kiln] >= _SILENT_BEATS or stoke.onset - row[-1] > STOKE_LULL_S:
            row[:] = np.nan
        rhythm.silent[stoke.kiln] = 0.0
    joined = np.append(row, stoke.onset)
    rhythm.onsets[stoke.kiln] = np.concatenate([joined[np.isnan(joined)], np.sort(joined[np.isfinite(joined)])])[1:]


def _judge(rhythm: Rhythm, kiln: int) -> list[Drift]:
    onsets = rhythm.onsets[kiln]
    onsets = onsets[np.isfinite(onsets)]
    intervals = np.diff(onsets)
    if len(intervals) < _LEARN:
        return []
    _keep_usual(rhythm, kiln, intervals, float(onsets[-1]))
    if np.isnan(rhythm.usual_s[kiln]):
        return []
    intervals = np.diff(rhythm.onsets[kiln][np.isfinite(rhythm.onsets[kiln])])
    if len(intervals) < _LEARN:
        return []
    off = np.clip(np.log(intervals / rhythm.usual_s[kiln]), -_LARGEST, _LARGEST)
    five = intervals[-FIVE:]
    ratio = float(five.mean() / rhythm.usual_s[kiln])
    chart = float(ewma(off, RHYTHM_SHARE, 0.0)[-1])
    limit = float(ewma_limit(RHYTHM_SPREAD, RHYTHM_SHARE, RHYTHM_WIDTH, len(off)))
    is_off = int((five >= (1.0 + RHYTHM_OFF_EACH) * rhythm.usual_s[kiln]).sum()) >= RHYTHM_LEAST_OFF
    if not rhythm.open[kiln] and chart > limit and RHYTHM_FIVE <= ratio < RHYTHM_OTHER and is_off:
        rhythm.open[kiln], rhythm.since[kiln] = True, onsets[-FIVE - 1]
        return [Drift(kiln, float(onsets[-FIVE - 1]), float(five.mean()), ratio, begins=True)]
    if rhythm.open[kiln] and (ratio < RHYTHM_FIVE_END or onsets[-1] - rhythm.since[kiln] > RHYTHM_ADOPT_S):
        rhythm.open[kiln] = False
        if ratio >= RHYTHM_FIVE_END:
            rhythm.usual_s[kiln] = float(np.median(intervals[-_LEARN:]))
        return [Drift(kiln, float(onsets[-2]), float(five.mean()), ratio, begins=False)]
    return []


def _keep_usual(rhythm: Rhythm, kiln: int, intervals: FloatArray, now: float) -> None:
    """Learn the usual interval; follow it down at once, and back up to what it was not long ago."""
    lately = float(np.median(intervals[-_LEARN:]))
    newest = float(np.median(intervals[-_BACK:]))
    usual = float(rhythm.usual_s[kiln])
    is_even = int((np.abs(np.log(intervals[-_LEARN:] / lately)) < RHYTHM_EVEN).sum()) >= RHYTHM_MOST_EVEN
    if np.isnan(usual):
        rhythm.usual_s[kiln] = lately if is_even else np.nan
        return
    if lately > RHYTHM_OTHER * usual:
        rhythm.usual_s[kiln] = newest
        return
    if lately < RHYTHM_QUICKER * usual:
        quicker = int((intervals[-_LEARN:] < RHYTHM_QUICKER_EACH * usual).sum())
        if is_even and quicker >= RHYTHM_MOST_QUICKER and np.log(newest / lately) > -_SAME:  # else it still quickens
            rhythm.earlier_s[kiln], rhythm.changed[kiln], rhythm.usual_s[kiln] = usual, now, lately
        return
    if not rhythm.open[kiln] and _is_back(rhythm, kiln, intervals[-_BACK:], now):
        rhythm.usual_s[kiln], rhythm.earlier_s[kiln] = rhythm.earlier_s[kiln], np.nan
        rhythm.onsets[kiln, : -_BACK - 1] = np.nan
        return
    off = float(np.log(intervals[-1] / usual))
    if abs(off) < _LIKE:
        rhythm.usual_s[kiln] = usual * np.exp(_SLOW_GAIN * off)


def _is_back(rhythm: Rhythm, kiln: int, newest: FloatArray, now: float) -> bool:
    """Judge whether a quicker rhythm was haste: the newest intervals are all as before it, and it did not last long."""
    earlier = float(rhythm.earlier_s[kiln])
    is_near = bool((np.abs(np.log(newest / earlier)) < _SAME).all())
    return is_near and earlier < _HASTE * rhythm.usual_s[kiln] and now - rhythm.changed[kiln] < RHYTHM_BACK_S
