"""Processes of the whole service on loopback; whatever happens, none of them outlives its test."""

import contextlib
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.system.running import Running


@pytest.fixture
def started() -> Iterator[Callable[..., Running]]:
    """Return a function that starts a command which goes on; each is killed after the test, none may have failed."""
    all_started: list[Running] = []

    def start(*arguments: str | Path, **settings: Any) -> Running:
        all_started.append(Running(*arguments, **settings))
        return all_started[-1]

    yield start
    words = [running.put_away() for running in all_started]
    assert not [word for word in words if "Traceback" in word]


@pytest.fixture
def serve(started: Callable[..., Running], tmp_path: Path) -> Callable[..., Running]:
    """Return a function that serves a site, given as text, and returns once the service answers."""

    def start(site: str, *arguments: str | Path, data: Path | None = None, **settings: Any) -> Running:
        file = tmp_path / "kiln.toml"
        file.write_text(site, "utf-8")
        folder = tmp_path / "data" if data is None else data
        return started("serve", "--site", file, "--data", folder, "--port", "0", *arguments, **settings).ready()

    return start


class Simulator:
    """The simulated kiln in a process of its own, behind a link of the test's folder."""

    def __init__(self, link: Path, *arguments: str) -> None:
        self._command = [sys.executable, "-m", "simulator", "--pty", str(link), *arguments]
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def site(self) -> str:
        """The kiln.toml of this kiln."""
        done = subprocess.run([*self._command, "--print-site"], capture_output=True, text=True, check=True)
        return done.stdout

    def start(self) -> None:
        """Start it and wait for its terminal."""
        self._process = subprocess.Popen(
            [*self._command, "--until-stdin-closes"], stdin=subprocess.PIPE, stdout=subprocess.PIPE
        )
        assert self._process.stdout is not None
        assert self._process.stdout.readline().startswith(b"ready")

    def end(self) -> None:
        """End it by closing its stdin; be firm if it does not."""
        if self._process is not None:
            with contextlib.suppress(BrokenPipeError, subprocess.TimeoutExpired):
                self._process.communicate(timeout=2)
            self._process.kill()
            self._process.wait()
            self._process = None


@pytest.fixture
def simulator(tmp_path: Path) -> Iterator[Callable[..., Simulator]]:
    """Return a function that makes a simulator, not started yet, from further arguments of its command line."""
    made: list[Simulator] = []

    def make(*arguments: str) -> Simulator:
        made.append(Simulator(tmp_path / "kiln-line", *arguments))
        return made[-1]

    yield make
    for each in made:
        each.end()
