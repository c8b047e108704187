"""The engine: slots in, findings out.

It steps slot by slot for what sensors say of themselves, and beat by beat (30 s of record time) for what the fire does,
over arrays of fixed shape with a leading kiln axis. Nothing here depends on how slots are cut into calls.
"""

from dataclasses import dataclass, fields
from typing import Any

import numpy as np
import numpy.typing as npt

from monitor.engine.answers import Answers, new_answers
from monitor.engine.beats import Beats, beat_of, close_beat, new_beats, place_slots, plain_runs
from monitor.engine.causes import evidence_of, likely_words
from monitor.engine.climb import SPANS_BEATS, Climb, judge_climb, lay_out_bank, new_climb, ripple_of, told_climb
from monitor.engine.expecting import Standing, is_due, keep_learning, standing
from monitor.engine.fall import Fall, judge_fall, new_fall
from monitor.engine.faults import Faults, is_calm, judge_faults, judge_slow_faults, look_at, new_faults, pass_over
from monitor.engine.guide import choose_guide
from monitor.engine.inferred import Fire, Inferred, judge_inferred, new_inferred
from monitor.engine.limits import BEAT_S, BRIDGE_BEATS, STALL_SPAN_BEATS
from monitor.engine.outlook import Known, Wanted, outlook_of
from monitor.engine.reduction import (
    Reduction,
    demand_over_air,
    judge_reduction,
    new_reduction,
    probe_speaks,
    take_demand,
)
from monitor.engine.rhythm import Rhythm, judge_rhythm, new_rhythm
from monitor.engine.sensor import SensorWatch, is_faulty, is_quiet, judge_sensors, new_watch, shows_fault
from monitor.engine.setup import BoolArray, EngineSetup, fingerprint
from monitor.engine.stall import Guiding, Stall, judge_stall, keep_levels, new_stall
from monitor.engine.state import copy_into, pack_arrays, unpack
from monitor.engine.stoke import judge_stokes, note_stoke
from monitor.engine.stoke_state import Watch, new_stokes
from monitor.engine.stoke_words import SIDE, rhythm_findings, stoke_findings
from monitor.engine.told import Change, in_order
from monitor.engine.words import fall_findings, inferred_findings, reduction_findings, stall_findings
from monitor.forecast.learning import Learned, new_learned
from monitor.heat_work.running import HeatWork, new_heat_work, take_up
from monitor.model import SLOT_S, CodeArray, Finding, FloatArray, Outlook, SensorClimb, Slots, Status

Told = list[tuple[int, Finding]]

_WELL: BoolArray = np.array([status in (Status.OK, Status.UNDEFINED) for status in Status])


@dataclass(slots=True, eq=False)
class Marks:
    """What the engine knows of each kiln (K,) and of time.

    `first` is the begin of its first slot with a sample, `closed` when it was closed up, epoch seconds, NaN before;
    `guide` the position of its guide, -1 without one. `end` (1,) is the newest slot, -inf before the first.
    """

    first: FloatArray
    closed: FloatArray
    guide: npt.NDArray[np.int64]
    end: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class _Looked:
    """What is known of the n slots of a call before they are judged.

    `all_well` and `is_odd` by slot, `runs` how many plain slots begin with each; `tainted` (n, K, S) where a status
    shows a fault, `value` (n, K, S) degC to judge, `demand` (n, K, S) over air.
    """

    all_well: list[bool]
    is_odd: list[bool]
    runs: list[int]
    tainted: BoolArray
    value: FloatArray
    demand: FloatArray


