"""The command `nightstoke-sim`: a simulated kiln on a pseudo-terminal, behind a broker or in a recording."""

import argparse
import os
import select
import signal
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from types import FrameType

from monitor.site_file import KilnPart
from simulator.firing import scripted_watch
from simulator.line.broker_line import BrokerLine
from simulator.line.pseudo_terminal import PseudoTerminal
from simulator.line.stream import record_run, stream_run, tell
from simulator.log import log_of
from simulator.options import option_parser
from simulator.probe.probe_chain import misplaced
from simulator.run import Course, Run, course_of
from simulator.script.scenarios import SCENARIOS, Scenario, ScenarioError, find_scenario
from simulator.script.spells import settle_spells
from simulator.show.plausible import main as check_kilns
from simulator.show.plot import PlotError, plot_run
from simulator.show.scenario_table import print_table
from simulator.site_text import site_text
from simulator.spec.kiln_file import KilnFileError, KilnSpec, load_kiln
from simulator.training.kiln_socket import SharedTrainee, TrainingSocket
from simulator.training.trainee import Trainee
from simulator.truth.file import TruthWriter, truth_path
from simulator.whole_firing import whole_course

FIRST_STAGE = "preheat"
READER_PATIENCE_S = 10.0
STOP_PATIENCE_S = 1.0


class Stop:
    """Whether to stop: after a signal, or once stdin is closed if that is watched."""

    def __init__(self, *, watch_stdin: bool) -> None:
        self._is_told = False
        self._watch_stdin = watch_stdin
        signal.signal(signal.SIGTERM, self._tell)
        signal.signal(signal.SIGINT, self._tell)

    def __call__(self) -> bool:
        """Return True from the moment on that the run should end."""
        if self._watch_stdin and not self._is_told:
            readable = select.select([0], [], [], 0.0)[0]
            self._is_told = bool(readable) and os.read(0, 4096) == b""
        return self._is_told

    def _tell(self, _number: int, _frame: FrameType | None) -> None:
        self._is_told = True


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; return its exit code."""
    parser = option_parser()
    options = parser.parse_args(arguments)
    if options.list:
        return _list_scenarios()
    if options.table:
        print_table(seed=options.seed, jobs=options.jobs)
        return 0
    if options.training is not None and (options.recording or options.plot):
        parser.error("--training: nobody can practise on a recording or a picture")
    try:
        if options.checks:
            return check_kilns(None if options.kiln is None else [options.kiln], seed=options.seed)
        scenario = find_scenario(options.scenario)
        spec = load_kiln(options.kiln or scenario.kiln)
        course = _course(options, spec)
    except (KilnFileError, ScenarioError) as error:
        parser.error(str(error))
    spells = settle_spells(scenario.spells, spec, course.live_h)
    if impossible := misplaced(spec, spells):
        parser.error(f"{scenario.name} at {spec.name}: {'; '.join(impossible)}")
    if options.print_site:
        way = options.mqtt or str(options.pty or "/dev/serial/by-id/...")
        print(site_text(spec, way, course.lit, spells), end="")
        return 0
    try:
        return _go(options, spec, scenario, course)
    except PlotError as error:
        parser.error(str(error))
    except OSError as error:
        print(f"nightstoke-sim: {error.filename or 'output'}: {error.strerror}", file=sys.stderr)
        return 4


def _go(options: argparse.Namespace, spec: KilnSpec, scenario: Scenario, course: Course) -> int:
    if options.recording is not None:
        return _record(options, spec, scenario, course)
    if options.plot is not None:
        plot_run(spec, scenario, options.seed, options.plot, course=course)
        return 0
    should_stop = Stop(watch_stdin=options.until_stdin_closes)
    line = _line(options, spec, should_stop)
    try:
        if line.wait_until_ready():
            print(f"ready {options.pty or options.mqtt}", flush=True)
            with _trained(options, spec, scenario, course) as run:
                if not options.after_alive or line.wait_for_host():
                    stream_run(run, line, options.speed)
    finally:
        left = line.close(STOP_PATIENCE_S if should_stop() else READER_PATIENCE_S)
    if left:
        tell(f"{left} {'bytes were not read' if options.pty else 'packs were not acknowledged'} at the end")
    return 0


def _record(options: argparse.Namespace, spec: KilnSpec, scenario: Scenario, course: Course) -> int:
    writer = TruthWriter(truth_path(options.recording), scenario=scenario.name, seed=options.seed)
    run = Run(spec, scenario, course, seed=options.seed, on_trace=writer.add)
    scans = record_run(run, options.recording, log_of(spec, course.lit))
    writer.finish(run.firing)
    print(f"{options.recording}: {scans} scans of {spec.name}, {scenario.name}; truth beside it", file=sys.stderr)
    return 0


def _line(options: argparse.Namespace, spec: KilnSpec, should_stop: Stop) -> PseudoTerminal | BrokerLine:
    if options.pty is not None:
        return PseudoTerminal(options.pty, should_stop)
    kiln = KilnPart.model_validate({"name": spec.name}).id  # as the service names it in topics
    return BrokerLine(options.mqtt, kiln=kiln, node=spec.node, should_stop=should_stop, report=tell)


@contextmanager
def _trained(options: argparse.Namespace, spec: KilnSpec, scenario: Scenario, course: Course) -> Iterator[Run]:
    """Give the run; where it is to be practised on, a person may take its kiln over meanwhile."""
    if options.training is None:
        yield Run(spec, scenario, course, seed=options.seed)
        return
    spells = settle_spells(scenario.spells, spec, course.live_h)
    watch = scripted_watch(spec, spells, seed=options.seed, lit=course.lit)
    crew = SharedTrainee(Trainee(spec, watch, lit=course.lit))
    run = Run(spec, scenario, course, seed=options.seed, on_trace=crew.keep, crew=crew)
    with TrainingSocket(options.training, crew):
        yield run


def _course(options: argparse.Namespace, spec: KilnSpec) -> Course:
    whole = whole_course(spec)
    is_kept = options.recording is not None or options.plot is not None
    if is_kept and options.stage is None and options.duration is None:
        return replace(whole, lit=_lit(options, whole.live_h))
    live_h = spec.stage(options.stage or FIRST_STAGE).start_h
    end_h = (whole.live_s + (whole.duration_s or 0)) / 3600.0
    duration_h = end_h - live_h if is_kept and options.duration is None else options.duration
    return course_of(_lit(options, live_h), live_h=live_h, lead_in_h=options.lead_in, duration_h=duration_h)


def _lit(options: argparse.Namespace, live_h: float) -> int:
    """Return when the kiln is lit; without a start, so that going live is now."""
    if options.start is not None:
        return int(options.start)
    return int(time.time() - live_h * 3600.0)  # noqa: TID251  # kiln time begins at real now


def _list_scenarios() -> int:
    for scenario in SCENARIOS:
        first, _, second = scenario.words.partition("\n")
        print(f"{scenario.name:<16}{first}\n{'':<16}{second} (kiln: {scenario.kiln})")
    return 0


if __name__ == "__main__":
    sys.exit(main())
