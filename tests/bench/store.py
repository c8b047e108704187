"""Measure the store on a firing of four days, twelve inputs, one scan a second: bytes a sample, sealing, charts.

Run `python tests/bench/store.py` where the package is installed; exit 1 if a goal is missed. A sample is one input's
emf, cold junction and fault in one scan. Everything is seeded; the times depend on the machine. `--hours N` shortens it
(a short firing pays more for SQLite's empty pages).

The firing: a climb of two slow and two faster days with soak, stoke ripple at the firebox and less of it behind, a slow
wander, and white converter noise of 1.3 uV rms at gain 8 (0.4 uV at gain 32 for the last two inputs), as the MAX31856
datasheet gives it; emf in steps of 78.125 mV / 2**17 (19.531 mV / 2**17) printed to 9 decimals, cold junctions in steps
of 1/64 degC printed to 2 decimals. Assumed, no source: cold junctions swing by 5 degC a day and wander with the
weather, their noise is half a step (0.008 degC) rms; a node's clock jitters by 1 ms, the arrival by 1 ms.

The reference is the plain way: one SQLite row a scan, a column of whole steps for each number, in the same run.
"""

import argparse
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import numpy.typing as npt

from monitor.model import ScanBlock, Status, Temperatures
from monitor.store import statements as sql
from monitor.store.cells import Cells, encode_cells
from monitor.store.codec import decode
from monitor.store.connection import FILE_NAME, connect_reader, connect_writer, transaction
from monitor.store.opening import open_reader, open_store
from monitor.store.records import Committed, SiteConversion
from monitor.store.scan_columns import scans_of
from monitor.store.sealing import Sealer
from monitor.store.tidying import give_space_back

GOAL_BYTES = 0.9
GOAL_CHART_MS = 10.0
GOAL_SEAL_MS = 100.0
INPUTS = 12
BEGIN = 1_764_000_000  # 2025-11-24T16:00:00Z, a whole hour
NAMES = tuple(f"shed-1/t{i + 1}" for i in range(INPUTS))
STEP_VOLTS = np.array([78.125e-3 / 2**17] * 10 + [19.531e-3 / 2**17] * 2)
NOISE_VOLTS = np.array([1.3e-6] * 10 + [0.4e-6] * 2)
VOLTS_PER_C = np.array([41e-6] * 10 + [10e-6] * 2)
RIPPLE_C = np.array([12.0] * 2 + [2.5] * 4 + [0.8] * 6)

Matrix = npt.NDArray[np.float64]


def hour_of_firing(hour: int, cold_noise_steps: float) -> tuple[Matrix, Matrix, Matrix, Matrix]:
    """Return time and clock (3600,), emf in volts and cold junctions in degC (3600, 12) of one hour, as printed."""
    chance = np.random.default_rng([20261124, hour])
    seconds = hour * 3600.0 + np.arange(3600)
    hours = seconds[:, None] / 3600
    celsius = np.interp(hours, [0, 48, 90, 96], [20, 300, 1280, 1250]) * np.linspace(0.8, 1.0, INPUTS)
    phase = (seconds[:, None] % 360) / 360
    celsius += RIPPLE_C * (hours > 10) * (np.exp(-(((phase - 0.4) / 0.2) ** 2)) - np.exp(-6 * phase))
    celsius += np.cumsum(chance.normal(0, 0.004, celsius.shape), axis=0)
    cold = 25 + 5 * np.sin(2 * np.pi * hours / 24) + 0.3 * np.sin(2 * np.pi * hours / 1.7) + np.arange(INPUTS) / 12
    noise = chance.normal(0, 1, celsius.shape) * NOISE_VOLTS
    codes = np.rint(((celsius - cold) * VOLTS_PER_C + noise) / STEP_VOLTS)
    cold_codes = np.rint((cold + chance.normal(0, cold_noise_steps / 64, cold.shape)) * 64)
    at = np.round(BEGIN + 0.25 + seconds + chance.normal(0, 0.001, 3600), 3)
    clock = np.maximum.accumulate(np.round(at + 0.09 + np.abs(chance.normal(0, 0.001, 3600)), 3))
    return at, clock, np.round(codes * STEP_VOLTS, 9), np.round(cold_codes / 64, 2)


def tail_values(hour: int, firing: str, cold_noise_steps: float) -> Iterator[tuple[object, ...]]:
    """Yield the rows of the tail for one hour."""
    at, clock, emf, cold = (array.tolist() for array in hour_of_firing(hour, cold_noise_steps))
    for i in range(3600):
        cells = encode_cells(Cells(NAMES, emf[i], cold[i], None, None, None, None))
        number = hour * 3600 + i
        yield number + 1, firing, "shed-1", "9f3ac2d1", number, at[i], clock[i], 0, cells


