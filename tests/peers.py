"""What the tests start beside the service: a real broker, and a node in another process on a pseudo-terminal."""

import asyncio
import contextlib
import json
import shutil
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path


def free_port() -> int:
    """Return a TCP port of the loopback that is free now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
    return port


class Mosquitto:
    """A real broker on the loopback, with the settings of one test; it keeps its port over restarts."""

    def __init__(self, folder: Path, *settings: str) -> None:
        self.port = free_port()
        self.log = folder / "mosquitto.log"
        self._config = folder / "mosquitto.conf"
        # As root it would drop to a user that cannot read the test's folder.
        lines = ["user root", f"listener {self.port} 127.0.0.1", "log_dest stderr", "log_type all", *settings]
        if not any(setting.startswith(("allow_anonymous", "password_file")) for setting in settings):
            lines.append("allow_anonymous true")
        self._config.write_text("\n".join(lines) + "\n", "utf-8")
        self._running: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start the broker and return once it answers."""
        program = shutil.which("mosquitto", path="/usr/sbin:/usr/local/sbin:/usr/bin:/usr/local/bin")
        assert program is not None, "these tests need Mosquitto: apt-get install mosquitto"
        with self.log.open("ab") as log:
            self._running = subprocess.Popen([program, "-c", str(self._config)], stderr=log)
        deadline = time.monotonic() + 10
        while True:
            with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", self.port), timeout=1):
                return
            assert self._running.poll() is None, self.log.read_text("utf-8")
            assert time.monotonic() < deadline, "the broker does not answer"
            time.sleep(0.01)

    def stop(self, sent: signal.Signals = signal.SIGTERM) -> None:
        """End the broker by a signal and wait for its end."""
        if self._running is not None:
            self._running.send_signal(sent)
            self._running.wait(10)
            self._running = None


class PtyNode:
    """A node in a process of its own, at the far end of a pseudo-terminal that a link leads to."""

    def __init__(self, link: Path) -> None:
        self.link = link
        self._process = subprocess.Popen(
            [sys.executable, "-I", "-S", str(Path(__file__).with_name("pty_node.py")), str(link)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        self.do("ready")

    async def ask(self, command: str, **arguments: object) -> str:
        """Let the node do something and return its answer, while the loop goes on."""
        return await asyncio.to_thread(self.do, command, **arguments)

    def do(self, command: str, **arguments: object) -> str:
        """Let the node do something and wait for its answer."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        print(json.dumps({"command": command, **arguments}), file=self._process.stdin, flush=True)
        answer = self._process.stdout.readline()
        assert answer, "the node's process ended"
        return str(json.loads(answer))

    async def write(self, sent: bytes) -> None:
        """Let the node write bytes, waiting where the terminal is full."""
        await self.ask("write", hex=sent.hex())

    def end(self) -> None:
        """End the node's process, which closes its terminal."""
        self._process.kill()
        self._process.communicate()
