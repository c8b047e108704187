"""Measure the climb against a known rate of rise under stoke ripple: `python tests/bench/climb.py`.

Each row is a crew, with ripple of 10 to 30 degC every 4 to 8 min unless said; each figure is the root mean square error
in degC/h against the true rate the stated time ago, over 12 made-up hours of each of 24 seeds, after the first hour.
References: ordinary least squares over 30 min, Theil-Sen over 30 min (`scipy.stats.theilslopes` on one-minute means),
and least squares weighted by a Hann window of 30 min, each at its own lag of 15 min. "best lag" is the shift at which
the climb's error is least; "over u" is the error divided by the root mean square of the standard uncertainty that is
told with it: 1 is honest, below 1 is careful. "in u" and "in 2 u" are the shares of errors within once and twice that
uncertainty: 0.68 and 0.95 of a normal error.

Rows behind a sheath say its lag and the noise of a slot, and whether the readings were compensated for a lag by lead
before they were judged, which the engine does not do: (1 + tau s) / (1 + s tau / 3), the inverse of a first-order lag
y + tau y' = gas with as much smoothing as the noise asks for.
"""

import time

import numpy as np
from firings import PER_H, Rhythm, smooth_rate, stoke_ripple
from scipy.stats import theilslopes
from sheath import lagged, led

from monitor.engine.answers import new_answers
from monitor.engine.beats import close_beat, new_beats
from monitor.engine.climb import judge_climb, lay_out_bank, new_climb, told_climb
from monitor.engine.limits import BEAT_S, CLIMB_LAG_MIN, SLOTS_PER_BEAT
from monitor.model import FloatArray

HOURS, SEEDS = 13, 24
NOISE_C = 0.3
SHEATHS = (
    # true lag, s; lag that is compensated, s; noise of a slot, degC
    (60.0, 0.0, 0.3), (60.0, 60.0, 0.3), (60.0, 0.0, 0.1), (60.0, 60.0, 0.1),
    (10.0, 0.0, 0.1), (10.0, 60.0, 0.1),
)  # fmt: skip
ROWS = (
    Rhythm("no ripple, noise only", (4.0, 8.0), 0.0, 0.0, (0.0, 0.0)),
    Rhythm("like clockwork", (4.0, 8.0), 0.0, 0.0),
    Rhythm("even (2 %, charges 3 %)", (4.0, 8.0), 0.02, 0.03),
    Rhythm("usual (5 %, charges 5 %)", (4.0, 8.0), 0.05, 0.05),
    Rhythm("uneven (10 %, charges 10 %)", (4.0, 8.0), 0.10, 0.10),
    Rhythm("tired (15 %, charges 20 %)", (4.0, 8.0), 0.15, 0.20),
    Rhythm("even, every 3 min", (3.0, 3.0), 0.02, 0.03),
    Rhythm("even, every 10 min", (10.0, 10.0), 0.02, 0.03),
)


def main() -> None:
    """Print the table."""
    begun = time.perf_counter()
    columns = {"LS 30": 9, "T-Sen 30": 9, "Hann 30": 9, "climb": 9, "best lag": 9, "over u": 8, "in u": 7, "in 2 u": 7}
    print(f"{'crew':30}" + "".join(f"{name:>{width}}" for name, width in columns.items()))
    print(f"{'lag, min':30}{15:>9}{15:>9}{15:>9}{CLIMB_LAG_MIN:>9.0f}")
    for rhythm in ROWS:
        rate, celsius = _firings(rhythm)
        climb, u = _climb(celsius)
        lags = np.arange(0.0, 20.0, 0.5)
        best = lags[np.argmin([_rms(climb, rate, lag) for lag in lags])]
        beats = celsius.reshape(-1, SLOTS_PER_BEAT, SEEDS).mean(axis=1)
        refs = [_rms(_weighted(beats, w), rate, 15.0) for w in (np.ones(60), np.hanning(62)[1:-1])]
        sen = _rms(_theil_sen(beats), rate, 15.0)
        error = _rms(climb, rate, CLIMB_LAG_MIN)
        print(
            f"{rhythm.name:30}{refs[0]:9.2f}{sen:9.2f}{refs[1]:9.2f}{error:9.2f}{best:9.1f}{_honesty(climb, u, rate)}"
        )
    _row_with_gaps()
    for rhythm in (ROWS[3], ROWS[5]):
        for sheath in SHEATHS:
            _row_behind_sheath(rhythm, *sheath)
    print(f"degC/h; {time.perf_counter() - begun:.0f} s")


def _row_with_gaps() -> None:
    """Print the row of the even crew with two minutes lost in every fifty; the references know no gaps."""
    rate, celsius = _firings(ROWS[2])
    for first in range(900, len(celsius), 600):
        celsius[first : first + 24] = np.nan
    climb, u = _climb(celsius)
    error = _rms(climb, rate, CLIMB_LAG_MIN)
    print(f"{'even, 2 of 50 min lost':30}{'':27}{error:9.2f}{'':9}{_honesty(climb, u, rate)}")


