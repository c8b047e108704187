"""The command `nightstoke-sim`: a simulated kiln on a pseudo-terminal, behind a broker or in a recording."""

import argparse
import os
import select
import signal
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

from monitor.site_file import KilnPart
from simulator.broker_address import BrokerAddress, BrokerAddressError, parse_broker_url
from simulator.broker_line import BrokerLine
from simulator.firing import scripted_watch
from simulator.kiln_file import KilnFileError, KilnSpec, kiln_names, load_kiln
from simulator.pseudo_terminal import PseudoTerminal
from simulator.run import Course, Run, course_of
from simulator.scenarios import SCENARIOS, Scenario, ScenarioError, find_scenario
from simulator.site_text import site_text
from simulator.spells import settle_spells
from simulator.stream import record_run, stream_run, tell
from simulator.training import Trainee
from simulator.training_socket import SharedTrainee, TrainingSocket

COOLING_SHOWN_H = 8.0
"""Hours after the plan's end at which a recording without --duration ends."""
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
    parser = _parser()
    options = parser.parse_args(arguments)
    if options.list:
        return _list_scenarios()
    if options.training is not None and options.recording is not None:
        parser.error("--training: nobody can practise on a recording")
    try:
        spec, scenario = load_kiln(options.kiln), find_scenario(options.scenario)
        course = _course(options, spec)
    except (KilnFileError, ScenarioError) as error:
        parser.error(str(error))
    if options.print_site:
        print(site_text(spec, options.mqtt or str(options.pty or "/dev/serial/by-id/..."), course.lit), end="")
        return 0
    try:
        return _go(options, spec, scenario, course)
    except OSError as error:
        print(f"nightstoke-sim: {error.filename or 'output'}: {error.strerror}", file=sys.stderr)
        return 4


def _go(options: argparse.Namespace, spec: KilnSpec, scenario: Scenario, course: Course) -> int:
    if options.recording is not None:
        scans = record_run(Run(spec, scenario, course, seed=options.seed), options.recording)
        print(f"{options.recording}: {scans} scans of {spec.name}, {scenario.name}", file=sys.stderr)
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
    live_h = spec.stage(options.stage).start_h
    duration_h = options.duration
    if duration_h is None and options.recording is not None:
        duration_h = spec.points[-1][0] + COOLING_SHOWN_H - live_h
    lit = options.start
    if lit is None:
        lit = int(time.time() - live_h * 3600.0)  # noqa: TID251  # kiln time begins at real now
    return course_of(lit, live_h=live_h, lead_in_h=options.lead_in, duration_h=duration_h)


def _list_scenarios() -> int:
    for scenario in SCENARIOS:
        first, _, second = scenario.words.partition("\n")
        print(f"{scenario.name:<14}{first}\n{'':<14}{second}")
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="nightstoke-sim",
        description="A simulated wood kiln that speaks the wire format of a real one.",
        formatter_class=argparse.ArgumentDefaultsHelpFormatter,
    )
    add = parser.add_argument
    out = parser.add_mutually_exclusive_group(required=True)
    out.add_argument("--pty", type=Path, metavar="LINK", help="open a pseudo-terminal and link LINK to it")
    out.add_argument(
        "--mqtt",
        type=_broker,
        metavar="URL",
        help="publish to a broker: mqtt://[user:password@]host[:port], or mqtts:// with ?ca_file=PATH",
    )
    out.add_argument("--recording", type=Path, metavar="OUT", help="write OUT.senml.jsonl, packed if OUT ends in .gz")
    out.add_argument("--list", action="store_true", help="tell the scenarios and end")
    add("--print-site", action="store_true", help="write the site file of this kiln to stdout and end")
    add("--scenario", default="steady", metavar="NAME", help="what the crew does")
    add("--kiln", default="demo", metavar="NAME", help=f"one of {', '.join(kiln_names())}")
    add("--seed", type=_seed, default=1, metavar="N", help="same seed, same start: same bytes")
    add("--speed", type=_speed, default=1.0, metavar="N", help="times life, or max")
    add("--from", dest="stage", default="preheat", metavar="STAGE", help="stage of the firing to go live in")
    add("--lead-in", type=_hours, default=0.0, metavar="HOURS", help="past to send first, one scan per 10 s")
    add("--start", type=int, metavar="EPOCH", help="kiln time of lighting; default: going live is now")
    add("--duration", type=_hours, metavar="HOURS", help="live kiln time; default: a recording ends in the cooling")
    add("--training", type=Path, metavar="SOCKET", help="Unix socket by which a person may fire the kiln meanwhile")
    add("--after-alive", action="store_true", help="send nothing before the host's first heartbeat")
    add("--until-stdin-closes", action="store_true", help="end when stdin is closed")
    return parser


def _speed(text: str) -> float | None:
    if text == "max":
        return None
    speed = float(text)
    if not 0.0 < speed < float("inf"):
        raise argparse.ArgumentTypeError("give a number above 0, or max")
    return speed


def _broker(text: str) -> BrokerAddress:
    try:
        return parse_broker_url(text)
    except BrokerAddressError as error:
        raise argparse.ArgumentTypeError(str(error)) from error


def _hours(text: str) -> float:
    hours = float(text)
    if not 0.0 <= hours < float("inf"):
        raise argparse.ArgumentTypeError("give a number of hours, 0 or more")
    return hours


def _seed(text: str) -> int:
    seed = int(text)
    if seed < 0:
        raise argparse.ArgumentTypeError("give a whole number, 0 or more")
    return seed


if __name__ == "__main__":
    sys.exit(main())
