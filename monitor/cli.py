"""The command line: what each command takes, and which file does the work.

Work is imported only when its command runs, so that `--help` and completion stay quick and the service carries no
command's weight but its own.
"""

import argparse
import importlib
import sys
from collections.abc import Sequence
from importlib.metadata import version
from typing import TypeAlias

import shtab

from monitor.exits import BAD_ARGUMENTS, CommandError
from monitor.problems import ProblemsError

STOPPED = 130
"""Exit code by which a shell knows that Ctrl-C ended a command; `serve` and `demo` end with 0 by it."""
STAGES = ("preheat", "climb", "reduction", "high-fire", "soak", "cooling")

FILE_COMPLETION = shtab.FILE
FOLDER_COMPLETION = shtab.DIRECTORY


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code."""
    options = build_parser().parse_args(arguments)
    try:
        command = importlib.import_module(options.module)
        code: int = command.run(options)
    except CommandError as error:
        print(f"nightstoke: {error}", file=sys.stderr)
        return error.code
    except ProblemsError as error:
        for problem in error.problems:
            print(f"nightstoke: {problem}", file=sys.stderr)
        return BAD_ARGUMENTS
    except KeyboardInterrupt:
        print("\nnightstoke: stopped", file=sys.stderr)
        return STOPPED
    return code


def build_parser() -> argparse.ArgumentParser:
    """Return the parser of the whole command line."""
    parser = argparse.ArgumentParser(
        prog="nightstoke",
        description="A watch that never sleeps and a memory that outlives the firing, for wood-fired kilns.",
        epilog="Safety first: this is no fire, smoke or CO alarm. Use certified ones and follow local codes.",
    )
    parser.add_argument("--version", action="version", version=f"nightstoke {version('nightstoke')}")
    shtab.add_argument_to(parser, "--print-completion", help="print the completion script of a shell and end")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)
    _add_demo(commands)
    _add_serve(commands)
    _add_replay(commands)
    _add_export(commands)
    _add_check(commands)
    _add_new_site(commands)
    _add_firing(commands)
    _add_sound(commands)
    _add_alarm_table(commands)
    return parser


Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"  # noqa: SLF001 - argparse has no public name


class _DefaultsHelp(argparse.ArgumentDefaultsHelpFormatter):
    """Shows the default of every option that has one."""

    def _get_help_string(self, action: argparse.Action) -> str | None:
        return action.help if action.default is None or action.default is False else super()._get_help_string(action)


def _command(commands: Commands, name: str, module: str, words: str) -> argparse.ArgumentParser:
    parser = commands.add_parser(name, help=words, description=words, formatter_class=_DefaultsHelp)
    parser.set_defaults(module=module)
    return parser


def _add_address(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--host", default="127.0.0.1", metavar="ADDR", help="address to listen at; 0.0.0.0 for all")
    parser.add_argument("--port", type=_port, default=8642, metavar="N", help="port to listen at; 0 for any free one")


def _add_site(parser: argparse.ArgumentParser) -> None:
    option = parser.add_argument("--site", default="kiln.toml", metavar="FILE", help="the site file")
    option.complete = FILE_COMPLETION  # type: ignore[attr-defined]


def _add_data(parser: argparse.ArgumentParser) -> None:
    option = parser.add_argument("--data", default="nightstoke-data", metavar="DIR", help="where firings are stored")
    option.complete = FOLDER_COMPLETION  # type: ignore[attr-defined]


def _add_demo(commands: Commands) -> None:
    parser = _command(commands, "demo", "monitor.demo", "run the whole service on a simulated kiln; no hardware needed")
    _add_address(parser)
    parser.add_argument(
        "--speed", type=_speed, default=60.0, metavar="N", help="kiln time runs N times as fast as life"
    )
    parser.add_argument(
        "--from", dest="stage", choices=STAGES, default="high-fire", help="part of the firing to start in"
    )
    parser.add_argument("--scenario", default="night-watch", metavar="NAME", help="what the simulated crew does")
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="same seed, same firing")
    parser.add_argument(
        "--lead-in", type=float, default=6.0, metavar="HOURS", help="kiln hours sent at once beforehand"
    )
    option = parser.add_argument(
        "--data", default=None, metavar="DIR", help="keep the record here; else it goes at the end"
    )
    option.complete = FOLDER_COMPLETION  # type: ignore[attr-defined]


def _add_serve(commands: Commands) -> None:
    parser = _command(commands, "serve", "monitor.serve", "watch the kiln of a site file until stopped")
    _add_site(parser)
    _add_data(parser)
    _add_address(parser)
    option = parser.add_argument("--certificate", metavar="FILE", help="certificate for https, PEM; plain http without")
    option.complete = FILE_COMPLETION  # type: ignore[attr-defined]
    option = parser.add_argument("--key", metavar="FILE", help="the certificate's private key, PEM, without a password")
    option.complete = FILE_COMPLETION  # type: ignore[attr-defined]


def _add_replay(commands: Commands) -> None:
    parser = _command(commands, "replay", "monitor.replay", "run a recording through the same code as live")
    option = parser.add_argument("recording", metavar="RECORDING", help="NAME.senml.jsonl, wide CSV, either with .gz")
    option.complete = FILE_COMPLETION  # type: ignore[attr-defined]
    _add_site(parser)
    option = parser.add_argument("--findings", required=True, metavar="OUT", help="findings, one JSON object a line")
    option.complete = FILE_COMPLETION  # type: ignore[attr-defined]
    option = parser.add_argument("--temperatures", default=None, metavar="OUT", help="temperatures as CSV, if wanted")
    option.complete = FILE_COMPLETION  # type: ignore[attr-defined]


def _add_export(commands: Commands) -> None:
    parser = _command(commands, "export", "monitor.export", "write a stored firing as a recording, also while serving")
    _add_data(parser)
    parser.add_argument("--firing", default=None, metavar="ID", help="which firing; the newest if left out")
    option = parser.add_argument("out", metavar="OUT", help="OUT.senml.jsonl or OUT.senml.jsonl.gz")
    option.complete = FILE_COMPLETION  # type: ignore[attr-defined]


def _add_check(commands: Commands) -> None:
    parser = _command(commands, "check", "monitor.check", "say what is wrong tonight and what to do about it")
    _add_site(parser)
    _add_data(parser)
    _add_address(parser)
    parser.add_argument(
        "--listen", type=float, default=5.0, metavar="SECONDS", help="how long to listen to each source"
    )
    parser.add_argument("--no-tone", action="store_true", help="do not play the test tone")


def _add_new_site(commands: Commands) -> None:
    parser = _command(commands, "new-site", "monitor.new_site", "write a site file by warming one probe at a time")
    parser.add_argument("--device", required=True, metavar="PORT", help="serial port, best by /dev/serial/by-id/...")
    parser.add_argument("--listen", type=float, default=5.0, metavar="SECONDS", help="how long to listen at first")
    option = parser.add_argument("out", nargs="?", default="kiln.toml", metavar="OUT", help="file to write")
    option.complete = FILE_COMPLETION  # type: ignore[attr-defined]


def _add_firing(commands: Commands) -> None:
    parser = _command(commands, "firing", "monitor.firing_desk", "begin, end or list firings")
    parser.add_argument("action", choices=("start", "end", "list"), help="start and end need the service to run")
    _add_data(parser)


def _add_sound(commands: Commands) -> None:
    parser = _command(
        commands, "sound", "monitor.sound", "sound alarms, also when the service is dead; its own process"
    )
    parser.add_argument("--service", default="http://127.0.0.1:8642", metavar="URL", help="the service to ask")
    parser.add_argument("--name", default="host", metavar="NAME", help="what this voice is called")
    parser.add_argument("--player", default=None, metavar="COMMAND", help="player of WAV files; else the system's own")
    option = parser.add_argument(
        "--memory", default="nightstoke-sound", metavar="FILE", help="remembers whether a firing is open"
    )
    option.complete = FILE_COMPLETION  # type: ignore[attr-defined]
    option = parser.add_argument(
        "--certificate", default=None, metavar="FILE", help="the service's own certificate, PEM"
    )
    option.complete = FILE_COMPLETION  # type: ignore[attr-defined]


def _add_alarm_table(commands: Commands) -> None:
    _command(commands, "alarm-table", "monitor.alarm_table", "print the alarm table, to adapt it for a site")


def _port(text: str) -> int:
    if not text.isdecimal() or int(text) > 65535:
        raise argparse.ArgumentTypeError(f"{text!r} is no port; use 0 to 65535")
    return int(text)


def _speed(text: str) -> float:
    try:
        speed = float(text)
    except ValueError:
        speed = 0.0
    if not 0.1 <= speed <= 600.0:
        raise argparse.ArgumentTypeError(f"{text!r} is no speed; use 0.1 to 600")
    return speed