def convert(block: ScanBlock) -> Temperatures:
    """Convert by straight lines: what a temperature costs is measured elsewhere."""
    celsius = np.where(block.fault == Status.OK, block.cold_junction_c + block.emf_volts / VOLTS_PER_C, np.nan)
    return Temperatures(block.time, celsius, block.fault)


CONVERSION = SiteConversion("bench", NAMES, convert)


def fill_and_seal(directory: Path, hours: int, cold_noise_steps: float = 0.5) -> tuple[str, list[float]]:
    """Store and seal a firing as the writer does, an hour at a time; return its id and seconds a sealing."""
    store = open_store(directory)
    firing = sql.firing_id(BEGIN, set())
    connection = connect_writer(directory / FILE_NAME)
    connection.execute(sql.ADD_FIRING, (firing, BEGIN, None, "bench", ""))
    took = []
    sealer = Sealer(connection)
    for hour in range(hours):
        with transaction(connection):
            connection.executemany(sql.ADD_SCAN, tail_values(hour, firing, cold_noise_steps))
        begun = time.perf_counter()
        sealer.seal(connection, firing, "shed-1", CONVERSION)
        took.append(time.perf_counter() - begun)
    give_space_back(connection, is_resting=False)
    connection.close()
    store.release()
    return firing, took


def add_tail(directory: Path, firing: str, hour: int) -> None:
    """Leave half an hour unsealed, as at any moment of a running firing."""
    connection = connect_writer(directory / FILE_NAME)
    with transaction(connection):
        connection.executemany(sql.ADD_SCAN, list(tail_values(hour, firing, 0.5))[:1800])
    connection.close()


def report_size(directory: Path, hours: int) -> float:
    """Print the bytes a sample and return them."""
    file = directory / FILE_NAME
    samples = hours * 3600 * INPUTS
    connection = connect_writer(file)
    page, free = (connection.execute(f"PRAGMA {name}").fetchone()[0] for name in ("page_size", "freelist_count"))
    heads, payload = connection.execute("SELECT sum(length(heads)), sum(length(payload)) FROM block").fetchone()
    give_space_back(connection, is_resting=True)
    connection.close()
    print(f"bytes a sample at rest          {file.stat().st_size / samples:.3f}   (file after the end of the firing)")
    print(f"  of it scans, heads, SQLite    {payload / samples:.3f}, {heads / samples:.3f}, ", end="")
    print(f"{(file.stat().st_size - heads - payload) / samples:.3f}")
    print(f"  beside it while firing        {page * free / 2**20:.2f} MiB of pages, freed and used again each hour")
    return file.stat().st_size / samples


def timed(times: int, work: object) -> list[float]:
    """Return milliseconds of each run."""
    took = []
    for _ in range(times):
        begun = time.perf_counter()
        work()  # type: ignore[operator]
        took.append(1e3 * (time.perf_counter() - begun))
    return took


def report_charts(directory: Path, firing: str, hours: int) -> float:
    """Print the times of charts; return the warm one of the whole firing, ms."""
    end = BEGIN + (hours + 0.5) * 3600
    whole = (firing, float(BEGIN), end, 2000)
    fresh = []
    for _ in range(5):
        reader = open_reader(directory)
        fresh += timed(1, lambda reader=reader: reader.history(*whole, CONVERSION))
        reader.close()
    reader = open_reader(directory)
    envelope = reader.history(*whole, CONVERSION)
    shape = f"{envelope.low.shape[1]} columns of {envelope.step_s:g} s x {envelope.low.shape[0]}"
    warm = timed(50, lambda: reader.history(*whole, CONVERSION))
    print(f"whole firing, warm              {statistics.median(warm):.2f} ms, {max(warm):.2f} worst of 50 ({shape})")
    print(f"whole firing, reader just opened {statistics.median(fresh):.1f} ms (half an hour of tail included)")
    for span_h in (0.5, 3, 12):
        middle = BEGIN + hours * 1800
        zoom = (firing, float(middle), middle + span_h * 3600.0, 2000)
        first, again = timed(2, lambda zoom=zoom: reader.history(*zoom, CONVERSION))
        print(f"zoom to {span_h:g} h, first and again   {first:.1f} ms, {again:.1f} ms")
    reader.close()
    return statistics.median(warm)


def report_decoding(directory: Path, firing: str) -> None:
    """Print the speed of decoding and of reading in order."""
    connection = connect_reader(directory / FILE_NAME)
    payloads = [row[0] for row in connection.execute("SELECT payload FROM block ORDER BY id LIMIT 20")]
    begun = time.perf_counter()
    columns = [decode(payload) for payload in payloads]
    took = time.perf_counter() - begun
    print(f"decode to columns               {len(payloads) * 43_200 / took / 1e6:.1f} M samples/s")
    begun = time.perf_counter()
    scans = sum(1 for each in columns[:3] for _ in scans_of(each))
    print(f"columns to scans                {scans / (time.perf_counter() - begun):,.0f} scans/s")
    connection.close()


