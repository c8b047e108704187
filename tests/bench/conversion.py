"""Time emf to degC on arrays of a million values, side by side in one run; exit 1 if a goal is missed.

Run `python tests/bench/conversion.py` where the package and its test requirements are installed. Contenders: the
published inverse polynomials (NIST SRD 60) in plain NumPy, written both ways that come to mind, the faster one counts;
the library `thermocouple-its90` called in a loop on a sample, scaled up; ours. Adding two arrays is the yardstick of
the machine. Every round times all of them in turn, the best round counts.
"""

import csv
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import thermocouple_its90

from monitor.thermocouple.inverse import temperature_from_emf
from monitor.thermocouple.inverse_table import inverse_table
from monitor.thermocouple.reference import emf_from_temperature

ROOT = Path(__file__).parents[2]

VALUES = 1_000_000
LOOPED_VALUES = 5_000
ROUNDS = 15
GOAL_OVER_POLYNOMIAL = 4.0
GOAL_OVER_LOOP = 100.0
GOAL_ADDITIONS = 16.0
GOAL_ERROR_C = 1e-6

Segment = tuple[float, float, list[float]]
"""Lowest and highest emf in mV, coefficients from the highest power down."""


def published_inverse(letter: str) -> list[Segment]:
    """Return the segments of a letter's published inverse; where two overlap the colder one goes first."""
    lines = (ROOT / "tests" / "golden" / "its90_inverse.csv").read_text().splitlines()
    segments: dict[str, Segment] = {}
    for row in csv.DictReader(line for line in lines if not line.startswith("#")):
        if row["type"] == letter:
            ends = (float(row["mV_low"]), float(row["mV_high"]))
            segments.setdefault(row["segment"], (*ends, []))[2].insert(0, float(row["value"]))
    return list(segments.values())


def polynomial_by_where(segments: list[Segment], emf_volts: np.ndarray) -> np.ndarray:
    """Evaluate every segment everywhere and pick."""
    millivolts = emf_volts * 1e3
    celsius = np.full(millivolts.shape, np.nan)
    for low, high, coefficients in reversed(segments):
        inside = (millivolts >= low) & (millivolts <= high)
        celsius = np.where(inside, np.polyval(coefficients, millivolts), celsius)
    return celsius


def polynomial_by_mask(segments: list[Segment], emf_volts: np.ndarray) -> np.ndarray:
    """Evaluate every segment where it holds."""
    millivolts = emf_volts * 1e3
    celsius = np.full(millivolts.shape, np.nan)
    for low, high, coefficients in reversed(segments):
        inside = (millivolts >= low) & (millivolts <= high)
        celsius[inside] = np.polyval(coefficients, millivolts[inside])
    return celsius


def loop(letter: str, emf_volts: np.ndarray) -> np.ndarray:
    """Call the library once a value."""
    kind = thermocouple_its90.get(letter)
    return np.array([kind.temperature(emf * 1e3) for emf in emf_volts.tolist()])


def best_seconds(contenders: dict[str, Callable[[], object]]) -> dict[str, float]:
    """Return each contender's best time of all rounds."""
    best = dict.fromkeys(contenders, float("inf"))
    for _ in range(ROUNDS):
        for name, run in contenders.items():
            begin = time.perf_counter()
            run()
            best[name] = min(best[name], time.perf_counter() - begin)
    return best


def whole_range_error_c(letter: str) -> float:
    """Return our worst round trip from temperature to emf and back on a million temperatures of the whole range."""
    table = inverse_table(letter)
    celsius = np.linspace(table.low_c, table.high_c, VALUES)
    return float(np.abs(temperature_from_emf(letter, emf_from_temperature(letter, celsius))[0] - celsius).max())


def measure(letter: str) -> bool:
    """Print one letter's table and return whether all goals are met."""
    rng = np.random.default_rng(20261124)
    segments = published_inverse(letter)
    low_c, high_c = (
        float(x) for x in temperature_from_emf(letter, np.array([segments[0][0], segments[-1][1]]) / 1e3)[0]
    )
    celsius = temperature_from_emf(letter, rng.uniform(segments[0][0], segments[-1][1], VALUES) / 1e3)[0]
    emf = emf_from_temperature(letter, celsius)
    other = rng.uniform(size=VALUES)
    answers: dict[str, Callable[[], np.ndarray]] = {
        "polynomial, np.where": lambda: polynomial_by_where(segments, emf),
        "polynomial, masks": lambda: polynomial_by_mask(segments, emf),
        "thermocouple-its90 loop": lambda: loop(letter, emf[:LOOPED_VALUES]),
        "ours": lambda: temperature_from_emf(letter, emf)[0],
    }
    seconds = best_seconds({**answers, "adding two arrays": lambda: emf + other})
    seconds["thermocouple-its90 loop"] *= VALUES / LOOPED_VALUES
    errors = {name: float(np.abs(run() - celsius[: run().size]).max()) for name, run in answers.items()}
    print(f"\ntype {letter}, {VALUES} values of emf, uniform from {low_c:.1f} to {high_c:.1f} degC")
    print(f"{'':26}{'ms':>10}{'M/s':>9}{'ours is':>11}{'additions':>11}{'max error degC':>16}")
    for name, spent in seconds.items():
        error = f"{errors[name]:.1e}" if name in errors else "-"
        row = f"{name:26}{spent * 1e3:10.2f}{VALUES / spent / 1e6:9.3g}{spent / seconds['ours']:9.1f} x"
        print(f"{row}{spent / seconds['adding two arrays']:11.1f}{error:>16}")
    return judge(letter, seconds, errors["ours"])


def judge(letter: str, seconds: dict[str, float], error_c: float) -> bool:
    """Print each goal with what was reached."""
    polynomial = min(seconds["polynomial, np.where"], seconds["polynomial, masks"])
    worst_c = max(error_c, whole_range_error_c(letter))
    verdicts = [
        ("times the polynomial", polynomial / seconds["ours"], GOAL_OVER_POLYNOMIAL, True),
        ("times the loop", seconds["thermocouple-its90 loop"] / seconds["ours"], GOAL_OVER_LOOP, True),
        ("additions of two arrays", seconds["ours"] / seconds["adding two arrays"], GOAL_ADDITIONS, False),
        ("degC off, whole range", worst_c, GOAL_ERROR_C, False),
    ]
    met = [reached >= goal if at_least else reached <= goal for _, reached, goal, at_least in verdicts]
    for is_met, (what, reached, goal, at_least) in zip(met, verdicts, strict=True):
        bound = "at least" if at_least else "at most"
        print(f"{'met   ' if is_met else 'MISSED'} {reached:.3g} {what} (goal {bound} {goal:g})")
    return all(met)


def measure_scan() -> None:
    """Print the time of one scan of twelve values."""
    emf = np.linspace(0.001, 0.05, 12)
    begin = time.perf_counter()
    for _ in range(10_000):
        temperature_from_emf("K", emf)
    print(f"\none scan of 12 values, type K: {(time.perf_counter() - begin) / 10_000 * 1e6:.1f} microseconds")


if __name__ == "__main__":
    is_met = [measure(letter) for letter in ("K", "S")]
    measure_scan()
    sys.exit(0 if all(is_met) else 1)
