"""Wrong letters, wrong gains and exchanged inputs: emfs that fit another story than the one the site file tells.

Along the flame's path each place is a little cooler than the one before. `misfit` measures how far readings are from
such a story; where it is large, every single mistake that wiring and site files can hold is tried: another letter at
one input, the converter's other gain at one input, two inputs exchanged. Noble metal gives about a fifth of the emf of
base metal, and a converter's gains differ by four, so a right guess makes the story whole. It is told when for three
ticks of 5 min the same guess took away nearly all of the misfit and no other came near.

Two inputs of one metal exchanged make no large misfit: they are told when the sensor further from the fire has been the
hotter one for two hours.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from monitor.engine.beats import IntArray
from monitor.engine.limits import (
    AIR_C,
    LETTER_CLEAR,
    LETTER_MISFIT,
    LETTER_REST,
    LETTER_SELDOM,
    LETTER_TICKS,
    LETTER_WARM_C,
    ORDER_C,
    ORDER_MOST_C,
    ORDER_TICKS,
    TICK_S,
)
from monitor.engine.misfit import HOTTEST_C, misfit, rises
from monitor.engine.setup import BoolArray, EngineSetup
from monitor.engine.told import FaultChange
from monitor.model import FloatArray, SensorFault, Status
from monitor.thermocouple.inverse import temperature_from_emf
from monitor.thermocouple.junction import total_emf

NOBLE = "RSB"
FAULTS = (SensorFault.LETTER, SensorFault.DRIFT, SensorFault.SWAPPED)
LETTER, GAIN, SWAPPED = range(3)
NOBODY = -1
GAINS_APART = 4.0
"""A converter's gains of 8 and 32 (data sheet of a MAX31856)."""


class Guess(NamedTuple):
    """What may be wrong (a position in `FAULTS`) with sensor `first`, and with `second` or nobody."""

    fault: int
    first: int
    second: int = NOBODY


@dataclass(slots=True, eq=False)
class Letters:
    """What is remembered: each kiln's `guess` (K, 3), for how many `ticks` (K,) it stands, and since when (K,).

    `against` (K, S, S) counts ticks in which the second, further from the fire, was hotter than the first. `told`
    (K, S, F) says which of `FAULTS` is told.
    """

    guess: IntArray
    ticks: IntArray
    since: FloatArray
    against: IntArray
    told: BoolArray


def new_letters(shape: tuple[int, int]) -> Letters:
    """Return the state of kilns and sensors of `shape` before the first tick."""
    kilns, sensors = shape
    return Letters(
        guess=np.full((kilns, len(Guess._fields)), NOBODY),
        ticks=np.zeros(kilns, np.int64),
        since=np.full(kilns, np.nan),
        against=np.zeros((kilns, sensors, sensors), np.int64),
        told=np.zeros((kilns, sensors, len(FAULTS)), bool),
    )


def other_letter(letter: str) -> str:
    """Return the letter that is taken for `letter` by mistake: K for noble metal, S for all others."""
    return "K" if letter in NOBLE else "S"


def judge_letters(
    letters: Letters, setup: EngineSetup, celsius: FloatArray, raw: FloatArray, *, able: BoolArray, now: float
) -> list[FaultChange]:
    """Take up what sensors read at the tick `now`: degC (K, S), and as rows of `raw` emf and cold junction.

    A temperature above its letter's range is infinite. `able` (K, S) masks sensors that can be judged.
    """
    able = able & ~letters.told.any(axis=2) & ~np.isnan(celsius) & (setup.path >= 0)
    begun, other = np.zeros(letters.told.shape, bool), np.full(able.shape, NOBODY)
    onset = np.full(able.shape, now - TICK_S * ORDER_TICKS)
    for k in range(able.shape[0]):
        kiln = _Kiln(setup, k, celsius[k], raw[:, k], able[k])
        fits = kiln.fitting_guesses()
        best = fits[0][1] if fits and (len(fits) == 1 or fits[1][0] > fits[0][0] + LETTER_CLEAR) else None
        stands = best is not None and tuple(letters.guess[k].tolist()) == best
        letters.ticks[k] = 0 if best is None else letters.ticks[k] + 1 if stands else 1
        if best is not None and not stands:
            letters.guess[k], letters.since[k] = best, now - TICK_S
        due = best if letters.ticks[k] >= LETTER_TICKS else None
        if due is not None:
            onset[k] = letters.since[k]
        wrong_way = _against_the_path(letters.against[k], kiln, is_plain=kiln.is_plain)
        for guess in (due, wrong_way):
            if guess is not None:
                _mark(guess, begun[k], other[k])
    letters.told |= begun
    never = np.zeros(able.shape, bool)
    return [
        FaultChange(fault, begun[:, :, f], never, onset, other=other, why=why)
        for f, (fault, why) in enumerate(zip(FAULTS, ("", "gain", ""), strict=True))
        if begun[:, :, f].any()
    ]