def _row_behind_sheath(rhythm: Rhythm, lag_s: float, lead_s: float, noise_c: float) -> None:
    """Print the row of a crew seen through a sheath that answers by a first-order lag of `lag_s`."""
    rate, gas = _firings(rhythm)
    rng = np.random.default_rng(24)
    celsius = lagged(gas, lag_s) + rng.normal(0.0, noise_c, gas.shape)
    climb, u = _climb(led(celsius, lead_s) if lead_s else celsius)
    name = f"{rhythm.name.split(' (')[0]}, {lag_s:.0f} s, noise {noise_c}" + (f", led {lead_s:.0f}" if lead_s else "")
    print(f"{name:30}{'':27}{_rms(climb, rate, CLIMB_LAG_MIN):9.2f}{'':9}{_honesty(climb, u, rate)}")


def _firings(rhythm: Rhythm) -> tuple[FloatArray, FloatArray]:
    """Return true rates and measured temperatures (n, seeds) per slot."""
    rates, temperatures = [], []
    for seed in range(SEEDS):
        rng = np.random.default_rng([seed, 24])
        rate = smooth_rate(rng, HOURS)
        ripple, _ = stoke_ripple(rng, HOURS, rhythm)
        rates.append(rate)
        temperatures.append(600.0 + rate.cumsum() / PER_H + ripple + rng.normal(0.0, NOISE_C, len(rate)))
    return np.array(rates).T, np.array(temperatures).T


def _climb(celsius: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the climb at every beat, and its standard uncertainty (beats, seeds), without the rest of the engine."""
    shape = (celsius.shape[1], 1)
    bank, beats, climb, answers = lay_out_bank(), new_beats(shape), new_climb(shape), new_answers(shape)
    told = []
    for number, cells in enumerate(celsius.T.reshape(*shape, -1, SLOTS_PER_BEAT).transpose(2, 0, 1, 3), start=1):
        beats.open_beat[0] = number
        beats.cells[...] = cells
        heard = close_beat(beats)
        judge_climb(climb, answers, bank, beats, heard=heard, cells=cells)
        told.append(told_climb(climb, answers, bank, beats, slice(None)))
    rate, u = np.array(told).transpose(1, 0, 2, 3)[..., 0]
    return rate, u


def _weighted(beats: FloatArray, weights: FloatArray) -> FloatArray:
    """Return the slope of each window of beats by weighted least squares, NaN before the first."""
    n = len(weights)
    x = (np.arange(n) - (n - 1) / 2.0) * BEAT_S / 3600.0
    centred = weights * (x - (weights * x).sum() / weights.sum())
    kernel = centred / (centred * x).sum()
    windows = np.lib.stride_tricks.sliding_window_view(beats, n, axis=0)
    return np.vstack([np.full((n - 1, beats.shape[1]), np.nan), windows @ kernel])


def _theil_sen(beats: FloatArray) -> FloatArray:
    """Return the Theil-Sen slope of 30 one-minute means, every ten minutes, NaN elsewhere."""
    out = np.full(beats.shape, np.nan)
    minutes = beats.reshape(-1, 2, beats.shape[1]).mean(axis=1)
    x = np.arange(30) / 60.0
    for end in range(60, len(minutes), 10):
        for seed in range(beats.shape[1]):
            out[2 * end - 1, seed] = theilslopes(minutes[end - 30 : end, seed], x).slope
    return out


def _honesty(told: FloatArray, u: FloatArray, rate: FloatArray) -> str:
    """Return the columns that hold the errors of `told` against the uncertainty `u` told with it."""
    error, u = _errors(told, rate, CLIMB_LAG_MIN), u[120:]
    over = np.sqrt(np.nanmean(error**2) / np.nanmean(u**2))
    known = np.isfinite(error)
    shares = [(np.abs(error) < k * u)[known].mean() for k in (1.0, 2.0)]
    return f"{over:8.2f}{shares[0]:7.2f}{shares[1]:7.2f}"


def _rms(told: FloatArray, rate: FloatArray, lag_min: float) -> float:
    """Return the root mean square of the errors of `told`."""
    return float(np.sqrt(np.nanmean(_errors(told, rate, lag_min) ** 2)))


def _errors(told: FloatArray, rate: FloatArray, lag_min: float) -> FloatArray:
    """Return the error of `told` at each beat's end against the rate `lag_min` before, after the first hour."""
    at = np.arange(1, len(told) + 1) * SLOTS_PER_BEAT - round(lag_min * 60.0 / BEAT_S * SLOTS_PER_BEAT) - 1
    return np.asarray(told[120:] - rate[at[120:]])


if __name__ == "__main__":
    main()
