"""The systemd units: what they start is a command of ours with options it has, and neither stops the other."""

import configparser
import shlex
from pathlib import Path

import pytest

from monitor.cli import build_parser

FOLDER = Path(__file__).parents[2] / "hardware" / "host"
UNITS = sorted(FOLDER.glob("*.service"))
BINDING = {"requires", "requisite", "bindsto", "partof", "propagatesstopto", "stoppropagatedfrom", "conflicts"}


def read(unit: Path) -> configparser.ConfigParser:
    """Return the sections of a unit."""
    parser = configparser.ConfigParser(interpolation=None)
    parser.read(unit)
    return parser


@pytest.mark.parametrize("unit", UNITS, ids=lambda path: path.name)
def test_a_unit_starts_a_command_of_ours_and_again(unit: Path) -> None:
    """With options that the command line takes, always, and without a limit of tries."""
    sections = read(unit)
    program, *arguments = shlex.split(sections["Service"]["ExecStart"])
    options = build_parser().parse_args(arguments)

    assert program.endswith("/bin/nightstoke")
    assert options.module in {"monitor.serve", "monitor.sound"}
    assert sections["Service"]["Restart"] == "always"
    assert sections["Unit"]["StartLimitIntervalSec"] == "0"


@pytest.mark.parametrize("unit", UNITS, ids=lambda path: path.name)
def test_neither_is_stopped_with_the_other(unit: Path) -> None:
    """The voice must outlive the watch."""
    assert not BINDING & set(read(unit)["Unit"])


def test_there_are_both() -> None:
    """A watch and a voice."""
    assert [unit.name for unit in UNITS] == ["nightstoke-sound.service", "nightstoke.service"]