def _doubt(guess: Guess) -> float:
    """Return what counts against a guess beforehand: two inputs are seldom exchanged."""
    return LETTER_SELDOM if guess.fault == SWAPPED else 0.0


def _mark(guess: Guess, begun: BoolArray, other: IntArray) -> None:
    begun[guess.first, guess.fault] = True
    if guess.second != NOBODY:
        begun[guess.second, guess.fault] = True
        other[[guess.first, guess.second]] = guess.second, guess.first


def _against_the_path(against: IntArray, kiln: "_Kiln", *, is_plain: bool) -> Guess | None:
    """Count for how long sensors stand in the wrong order; after two hours those furthest apart are exchanged."""
    bounded_c = np.minimum(kiln.celsius, HOTTEST_C)
    hotter_c = bounded_c[None, :] - bounded_c[:, None]
    counts = kiln.able[:, None] & kiln.able[None, :] & (kiln.path[:, None] < kiln.path[None, :])
    wrong = counts & (hotter_c > ORDER_C) & (kiln.celsius[None, :] < ORDER_MOST_C)
    against[:] = np.where(wrong & is_plain, against + 1, 0)
    long = against >= ORDER_TICKS
    if not long.any():
        return None
    first, second = divmod(int(np.where(long, hotter_c, -np.inf).argmax()), len(kiln.path))
    against[:] = 0
    return Guess(SWAPPED, first, second)


class _Kiln:
    """One kiln at one tick: readings (S,), and what they would be under other stories."""

    def __init__(self, setup: EngineSetup, number: int, celsius: FloatArray, raw: FloatArray, able: BoolArray) -> None:
        self.celsius, self.able, self.path = celsius, able, setup.path[number]
        self._raw = raw
        self._as_is = self._misfit(celsius)
        self._letters = setup.letters[number] + ("",) * (len(celsius) - len(setup.letters[number]))

    @property
    def is_plain(self) -> bool:
        """Whether the readings fit well enough as they are."""
        return self._as_is < LETTER_MISFIT

    def fitting_guesses(self) -> list[tuple[float, Guess]]:
        """Return the mistakes that explain the readings, each with the misfit it leaves, best first."""
        if self.is_plain or not self._is_warm():
            return []
        rest = sorted((self._misfit(celsius) + _doubt(guess), guess) for guess, celsius in self._guesses())
        return rest if rest and rest[0][0] < LETTER_REST * self._as_is else []

    def _is_warm(self) -> bool:
        """Return whether enough sensors are warm to tell a story: half of them, and two at least."""
        warm = np.count_nonzero(self.able & (self.celsius - AIR_C > LETTER_WARM_C))
        return int(warm) >= max(2, (int(np.count_nonzero(self.able)) + 1) // 2)

    def _misfit(self, celsius: FloatArray) -> float:
        if np.isnan(celsius[self.able]).any():
            return float("inf")
        return misfit(rises(celsius[self.able]), self.path[self.able])

    def _guesses(self) -> Iterator[tuple[Guess, FloatArray]]:
        """Yield every single mistake with the temperatures (S,) that would then be true."""
        typed = [s for s in np.flatnonzero(self.able).tolist() if self._letters[s]]
        for s in typed:
            letter = self._letters[s]
            yield Guess(LETTER, s), self._with({s: self._read(s, other_letter(letter), 1.0)})
            gain = GAINS_APART if letter in NOBLE else 1.0 / GAINS_APART
            yield Guess(GAIN, s), self._with({s: self._read(s, letter, gain)})
        for a in typed:
            for b in typed:
                if a < b:
                    exchanged = {a: self._read(b, self._letters[a], 1.0), b: self._read(a, self._letters[b], 1.0)}
                    yield Guess(SWAPPED, a, b), self._with(exchanged)

    def _with(self, changed: dict[int, float]) -> FloatArray:
        celsius = self.celsius.copy()
        for s, read in changed.items():
            celsius[s] = read
        return celsius

    def _read(self, s: int, letter: str, gain: float) -> float:
        """Return degC of the emf at input `s` under another letter or gain, NaN where there is none."""
        emf = total_emf(letter, float(self._raw[0, s]) * gain, float(self._raw[1, s]))
        celsius, status = temperature_from_emf(letter, emf)
        return celsius if status is Status.OK else float("nan")
