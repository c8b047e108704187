"""Wrong letters, wrong gains and exchanged inputs: emfs that fit another sensor's story and not their own.

Along the flame's path the firebox is the hottest and the flue the coolest. What a sensor reads above the air is
compared with the sensors at its own place, or else with those nearer to the fire and those next further from it. Noble
metal gives about a fifth of the emf of base metal, and a converter's two gains differ by four. So four mistakes show,
and which one it is follows from the letter that the site file says and the side on which the reading is wrong:

- base metal read as noble: far too hot (letter)
- noble metal read as base: far too cold (letter)
- base metal at the higher gain: far too hot (drift)
- noble metal at the lower gain: far too cold (drift)

The temperature under the other reading must fit the neighbours. Where at the same time another sensor's reading fits
under this one's letter, their inputs are exchanged. Judged every 5 min; a guess must stand for 10 min.
"""

from dataclasses import dataclass

import numpy as np

from monitor.engine.beats import IntArray
from monitor.engine.limits import (
    AIR_C,
    LETTER_COLD,
    LETTER_FITS,
    LETTER_FITS_C,
    LETTER_HOT,
    LETTER_HOT_C,
    LETTER_LAST,
    LETTER_LEAST_C,
    LETTER_TICKS,
    ORDER_C,
    ORDER_MOST_C,
    ORDER_TICKS,
    TICK_S,
)
from monitor.engine.setup import BoolArray, EngineSetup
from monitor.engine.told import FaultChange
from monitor.model import FloatArray, SensorFault, Status
from monitor.thermocouple.inverse import temperature_from_emf
from monitor.thermocouple.junction import total_emf

NOBLE = "RSB"
FAULTS = (SensorFault.LETTER, SensorFault.DRIFT, SensorFault.SWAPPED)
LETTER, GAIN, SWAPPED = range(3)
GAINS_APART = 4.0
"""A converter's gains of 8 and 32 (data sheet of a MAX31856)."""


@dataclass(slots=True, eq=False)
class Letters:
    """What is remembered: per sensor (K, S) `ticks` in a row that it looked wrong, since `since`.

    `against` (K, S, S) counts ticks in which the second, further from the fire, was hotter than the first. `told`
    (K, S, F) says which of `FAULTS` is told.
    """

    ticks: IntArray
    since: FloatArray
    against: IntArray
    told: BoolArray


