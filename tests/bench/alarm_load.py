"""Measure what alarms ask of people: `python tests/bench/alarm_load.py FOLDER [--only NAME ...] [--jobs N]`.

Every recording in FOLDER (`NAME.senml.jsonl.gz` with `NAME.toml`, as `tests/bench/detection --keep` leaves them) goes
through the very pipeline of the service, with the shipped alarm table. A person is there who sees each alarm a minute
after it began to sound and touches the screen every twenty minutes; one panel listens. What sounds is counted by the
report of the alarm room. The reference is what EEMUA 191 asks for, as the British HSE's information sheet 6 tells it:
at most six alarms in an hour, and never more than ten in ten minutes.
"""

import argparse
import gzip
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from monitor.alarms.advance import SOUNDS_AGAIN
from monitor.alarms.records import AlarmChange, Host
from monitor.alarms.report import Report, most_within, report_of
from monitor.model import Arrival, Event
from monitor.pipeline import Pipeline
from monitor.site_reader import read_site
from monitor.tables import read_tables
from monitor.watch import LinkState
from monitor.wire.recording import RecordingReader

MOST_PER_HOUR, MOST_IN_10_MIN = 6, 10
MOST_CHANGES_A_MINUTE = 2
STEP_S = 5.0
"""So often the links are looked at: a silent box is then known before its sensors count as missing."""
SEEN_AFTER_S = 60.0
TOUCH_EVERY_S = 1200.0


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a firing asked of its people."""

    name: str
    report: Report
    chatter: int
    seconds: float


def main() -> None:
    """Go through all recordings and print one line each."""
    parser = argparse.ArgumentParser(description="Measure what alarms ask of people.")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--only", nargs="*", default=None, metavar="NAME")
    parser.add_argument("--jobs", type=int, default=1)
    options = parser.parse_args()
    found = sorted(p for p in options.folder.glob("*.senml.jsonl.gz") if _site_of(p).exists())
    chosen = [p for p in found if options.only is None or _name_of(p) in options.only]
    print(f"{'firing':24} hours alarms  1/2/3      most/h most/10min chatter  most frequent")
    with ProcessPoolExecutor(options.jobs) as pool:
        outcomes = []
        for outcome in pool.map(load_of, chosen):
            outcomes.append(outcome)
            print(_line(outcome), flush=True)
    over = [o.name for o in outcomes if not _is_within(o)]
    total = sum(o.report.whole.alarms for o in outcomes)
    hours = sum(_hours(o.report) for o in outcomes)
    print(f"{len(outcomes)} firings, {hours:.0f} h, {total} alarms, {24.0 * total / max(hours, 1.0):.1f} a day")
    print(f"over the limits: {', '.join(over) or 'none'}")


def load_of(recording: Path) -> Outcome:
    """Return what the firing of one recording asks of its people."""
    started = time.process_time()
    changes = list(_changes(recording))
    times = [change.time for change in changes] or [0.0]
    report = report_of(changes, times[0], times[-1], [])
    return Outcome(_name_of(recording), report, _chatter(changes), time.process_time() - started)


def _changes(recording: Path) -> Iterator[AlarmChange]:
    site = read_site(_site_of(recording))
    pipeline = Pipeline(site, read_tables(site, recording.parent), guard_clock=False)
    crew = Crew(pipeline)
    heard: dict[str, float] = {}
    with gzip.open(recording, "rb") as lines:
        for batch in _in_steps(RecordingReader().events(lines)):
            now = batch[-1].clock
            heard.update({e.scan.node: e.clock for e in batch if isinstance(e, Arrival)})
            links = LinkState({node: now - at for node, at in heard.items()}, host=Host(panels_with_sound=1))
            told = pipeline.feed(batch, links).alarm_changes + pipeline.watch(links)
            yield from told
            crew.act(now, told)


def _in_steps(events: Iterator[Event]) -> Iterator[list[Event]]:
    batch: list[Event] = []
    for event in events:
        batch.append(event)
        if event.clock - batch[0].clock >= STEP_S:
            yield batch
            batch = []


class Crew:
    """Somebody who sees each alarm a while after it began to sound, and shows that they are there."""

    def __init__(self, pipeline: Pipeline) -> None:
        self._pipeline = pipeline
        self._sounds: dict[str, float] = {}
        self._touched = 0.0

    def act(self, now: float, told: list[AlarmChange]) -> None:
        """See what sounds long enough; touch the screen now and then."""
        self._sounds.update({c.key: c.time for c in told if c.change in SOUNDS_AGAIN})
        for key in [key for key, at in self._sounds.items() if now - at >= SEEN_AFTER_S]:
            self._pipeline.acknowledge(key, "the crew")
            del self._sounds[key]
        if now - self._touched >= TOUCH_EVERY_S:
            self._touched = now
            self._pipeline.silenced("the crew")


def _chatter(changes: list[AlarmChange]) -> int:
    """Return the most changes of one alarm between sounding and not within a minute."""
    by_key: dict[str, list[float]] = {}
    for change in changes:
        if change.change in SOUNDS_AGAIN or change.change.value.startswith("ended"):
            by_key.setdefault(change.key, []).append(change.time)
    return max((most_within(times, 60.0) for times in by_key.values()), default=0)


def _is_within(outcome: Outcome) -> bool:
    whole = outcome.report.whole
    fits = whole.per_hour_most <= MOST_PER_HOUR and whole.in_10_min_most <= MOST_IN_10_MIN
    return fits and outcome.chatter <= MOST_CHANGES_A_MINUTE


def _hours(report: Report) -> float:
    return (report.whole.ended - report.whole.begun) / 3600.0


def _line(outcome: Outcome) -> str:
    whole, share = outcome.report.whole, "/".join(str(n) for n in outcome.report.share.values())
    rows = ", ".join(f"{row} {number}" for row, number in outcome.report.most_frequent[:4])
    return (
        f"{outcome.name:24} {_hours(outcome.report):5.1f} {whole.alarms:6} {share:>10} {whole.per_hour_most:8} "
        f"{whole.in_10_min_most:10} {outcome.chatter:7}  {rows}"
    )


def _name_of(recording: Path) -> str:
    return recording.name.removesuffix(".senml.jsonl.gz")


def _site_of(recording: Path) -> Path:
    return recording.with_name(f"{_name_of(recording)}.toml")


if __name__ == "__main__":
    main()
