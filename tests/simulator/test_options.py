"""The options of the command."""

from pathlib import Path

import pytest

from simulator.options import option_parser


def test_a_run_needs_one_way_out(capsys: pytest.CaptureFixture[str]) -> None:
    """A line, a broker, a recording, a picture or a list: one of them, not two."""
    with pytest.raises(SystemExit):
        option_parser().parse_args([])
    with pytest.raises(SystemExit):
        option_parser().parse_args(["--pty", "tty", "--recording", "out"])

    assert "--recording" in capsys.readouterr().err


def test_options_are_read_as_what_they_mean() -> None:
    """Paths, hours, speeds; `max` is as fast as the host reads."""
    options = option_parser().parse_args(["--plot", "a.png", "--speed", "max", "--lead-in", "1.5", "--seed", "7"])

    assert options.plot == Path("a.png")
    assert options.speed is None
    assert (options.lead_in, options.seed, options.scenario) == (1.5, 7, "steady")


@pytest.mark.parametrize(
    ("option", "text", "advice"),
    [
        ("--speed", "0", "give a number above 0, or max"),
        ("--speed", "inf", "give a number above 0, or max"),
        ("--lead-in", "-1", "give a number of hours, 0 or more"),
        ("--duration", "nan", "give a number of hours, 0 or more"),
        ("--jobs", "0", "give a whole number, 1 or more"),
        ("--seed", "-2", "give a whole number, 0 or more"),
    ],
)
def test_nonsense_is_answered_with_what_is_allowed(
    capsys: pytest.CaptureFixture[str], option: str, text: str, advice: str
) -> None:
    """The message names the option and what it takes."""
    with pytest.raises(SystemExit):
        option_parser().parse_args(["--pty", "tty", option, text])

    said = capsys.readouterr().err
    assert option in said
    assert advice in said


def test_a_broker_is_told_from_nonsense(capsys: pytest.CaptureFixture[str]) -> None:
    """What is no address of a broker is refused with what one looks like."""
    with pytest.raises(SystemExit):
        option_parser().parse_args(["--mqtt", "http://shed"])

    assert "mqtt://" in capsys.readouterr().err
