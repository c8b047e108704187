"""The options of `nightstoke-sim`."""

import argparse
from pathlib import Path

from simulator.line.broker_address import BrokerAddress, BrokerAddressError, parse_broker_url
from simulator.spec.kiln_file import kiln_names


def option_parser() -> argparse.ArgumentParser:
    """Return the parser of all options."""
    parser = argparse.ArgumentParser(
        prog="nightstoke-sim",
        description="A simulated wood kiln that speaks the wire format of a real one.",
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
    out.add_argument(
        "--recording",
        type=Path,
        metavar="OUT",
        help="write OUT.senml.jsonl, packed if OUT ends in .gz, and the truth beside it, OUT.truth.jsonl",
    )
    out.add_argument("--plot", type=Path, metavar="OUT.png", help="draw the firing with the truth marked")
    out.add_argument("--list", action="store_true", help="tell the scenarios and end")
    out.add_argument("--table", action="store_true", help="fire every scenario and count what truly happens in it")
    out.add_argument(
        "--checks", action="store_true", help="tell beside what is usual what a good firing of a kiln shows"
    )
    add("--print-site", action="store_true", help="write the site file of this kiln to stdout and end")
    add("--scenario", default="steady", metavar="NAME", help="what happens (default: %(default)s)")
    add("--kiln", metavar="NAME", help=f"one of {', '.join(kiln_names())} (default: the scenario's own)")
    add(
        "--jobs",
        type=_jobs,
        default=2,
        metavar="N",
        help="scenarios of the table fired at a time (default: %(default)s)",
    )
    add("--seed", type=_seed, default=1, metavar="N", help="same seed, same start: same bytes (default: %(default)s)")
    add("--speed", type=_speed, default=1.0, metavar="N", help="times life, or max (default: 1)")
    add(
        "--from",
        dest="stage",
        metavar="STAGE",
        help="stage of the firing to go live in (default: preheat; a recording or picture has the whole firing)",
    )
    add(
        "--lead-in",
        type=_hours,
        default=0.0,
        metavar="HOURS",
        help="past to send first, one scan per 10 s (default: none)",
    )
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


def _jobs(text: str) -> int:
    jobs = int(text)
    if jobs < 1:
        raise argparse.ArgumentTypeError("give a whole number, 1 or more")
    return jobs


def _seed(text: str) -> int:
    seed = int(text)
    if seed < 0:
        raise argparse.ArgumentTypeError("give a whole number, 0 or more")
    return seed