def new_letters(shape: tuple[int, int]) -> Letters:
    """Return the state of kilns and sensors of `shape` before the first tick."""
    return Letters(
        ticks=np.zeros(shape, np.int64),
        since=np.full(shape, np.nan),
        against=np.zeros((*shape, shape[1]), np.int64),
        told=np.zeros((*shape, len(FAULTS)), bool),
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
    able = able & ~letters.told.any(axis=2)
    wrong, begun = np.zeros(able.shape, bool), np.zeros(letters.told.shape, bool)
    other = np.full(able.shape, -1)
    for k in range(able.shape[0]):
        kiln = _Kiln(setup, k, celsius[k], raw[:, k], able[k] & ~np.isnan(celsius[k]))
        wrong[k] = kiln.wrong()
        letters.ticks[k] = np.where(wrong[k], letters.ticks[k] + 1, 0)
        letters.since[k] = np.where(letters.ticks[k] == 1, now - TICK_S, letters.since[k])
        for s in np.flatnonzero(letters.ticks[k] >= LETTER_TICKS).tolist():
            _name(kiln, s, begun[k], other[k])
        _against_the_path(letters, kiln, begun[k], other[k])
    onset = np.where(letters.ticks > 0, letters.since, now - TICK_S * ORDER_TICKS)
    letters.told |= begun
    never = np.zeros(able.shape, bool)
    return [
        FaultChange(fault, begun[:, :, f], never, onset, other=other, why=why)
        for f, (fault, why) in enumerate(zip(FAULTS, ("", "gain", ""), strict=True))
        if begun[:, :, f].any()
    ]


def _name(kiln: "_Kiln", s: int, begun: BoolArray, other: IntArray) -> None:
    """Decide what is wrong with sensor `s`, marking (S, F) and who it is exchanged with (S,)."""
    partner = kiln.exchanged(s)
    if partner is not None:
        begun[[s, partner], SWAPPED] = True
        other[[s, partner]] = partner, s
    elif not begun[s].any():
        begun[s, LETTER if kiln.is_letter(s) else GAIN] = True


def _against_the_path(letters: Letters, kiln: "_Kiln", begun: BoolArray, other: IntArray) -> None:
    """Count for how long sensors stand in the wrong order; two whose exchange would right it are exchanged."""
    against = letters.against[kiln.number]
    hotter = kiln.celsius[None, :] - kiln.celsius[:, None] > ORDER_C
    warm = kiln.celsius[None, :] < ORDER_MOST_C
    plain = kiln.able & ~kiln.fits_otherwise()
    counts = plain[:, None] & plain[None, :] & (kiln.path[:, None] < kiln.path[None, :])
    against[:] = np.where(counts & hotter & warm, against + 1, 0)
    if (against >= ORDER_TICKS).any() and not begun.any():
        first, second = np.unravel_index(np.where(against >= ORDER_TICKS, kiln.apart(), -1.0).argmax(), against.shape)
        begun[[first, second], SWAPPED] = True
        other[[first, second]] = second, first
        against[:] = 0


class _Kiln:
    """One kiln at one tick: readings (S,) and what they would be under another letter."""

    def __init__(self, setup: EngineSetup, number: int, celsius: FloatArray, raw: FloatArray, able: BoolArray) -> None:
        self.number = number
        self.celsius, self.able, self.path = celsius, able & (setup.path[number] >= 0), setup.path[number]
        self._setup, self._raw = setup, raw
        self._letters = setup.letters[number] + ("",) * (len(celsius) - len(setup.letters[number]))

    def wrong(self) -> BoolArray:
        """Return which readings are out of all proportion while another reading of the same emf fits."""
        side = [
            self._side(s, self.celsius[s]) if self.able[s] and self._letters[s] else 0 for s in range(len(self.able))
        ]
        return np.array([bool(side[s]) and self._fits(s, self._other(s, side[s])) for s in range(len(side))])

    def fits_otherwise(self) -> BoolArray:
        """Return which readings may have another reason: cold beside their place, fitting under another reading."""
        return np.array(
            [
                self.able[s] and self._letters[s] != "" and self._fits(s, self._other(s, side))
                for s in range(len(self.able))
                for side in [-1]
            ]
        )

    def is_letter(self, s: int) -> bool:
        """Return whether the wrong letter explains a wrong reading, rather than the wrong gain."""
        return (self._letters[s] in NOBLE) == (self._side(s, self.celsius[s]) > 0)

    def exchanged(self, s: int) -> int | None:
        """Return the sensor that `s` is exchanged with, if both fit where the other stands."""
        if not self.is_letter(s):
            return None
        for j in np.flatnonzero(self.able).tolist():
            differ = self._letters[j] and (self._letters[j] in NOBLE) != (self._letters[s] in NOBLE)
            if differ and self._without(s).is_odd(j, -self._side(s, self.celsius[s])):
                return int(j)
        return None

    def apart(self) -> FloatArray:
        """Return how much hotter the second is than the first (S, S), degC."""
        return self.celsius[None, :] - self.celsius[:, None]

    def _without(self, s: int) -> "_Kiln":
        """Return the same kiln with nothing known of `s`."""
        able = self.able & (np.arange(len(self.able)) != s)
        return _Kiln(self._setup, self.number, self.celsius, self._raw, able)

    def is_odd(self, j: int, side: int) -> bool:
        """Return whether `j` leans to `side` and would fit under the other letter."""
        low, high = self._between(j)
        rise = self.celsius[j] - AIR_C if self.able[j] else np.nan
        leans = rise > LETTER_HOT**0.5 * high if side > 0 else rise < LETTER_COLD**0.5 * low
        return bool(leans) and self._fits(j, self._read(j, other_letter(self._letters[j]), 1.0))

    def _between(self, s: int) -> tuple[float, float]:
        """Return the least and the most, degC above the air, that sensor `s` should read; NaN where nobody knows."""
        rise = np.where(np.isfinite(self.celsius), self.celsius - AIR_C, np.nan)
        others = self.able & np.isfinite(rise)
        others[s] = False
        same = others & (self.path == self.path[s])
        if same.any():
            return float(rise[same].min()), float(rise[same].max())
        nearer, further = others & (self.path < self.path[s]), others & (self.path > self.path[s])
        next_ = further & (self.path == self.path[further].min(initial=99))
        low = float(rise[next_].min()) if further.any() else float("nan")
        high = float(rise[nearer].max()) if nearer.any() else float("nan")
        if np.isnan(low) and nearer.any():
            low = LETTER_LAST * float(rise[nearer].min()) - LETTER_LEAST_C
        if np.isnan(high) and further.any():
            high = float(rise[further].max()) + LETTER_HOT_C
        return low, high

    def _side(self, s: int, celsius: float) -> int:
        """Return 1 where `celsius` is far too hot at the place of `s`, -1 where far too cold, else 0."""
        low, high = self._between(s)
        rise = celsius - AIR_C
        if rise > LETTER_HOT * high + LETTER_LEAST_C:
            return 1
        return -1 if low > LETTER_LEAST_C and rise < LETTER_COLD * low else 0

    def _fits(self, s: int, celsius: float) -> bool:
        low, high = self._between(s)
        rise = celsius - AIR_C
        under = np.isnan(high) or rise < high * LETTER_FITS + LETTER_FITS_C
        return bool(under and (np.isnan(low) or rise > low / LETTER_FITS - LETTER_FITS_C))

    def _other(self, s: int, side: int) -> float:
        """Return degC of `s` under what the side and its letter suggest."""
        if (self._letters[s] in NOBLE) == (side > 0):
            return self._read(s, other_letter(self._letters[s]), 1.0)
        return self._read(s, self._letters[s], 1.0 / GAINS_APART if side > 0 else GAINS_APART)

    def _read(self, s: int, letter: str, gain: float) -> float:
        emf = total_emf(letter, float(self._raw[0, s]) * gain, float(self._raw[1, s]))
        celsius, status = temperature_from_emf(letter, emf)
        return celsius if status is Status.OK else float("nan")
