"""Score every finding over the simulator's scenarios: `python tests/bench/detection`.

Each firing is simulated from lighting to cooling, replayed by `nightstoke replay`, and scored against the simulator's
truth as section "Findings" of DEVELOPERS.md defines it. Seeds with an even number are for tuning, odd ones for the
report; `--seeds` chooses. Recordings are large and thrown away unless `--keep` is given.
"""

import argparse
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from tempfile import TemporaryDirectory

from bound import spans_in_hindsight
from judging import Verdict, judge
from making import Firing, findings_of
from misses import draw_misses
from table import print_tables

from simulator.script.scenarios import SCENARIOS, find_scenario
from simulator.spec.kiln_file import load_kiln

REPORTED_SEEDS = (1, 3, 5, 7, 9, 11)


def main() -> None:
    """Simulate, replay, score, print."""
    options = _options()
    firings = [Firing(scenario, seed) for seed in options.seeds for scenario in options.scenarios]
    with TemporaryDirectory() as scratch:
        folder = options.keep or Path(scratch)
        folder.mkdir(parents=True, exist_ok=True)
        begun = time.perf_counter()
        with ProcessPoolExecutor(options.jobs) as pool:
            jobs = [pool.submit(_score, f, folder, options.keep is not None, options.misses) for f in firings]
            verdicts = {}
            for number, (firing, job) in enumerate(zip(firings, jobs, strict=True), start=1):
                verdicts[firing] = job.result()
                if sys.stderr.isatty():
                    print(f"\r{number} of {len(firings)} firings", end="", file=sys.stderr, flush=True)
    print_tables(verdicts)
    print(f"\n{len(firings)} firings, seeds {options.seeds}; {time.perf_counter() - begun:.0f} s")


def _score(firing: Firing, folder: Path, keep: bool, misses: Path | None) -> Verdict:
    truth, told = findings_of(firing, folder, keep=keep)
    spec = load_kiln(find_scenario(firing.scenario).kiln)
    verdict = judge(truth, told, spans_in_hindsight(truth, spec))
    if misses is not None:
        draw_misses(firing, truth, verdict, misses)
    return verdict


def _options() -> argparse.Namespace:
    names = [s.name for s in SCENARIOS]
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, nargs="+", default=list(REPORTED_SEEDS), metavar="N")
    parser.add_argument("--scenarios", nargs="+", default=names, choices=names, metavar="NAME")
    parser.add_argument("--jobs", type=int, default=2, metavar="N", help="firings at a time (default 2)")
    parser.add_argument(
        "--keep", type=Path, metavar="FOLDER", help="keep recordings there and use those that are there"
    )
    parser.add_argument(
        "--misses", type=Path, metavar="FOLDER", help="draw what was missed or false, one picture a firing"
    )
    options = parser.parse_args()
    if options.misses is not None:
        options.misses.mkdir(parents=True, exist_ok=True)
    return options


if __name__ == "__main__":
    main()
