"""The command line: what it takes, what it says, and how it ends."""

import argparse
import re
import subprocess
import sys
import tomllib
from collections.abc import Callable
from importlib.metadata import version
from pathlib import Path
from types import ModuleType

import pytest

from monitor.cli import STAGES, build_parser, main
from monitor.exits import CommandError
from monitor.problems import ProblemsError

COMMANDS = ("demo", "serve", "replay", "export", "check", "new-site", "firing")
REQUIRED = {"replay": ["r", "--findings", "f"], "export": ["o"], "new-site": ["--device", "/dev/x"], "firing": ["list"]}


def parsed(*words: str) -> argparse.Namespace:
    """Return what the parser makes of words."""
    return build_parser().parse_args(words)


def help_of(command: str, capsys: pytest.CaptureFixture[str]) -> str:
    """Return a command's help on one line."""
    with pytest.raises(SystemExit) as ended:
        main([command, "--help"])
    assert ended.value.code == 0
    return " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize("command", COMMANDS)
def test_every_default_is_in_the_help_and_no_other_is(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing is shown as `None` or `False`: an option without a default says in words what happens without it."""
    told = help_of(command, capsys)
    options = vars(parsed(command, *REQUIRED.get(command, [])))
    given = {"r", "f", "o", "/dev/x", "list", f"monitor.{command.replace('-', '_')}", "monitor.firing_desk"}
    defaults = [str(v) for v in options.values() if v is not None and v is not False and v not in given]

    assert sorted(re.findall(r"\(default: ([^)]*)\)", told)) == sorted(defaults)


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_is_named_in_the_help(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    """With the words that its own help begins with, and the safety of people below."""
    with pytest.raises(SystemExit):
        main(["--help"])
    told = " ".join(capsys.readouterr().out.split())
    own = help_of(command, capsys)

    assert re.search(rf" {command} ", told)
    assert "Use certified ones and follow local codes" in told
    assert f"usage: nightstoke {command}" in own


def test_the_defaults_are_those_that_are_documented() -> None:
    """Loopback only, the site file and data directory beside it, a minute of kiln a second in the demo."""
    serve, demo = parsed("serve"), parsed("demo")

    assert (serve.host, serve.port, serve.site, serve.data) == ("127.0.0.1", 8642, "kiln.toml", "nightstoke-data")
    assert (demo.speed, demo.stage, demo.seed, demo.data) == (60.0, "high-fire", 1, None)


def test_the_version_is_that_of_the_distribution(capsys: pytest.CaptureFixture[str]) -> None:
    """One line, exit code 0."""
    with pytest.raises(SystemExit) as ended:
        main(["--version"])

    assert ended.value.code == 0
    assert capsys.readouterr().out == f"nightstoke {version('nightstoke')}\n"


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["serve", "--port", "lots"], "argument --port: 'lots' is no port; use 0 to 65535"),
        (["serve", "--port", "65536"], "argument --port: '65536' is no port; use 0 to 65535"),
        (["serve", "--port", "-1"], "argument --port"),
        (["demo", "--speed", "fast"], "argument --speed: 'fast' is no speed; use 0.1 to 600"),
        (["demo", "--speed", "0"], "argument --speed: '0' is no speed; use 0.1 to 600"),
        (["demo", "--speed", "nan"], "argument --speed: 'nan' is no speed; use 0.1 to 600"),
        (["demo", "--speed", "601"], "argument --speed: '601' is no speed; use 0.1 to 600"),
        (["demo", "--from", "noon"], "argument --from: invalid choice: 'noon' (choose from 'preheat'"),
        (["firing", "pause"], "invalid choice: 'pause' (choose from 'start', 'end', 'list')"),
        (["replay", "x"], "the following arguments are required: --findings"),
        (["new-site"], "the following arguments are required: --device"),
        (["bake"], "invalid choice: 'bake'"),
        ([], "the following arguments are required: COMMAND"),
    ],
)
def test_wrong_words_end_with_2_and_say_what_is_allowed(
    words: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing is started."""
    with pytest.raises(SystemExit) as ended:
        main(words)

    assert ended.value.code == 2
    assert told in capsys.readouterr().err


@pytest.mark.parametrize(("port", "number"), [("0", 0), ("8642", 8642), ("65535", 65535)])
def test_ports_are_0_to_65535(port: str, number: int) -> None:
    """0 asks the system for any free one."""
    assert parsed("serve", "--port", port).port == number


@pytest.mark.parametrize(("speed", "number"), [("0.1", 0.1), ("1", 1.0), ("600", 600.0)])
def test_speeds_are_a_tenth_to_600(speed: str, number: float) -> None:
    """Both ends included."""
    assert parsed("demo", "--speed", speed).speed == number


@pytest.mark.parametrize(("shell", "word"), [("bash", "complete "), ("zsh", "#compdef nightstoke")])
def test_a_completion_script_is_printed(shell: str, word: str, capsys: pytest.CaptureFixture[str]) -> None:
    """It names the commands, and the shell itself finds no fault in it where it is installed."""
    with pytest.raises(SystemExit) as ended:
        main(["--print-completion", shell])
    script = capsys.readouterr().out

    assert ended.value.code == 0
    assert word in script
    assert all(command in script for command in COMMANDS)
    if shell == "bash":
        assert subprocess.run(["bash", "-n"], input=script, text=True, check=False).returncode == 0


def command_that(monkeypatch: pytest.MonkeyPatch, run: Callable[[argparse.Namespace], int]) -> None:
    """Put `run` in the place of `serve`."""
    module = ModuleType("monitor.serve")
    module.run = run  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "monitor.serve", module)


