"""A real Mosquitto on a free port, and a wire to it that can be cut or made old."""

import asyncio
import contextlib
import shutil
import socket
import subprocess
import time
from collections.abc import AsyncIterator, Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
import pytest_asyncio

MOSQUITTO = shutil.which("mosquitto") or "/usr/sbin/mosquitto"


def free_port() -> int:
    """Return a port of loopback that nobody listens on now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@dataclass
class HouseBroker:
    """One Mosquitto of a test's own; `lines` of its configuration may be added before `start`."""

    folder: Path
    port: int = field(default_factory=free_port)
    lines: list[str] = field(default_factory=lambda: ["allow_anonymous true"])
    running: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start it and wait until it takes connections."""
        config = self.folder / "mosquitto.conf"
        config.write_text("\n".join([f"listener {self.port} 127.0.0.1", "user root", "log_dest none", *self.lines]))
        self.running = subprocess.Popen([MOSQUITTO, "-c", str(config)])
        limit = time.monotonic() + 10.0
        while True:
            with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", self.port), 0.5):
                return
            assert self.running.poll() is None, "mosquitto stopped at once"
            assert time.monotonic() < limit, "mosquitto takes no connections"
            time.sleep(0.01)

    def admit_only(self, user: str, password: str) -> None:
        """Refuse everybody else; to be called before `start`."""
        passwords = self.folder / "passwords"
        subprocess.run(["mosquitto_passwd", "-b", "-c", passwords, user, password], check=True, capture_output=True)
        self.lines = ["allow_anonymous false", f"password_file {passwords}"]

    def kill(self) -> None:
        """End it with SIGKILL, as a power cut would."""
        if self.running is not None:
            self.running.kill()
            self.running.wait()
            self.running = None


@pytest.fixture
def house_broker(tmp_path: Path) -> Iterator[HouseBroker]:
    """Give a broker that is not started yet; it is killed after the test."""
    broker = HouseBroker(tmp_path)
    yield broker
    broker.kill()


@dataclass
class Wire:
    """A TCP relay to `target_port`: `answer_first` may refuse a connection by its first bytes, `cut` breaks all."""

    target_port: int
    port: int = 0
    answer_first: Callable[[bytes], bytes | None] = lambda _: None
    seen: list[bytes] = field(default_factory=list)
    _ends: list[asyncio.StreamWriter] = field(default_factory=list)

    async def relay(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Carry one connection."""
        with contextlib.suppress(OSError):
            first = await reader.read(65536)
            if first:
                self.seen.append(first)
                answer = self.answer_first(first)
                if answer is not None:
                    writer.write(answer)
                else:
                    await self._carry(first, reader, writer)
        writer.close()

    async def _carry(self, first: bytes, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        back, out = await asyncio.open_connection("127.0.0.1", self.target_port)
        self._ends += [writer, out]
        out.write(first)
        await asyncio.gather(_pump(reader, out), _pump(back, writer))

    def cut(self) -> None:
        """Break every connection without a word of MQTT."""
        for end in self._ends:
            end.transport.abort()
        self._ends.clear()


async def _pump(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    with contextlib.suppress(OSError):
        while read := await reader.read(65536):
            writer.write(read)
            await writer.drain()
    writer.close()


@pytest_asyncio.fixture
async def house_wire(house_broker: HouseBroker) -> AsyncIterator[Wire]:
    """Give a relay before the broker of the same test."""
    wire = Wire(house_broker.port)
    server = await asyncio.start_server(wire.relay, "127.0.0.1", 0)
    wire.port = server.sockets[0].getsockname()[1]
    yield wire
    wire.cut()
    server.close()
    await server.wait_closed()
    await asyncio.sleep(0.02)  # let the relays see their ends close