class Engine:
    """Judge the slots of one or more kilns."""

    def __init__(self, setup: EngineSetup) -> None:
        shape = setup.shape
        kilns = shape[0]
        self._setup = setup
        self._bank = lay_out_bank()
        self._beats: Beats = new_beats(shape)
        self._climb: Climb = new_climb(shape)
        self._answers: Answers = new_answers(shape)
        self._fall: Fall = new_fall(shape)
        self._stall: Stall = new_stall(shape)
        self._reduction: Reduction = new_reduction(shape)
        self._inferred: Inferred = new_inferred(kilns)
        self._watch: SensorWatch = new_watch(shape)
        self._stokes: Watch = new_stokes(shape)
        self._rhythm: Rhythm = new_rhythm(kilns)
        self._faults: Faults = new_faults(shape)
        self._heat_work: HeatWork = new_heat_work(shape)
        self._learned: Learned = new_learned(shape, has_plan=setup.has_plan)
        nobody = np.full(shape, BRIDGE_BEATS + 1)
        guide = choose_guide(setup, nobody, nobody, blind=np.zeros(shape, bool), doubtful=np.zeros(shape, bool))
        self._has_probe = bool(setup.oxygen.any())
        self._is_quiet = False  # of the watch, as of the slot before; worked out anew by each call
        self._marks = Marks(np.full(kilns, np.nan), np.full(kilns, np.nan), guide, np.full(1, -np.inf))

    def judge(self, slots: Slots) -> Told:
        """Return what these slots make known, each with its kiln, in order of time, kind, sensor, fault, state.

        Raises:
            ValueError: where slots do not follow the ones judged before.
        """
        before = np.append(self._marks.end, slots.end[:-1])[: len(slots.end)]
        if not (slots.end > before).all():
            raise ValueError(f"slots must rise; the last one judged ends at {self._marks.end[0]}")
        looked = self._look(slots, before)
        self._is_quiet = self._shows_nothing()
        told: Told = []
        begin = 0
        while begin < len(looked.runs):
            run = looked.runs[begin] if self._is_quiet and is_calm(self._faults) else 0
            end = begin + max(run, 1)
            told += self._turn_beat(float(slots.end[begin]), slots.known_at[begin], before=True)
            told += self._pass_over(slots, end) if run else self._judge_slot(slots, looked, begin)
            told += self._keep(slots, looked, begin, end)
            begin = end
        return in_order(told)

    def _look(self, slots: Slots, before: FloatArray) -> _Looked:
        """Return what there is to know of slots, each after one that ends at `before` (n,), before they are judged."""
        well = _WELL[slots.status] | ~self._setup.present
        all_well = np.logical_and.reduce(well, axis=(1, 2))
        tainted = shows_fault(slots.status)
        seen, is_odd = look_at(self._faults, self._setup, slots)
        plain = all_well & ~is_odd & ~tainted.any(axis=(1, 2)) & (slots.end - before == SLOT_S)
        return _Looked(
            all_well=all_well.tolist(),
            is_odd=is_odd.tolist(),
            runs=plain_runs(slots.end, plain),
            tainted=tainted,
            value=np.where(slots.status == Status.OK, seen.mean_c, np.nan),
            demand=demand_over_air(self._setup, slots),
        )

    def climbs(self, kiln: int = 0) -> list[SensorClimb]:
        """Return every sensor's climb with its standard uncertainty as of the newest beat, in the site's order."""
        rate, uncertainty = told_climb(self._climb, self._answers, self._bank, self._beats, slice(kiln, kiln + 1))
        return [
            SensorClimb(sensor, *(None if np.isnan(x) else float(x) for x in (rate[0, s], uncertainty[0, s])))
            for s, sensor in enumerate(self._setup.ids[kiln])
        ]

    def guide(self, kiln: int = 0) -> str | None:
        """Return the id of the sensor that guides now, None where none can."""
        position = int(self._marks.guide[kiln])
        return self._setup.ids[kiln][position] if position >= 0 else None

    def outlook(self, wanted: Wanted, kiln: int = 0) -> Outlook | None:
        """Return heat work, evenness and forecast as of the newest beat, None before the first."""
        beat = int(self._beats.beat[0])
        if beat < 0:
            return None
        known = Known(
            self._learned,
            self._setup,
            self._standing(self._guiding()),
            self._heat_work,
            ripple_of(self._beats.ring, self._beats.span),
            self._faults.is_doubtful,
            self._marks.closed <= beat * BEAT_S,
        )
        return outlook_of(known, kiln, wanted)

    def close_up(self, at: float, kiln: int = 0) -> None:
        """Note that the kiln was closed up at epoch seconds `at`: stall and fall end then, and none begins after."""
        self._marks.closed[kiln] = at

    def fire_on(self, kiln: int = 0) -> None:
        """Note that the kiln is fired on after all: from now on it is judged again."""
        self._marks.closed[kiln] = np.nan

    def closed_up(self, kiln: int = 0) -> float | None:
        """Return when the kiln was closed up, epoch seconds, None while it is fired."""
        at = float(self._marks.closed[kiln])
        return None if np.isnan(at) else at

    def note_stoke(self, at: float, door: str, kiln: int = 0) -> None:
        """Note a stoke at epoch second `at` through `door`, front or side, that a person told of."""
        note_stoke(self._stokes, kiln, at, is_side=door == SIDE)

    def note_opened(self, at: float, door: str, kiln: int = 0) -> None:
        """Note that `door`, front or side, was opened at epoch second `at`: to stoke, or only to look."""
        note_stoke(self._stokes, kiln, at, is_side=door == SIDE, may_be_look=True)

    def save(self) -> bytes:
        """Return the whole state as bytes."""
        return pack_arrays(self._arrays(), fingerprint(self._setup))

    def restore(self, saved: bytes) -> None:
        """Go on from what `save` returned.

        Raises:
            ValueError: where `saved` is damaged or belongs to another setup or version.
        """
        copy_into(self._arrays(), unpack(saved, fingerprint(self._setup)))

    def _arrays(self) -> dict[str, npt.NDArray[Any]]:
        parts: dict[str, Any] = {
            "beats": self._beats, "climb": self._climb, "answers": self._answers, "fall": self._fall,
            "stall": self._stall, "reduction": self._reduction, "inferred": self._inferred, "watch": self._watch,
            "marks": self._marks, "rhythm": self._rhythm, "heat_work": self._heat_work, "learned": self._learned,
        } | self._stokes.records()  # fmt: skip
        arrays = {f"{part}.{f.name}": getattr(state, f.name) for part, state in parts.items() for f in fields(state)}
        return arrays | {f"faults.{name}": array for name, array in self._faults.arrays().items()}

    def _shows_nothing(self) -> bool:
        """Return whether all sensors speak in every slot and none shows a fault: a plain slot then changes nothing."""
        every_slot = (self._watch.usual_s == SLOT_S)[self._setup.present].all()
        return bool(every_slot) and is_quiet(self._watch)

    def _pass_over(self, slots: Slots, end: int) -> Told:
        """Take plain slots up to, not including, number `end` of the call for what they are: only time moves on."""
        present = self._setup.present
        self._marks.end[0] = self._watch.heard[present] = self._watch.alive[present] = slots.end[end - 1]
        pass_over(self._faults, end)
        return []

    def _judge_slot(self, slots: Slots, looked: _Looked, i: int) -> Told:
        """Judge slot number `i` of the call: what its sensors say of themselves, and what shows in their numbers."""
        known_at = slots.known_at[i]
        told = self._take_slot(
            float(slots.end[i]), known_at, slots.status[i], late=slots.late[i], all_well=looked.all_well[i]
        )
        return told + judge_faults(self._faults, self._setup, self._beats, i, known_at=known_at, odd=looked.is_odd[i])

    def _keep(self, slots: Slots, looked: _Looked, begin: int, end: int) -> Told:
        """Put slots `begin` to `end` of one beat into it, all plain if more than one, and close it with its last."""
        last, last_end = end - 1, float(slots.end[end - 1])
        place_slots(self._beats, last_end, looked.value[begin:end])
        if self._has_probe:
            for demand in looked.demand[begin:end]:
                take_demand(self._reduction, demand)
        self._beats.tainted |= looked.tainted[last]
        return self._turn_beat(last_end, slots.known_at[last], before=False)

    def _take_slot(
        self, end: float, known_at: FloatArray, status: CodeArray, *, late: BoolArray, all_well: bool
    ) -> Told:
        """Judge what sensors say of themselves; a slot like the one before, all well, only moves the time on."""
        follows = end - self._marks.end[0] == SLOT_S
        self._marks.end[0] = end
        watch = self._watch
        if all_well and follows and self._is_quiet:
            watch.heard[self._setup.present] = watch.alive[self._setup.present] = end
            return []
        heard = ((status != Status.ABSENT) & self._setup.present).any(axis=1)
        self._marks.first = np.where(heard & np.isnan(self._marks.first), end - SLOT_S, self._marks.first)
        told = judge_sensors(watch, self._setup, end, known_at, status=status, late=late)
        self._is_quiet = self._shows_nothing()
        return told

    def _turn_beat(self, end: float, known_at: FloatArray, *, before: bool) -> Told:
        """Close the open beat when a slot of a later one comes (`before`), or when its own last slot is in."""
        number, beats = beat_of(end), self._beats
        if before:
            is_due = beats.open_beat[0] > beats.beat[0] and number > beats.open_beat[0]
        else:
            beats.open_beat[0] = number
            is_due = end == number * BEAT_S
        return self._judge_beat(known_at) if is_due else []

    def _judge_beat(self, known_at: FloatArray) -> Told:
        setup, marks = self._setup, self._marks
        blind = is_faulty(self._watch) | self._faults.is_blind
        self._beats.cells[blind] = np.nan
        cells = self._beats.cells.copy()
        heard = close_beat(self._beats)
        told = judge_slow_faults(self._faults, setup, beat=heard.beat, known_at=known_at)
        doubtful = self._faults.is_doubtful
        judge_climb(self._climb, self._answers, self._bank, self._beats, heard=heard, cells=cells)
        keep_levels(self._stall, self._climb.level, heard)
        hot = np.where(heard.valid & setup.heat, self._beats.last, np.nan)
        take_up(self._heat_work, (heard.beat - 0.5) * BEAT_S, hot)
        since_value, since_climb = heard.beat - self._beats.last_beat, heard.beat - self._climb.beat
        marks.guide = choose_guide(setup, since_value, since_climb, blind=blind, doubtful=doubtful)
        closed = marks.closed <= heard.beat * BEAT_S
        comparable = np.where(doubtful, np.nan, self._climb.level)
        fall = judge_fall(self._fall, setup, comparable, heard, closed)
        guiding = self._guiding()
        if is_due(self._learned, heard.beat):
            keep_learning(self._learned, setup, self._standing(guiding))
        stall = judge_stall(self._stall, setup, guiding, heard.beat, closed)
        reduction = judge_reduction(self._reduction, heard.beat, closed) if self._has_probe else None
        measured = probe_speaks(self._reduction)
        fire = Fire(self._beats, self._climb.level, self._rhythm.onsets, blind | doubtful, measured)
        hint = judge_inferred(self._inferred, setup, fire, closed)
        told += fall_findings(setup, self._when_closed(fall, closed), known_at, self._why)
        if hint is not None:
            told += inferred_findings(hint, self._when_closed(hint.change, closed), known_at)
        if reduction is not None:
            told += reduction_findings(setup, self._when_closed(reduction, closed), known_at)
        told += stall_findings(setup, self._when_closed(stall, closed), known_at, self._why)
        return told + self._judge_stokes(heard.beat, cells, known_at, closed=closed, blind=blind)

    def _judge_stokes(
        self, beat: int, cells: FloatArray, known_at: FloatArray, *, closed: BoolArray, blind: BoolArray
    ) -> Told:
        """Judge stokes and their rhythm; what a sensor showed before its fault was told is no stoke."""
        found = judge_stokes(self._stokes, self._setup, beat, cells, closed)
        stokes = [s for s in found if s.is_noted or s.sensor < 0 or not blind[s.kiln, s.sensor]]
        heard = np.asarray((np.isfinite(cells).any(axis=2) & self._setup.heat).any(axis=1))
        drifts = judge_rhythm(self._rhythm, stokes, now=beat * BEAT_S, heard=heard, closed=closed)
        return stoke_findings(self._setup, stokes, known_at) + rhythm_findings(drifts, known_at)

    def _why(self, kiln: int, sensor: int) -> str:
        now = float(self._beats.beat[0] * BEAT_S)
        parts = self._setup, self._rhythm, self._reduction, self._climb
        return likely_words(evidence_of(*parts, (kiln, sensor), now))

    def _standing(self, guiding: Guiding) -> Standing:
        return standing(self._setup, self._climb, self._stall, guiding, float(self._beats.beat[0] * BEAT_S))

    def _guiding(self) -> Guiding:
        marks, climb = self._marks, self._climb
        kiln = np.arange(len(marks.guide))
        guided = marks.guide >= 0
        rate, level = climb.rate[kiln, marks.guide], climb.level[kiln, marks.guide]
        sure = guided & (climb.row[kiln, marks.guide] >= SPANS_BEATS.index(STALL_SPAN_BEATS))
        lit = np.where(np.isnan(self._setup.lit), marks.first, self._setup.lit)
        return Guiding(marks.guide, np.where(sure, rate, np.nan), np.where(guided, level, np.nan), lit, self._unsure)

    def _unsure(self) -> FloatArray:
        kilns = len(self._marks.guide)
        unsure = told_climb(self._climb, self._answers, self._bank, self._beats, slice(kilns))[1]
        return np.asarray(unsure[np.arange(kilns), self._marks.guide])

    def _when_closed(self, change: Change, closed: BoolArray) -> Change:
        ended_at = np.where(closed, self._marks.closed, change.ended_at)
        return Change(change.begun, change.ended, change.sensor, change.onset, ended_at, change.measure)