def raising(error: BaseException) -> Callable[[argparse.Namespace], int]:
    """Return a command that ends by an exception."""

    def run(_: argparse.Namespace) -> int:
        raise error

    return run


@pytest.mark.parametrize(
    ("error", "code", "told"),
    [
        (CommandError(4, "port: in use; stop it"), 4, "nightstoke: port: in use; stop it\n"),
        (CommandError(3, "no recording"), 3, "nightstoke: no recording\n"),
        (ProblemsError(["kiln.toml: a", "kiln.toml: b"]), 2, "nightstoke: kiln.toml: a\nnightstoke: kiln.toml: b\n"),
        (KeyboardInterrupt(), 130, "\nnightstoke: stopped\n"),
    ],
)
def test_a_command_s_end_becomes_words_and_a_code(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], error: BaseException, code: int, told: str
) -> None:
    """The user's faults are told on stderr without a traceback."""
    command_that(monkeypatch, raising(error))

    assert main(["serve"]) == code
    assert capsys.readouterr() == ("", told)


@pytest.mark.parametrize("code", [0, 1, 4])
def test_a_command_s_own_code_is_passed_on(monkeypatch: pytest.MonkeyPatch, code: int) -> None:
    """`check` ends with 4 without an exception."""
    command_that(monkeypatch, lambda _: code)

    assert main(["serve"]) == code


def test_a_fault_of_ours_is_not_hidden(monkeypatch: pytest.MonkeyPatch) -> None:
    """It leaves as it is: Python then prints its traceback and ends with 1."""
    command_that(monkeypatch, raising(ZeroDivisionError("ours")))

    with pytest.raises(ZeroDivisionError):
        main(["serve"])


def test_the_help_needs_no_command_s_weight() -> None:
    """Completion and help stay quick: neither the web server nor the database is loaded for them."""
    code = "import sys, monitor.cli as c; c.build_parser(); print(sorted({'fastapi', 'sqlite3'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert done.stdout == "[]\n"


def test_the_demo_s_stages_are_those_of_the_simulated_firing() -> None:
    """Each word of `--from` is passed on to the simulator, which knows no others."""
    kiln = Path("simulator/kilns/demo.toml").read_text("utf-8")
    stages = [stage["name"] for stage in tomllib.loads(kiln)["stage"]]

    assert [stage for stage in stages if stage in STAGES] == list(STAGES)
