"""The service and other commands as processes started from the command line, and ways to wait for what they do."""

import http.client
import json
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar
from urllib.parse import urlsplit

from websockets.sync.client import ClientConnection, connect

COMMAND = (sys.executable, "-m", "monitor")
START_LIMIT_S = 20.0
END_LIMIT_S = 5.0
"""An orderly stop takes at most this long: the limit that the service promises."""
LOOK_EVERY_S = 0.02

T = TypeVar("T")


def until(look: Callable[[], T], limit_s: float = 10.0, *, what: str = "") -> T:
    """Return what `look` gives as soon as that is true."""
    deadline = time.monotonic() + limit_s
    while not (seen := look()):
        assert time.monotonic() < deadline, f"not within {limit_s} s: {what or look}"
        time.sleep(LOOK_EVERY_S)
    return seen


def command(*arguments: str | Path, limit_s: float = 60.0) -> subprocess.CompletedProcess[str]:
    """Run one command to its end."""
    return subprocess.run(
        [*COMMAND, *map(str, arguments)], capture_output=True, check=False, text=True, timeout=limit_s
    )


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer to an HTTP request."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def told(self) -> Any:
        """The body read as JSON."""
        return json.loads(self.body)


class Running:
    """A command that goes on until told to end; its outputs are read as they come."""

    def __init__(self, *arguments: str | Path, environment: dict[str, str] | None = None) -> None:
        self.process = subprocess.Popen(
            [*COMMAND, *map(str, arguments)],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=environment,
        )
        self.out: list[str] = []
        self.err: list[str] = []
        self._readers = [
            threading.Thread(target=lines.extend, args=(pipe,), daemon=True)
            for lines, pipe in ((self.out, self.process.stdout), (self.err, self.process.stderr))
        ]
        for reader in self._readers:
            reader.start()
        self.address = ""

    def ready(self) -> "Running":
        """Wait for the line with the address and return this."""
        until(lambda: self.out or self.process.poll() is not None, START_LIMIT_S, what="the address line")
        assert self.out, f"ended with {self.process.returncode}: {''.join(self.err)}"
        self.address = self.out[0].split(" at ")[1].strip()
        return self

    def ask(self, path: str, method: str = "GET", body: Any = None, **headers: str) -> Answer:
        """Ask the service over a connection of its own."""
        where = urlsplit(self.address)
        assert where.hostname is not None
        connection = http.client.HTTPConnection(where.hostname, where.port, timeout=10)
        try:
            content = None if body is None else json.dumps(body)
            kind = {} if body is None else {"Content-Type": "application/json"}
            connection.request(method, path, content, {**kind, **headers})
            answer = connection.getresponse()
            return Answer(answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read())
        finally:
            connection.close()

    def health(self) -> tuple[int, dict[str, Any]]:
        """Return the status of `/healthz` and its words."""
        answer = self.ask("/healthz")
        return answer.status, answer.told

    def is_well(self) -> bool:
        """Tell whether `/healthz` says 200."""
        return self.health()[0] == 200

    def measure(self, name: str) -> float:
        """Return one sample of `/metrics` by its name and labels, 0 where it is not there yet."""
        for line in self.ask("/metrics").body.decode().splitlines():
            if line.rpartition(" ")[0] == name:
                return float(line.rpartition(" ")[2])
        return 0.0

    @property
    def accepted(self) -> int:
        """How many scans this service took in."""
        return int(self.measure('nightstoke_scans_total{kind="accepted"}'))

    @contextmanager
    def panel(self, **hello: Any) -> Iterator[ClientConnection]:
        """Connect to the live link and say hello."""
        with connect(f"ws://{urlsplit(self.address).netloc}/live", open_timeout=10, close_timeout=2) as link:
            link.send(json.dumps({"kind": "hello", **hello}))
            yield link

    def end(self, sent: signal.Signals = signal.SIGTERM) -> int:
        """Send a signal and return the exit code, which must come in time."""
        self.process.send_signal(sent)
        self.process.wait(END_LIMIT_S)
        for reader in self._readers:
            reader.join(END_LIMIT_S)
        return self.process.returncode

    def kill(self) -> None:
        """End it with SIGKILL, as a power cut would."""
        self.process.kill()
        self.process.wait()

    def put_away(self) -> str:
        """End it for good, close its pipes and return all it said on stderr."""
        self.kill()
        for reader in self._readers:
            reader.join(END_LIMIT_S)
        for pipe in (self.process.stdout, self.process.stderr):
            assert pipe is not None
            pipe.close()
        return "".join(self.err)


def hear(link: ClientConnection, limit_s: float = 10.0) -> dict[str, Any]:
    """Return the next message of a live link."""
    message: dict[str, Any] = json.loads(link.recv(timeout=limit_s))
    return message


def hear_frames(link: ClientConnection, enough: Callable[[list[dict[str, Any]]], bool], limit_s: float = 10.0) -> Any:
    """Return the frames of a live link up to the one that is `enough`."""
    frames: list[dict[str, Any]] = []
    deadline = time.monotonic() + limit_s
    while not enough(frames):
        assert time.monotonic() < deadline, f"not enough in {len(frames)} frames"
        message = hear(link, limit_s)
        if message["kind"] == "frame":
            frames.append(message)
    return frames