def report_reference(directory: Path, hours: int) -> None:
    """Print size and chart time of one SQLite row a scan, numbers as whole steps (SQLite's shortest form)."""
    file = directory / "plain.sqlite3"
    connection = sqlite3.connect(file, isolation_level=None)
    numbers = [f"{kind}{i}" for kind in ("emf", "cj") for i in range(INPUTS)]
    connection.execute(f"CREATE TABLE scan (time_ms INTEGER PRIMARY KEY, {' INTEGER, '.join(numbers)} INTEGER)")
    insert = f"INSERT INTO scan VALUES ({','.join('?' * (1 + len(numbers)))})"
    for hour in range(hours):
        at, _, emf, cold = hour_of_firing(hour, 0.5)
        rows = np.rint(np.column_stack([at * 1000, emf / STEP_VOLTS, cold * 64])).astype(np.int64)
        connection.execute("BEGIN")
        connection.executemany(insert, rows.tolist())
        connection.execute("COMMIT")
    lines = [f"emf{i} * {STEP_VOLTS[i] / VOLTS_PER_C[i]} + cj{i} / 64.0" for i in range(INPUTS)]
    spans = ", ".join(f"min({line}), max({line})" for line in lines)
    query = f"SELECT time_ms / 180000, {spans} FROM scan GROUP BY 1"
    took = timed(3, lambda: connection.execute(query).fetchall())
    connection.close()
    samples = hours * 3600 * INPUTS
    size = file.stat().st_size / samples
    print(f"reference, a row a scan         {size:.2f} bytes a sample, {min(took):.0f} ms for the whole firing")


def report_writer(directory: Path) -> None:
    """Print what submitting costs and how long a commit takes through the real writer."""
    commits: list[Committed] = []
    store = open_store(directory, verify=False)
    writer = store.start_writer(commits.append, commit_every_s=0.0)
    firing = writer.begin_firing(BEGIN + 40 * 86400.0, "bench", "").id
    submit_us, commit_ms = [], []
    for scan in scans_of(decode(_first_payload(directory))):
        if scan.row > 200:
            break
        arrival = sql.Arrival(scan.scan, scan.clock)
        begun = time.perf_counter()
        writer.submit_scan(firing, arrival)
        submit_us.append(1e6 * (time.perf_counter() - begun))
        writer.flush()
        commit_ms.append(1e3 * (time.perf_counter() - begun))
    print(f"submit a scan                   {statistics.median(submit_us):.0f} us")
    ordered = sorted(commit_ms)
    print(f"submit to committed             {statistics.median(ordered):.1f} ms, {ordered[-3]:.1f} p99 (full sync)")
    writer.close()
    store.release()


def _first_payload(directory: Path) -> bytes:
    connection = connect_reader(directory / FILE_NAME)
    (payload,) = connection.execute("SELECT payload FROM block ORDER BY id LIMIT 1").fetchone()
    connection.close()
    return bytes(payload)


def main() -> None:
    """Make the firing, measure, print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--hours", type=int, default=96, help="length of the firing (default: %(default)s)")
    parser.add_argument("--directory", type=Path, default=None, help="where to work (default: a temporary one)")
    arguments = parser.parse_args()
    hours: int = arguments.hours
    with tempfile.TemporaryDirectory(dir=arguments.directory) as made:
        directory = Path(made)
        firing, took = fill_and_seal(directory, hours)
        print(f"{hours} h x {INPUTS} inputs x 1 Hz: {hours * 3600 * INPUTS:,} samples")
        size = report_size(directory, hours)
        print(f"sealing an hour                 {1e3 * statistics.median(took):.0f} ms, {1e3 * max(took):.0f} worst")
        add_tail(directory, firing, hours)
        chart_ms = report_charts(directory, firing, hours)
        report_decoding(directory, firing)
        report_writer(directory)
        report_reference(directory, hours)
        for steps in (0.25, 1.0):
            other = directory / f"cold-{steps}"
            fill_and_seal(other, 12, steps)
            print(f"with cold-junction noise of {steps:g} step (12 h of the preheat only):")
            report_size(other, 12)
    goals = {
        f"at most {GOAL_BYTES} bytes a sample at rest": size <= GOAL_BYTES,
        f"whole firing warm under {GOAL_CHART_MS:g} ms": chart_ms < GOAL_CHART_MS,
        f"sealing an hour under {GOAL_SEAL_MS:g} ms": 1e3 * statistics.median(took) < GOAL_SEAL_MS,
    }
    for goal, is_met in goals.items():
        print(f"{'met   ' if is_met else 'MISSED'} {goal}")
    sys.exit(0 if all(goals.values()) else 1)


if __name__ == "__main__":
    main()
