"""A node on a serial line: pack lines in, heartbeat lines out, through whatever happens to the port.

Theory of operation. pyserial makes the settings (115200 8N1, an advisory lock that a second program meets); from then
on the event loop reads and writes the descriptor itself, which never waits. An empty read and any error but "try
again" mean that the port is gone: reader removed, descriptor closed, and the same stable name is tried again until it
is back. Opening happens in a thread, since the driver of a device that hangs may take seconds.
"""

import asyncio
import contextlib
import logging
import os
import termios
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import serial

from monitor.sources.port_error import explain_open_error
from monitor.sources.source import Backoff, Deliver, SourceState
from monitor.wire.line import LineReader, alive_line, rest_line

READ_BYTES: Final = 65_536
DRAIN_S: Final = 0.3
"""Longest wait for the last words to leave the port at an orderly stop, seconds."""

BAD_LINES_LOG_S: Final = 60.0
"""Bad lines are counted at once and logged at most this often, seconds."""

_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class SerialPort:
    """Which port, and how; `dtr` and `rts` None leave these lines as the system sets them on opening.

    Boards that take DTR or RTS for reset want False here.
    """

    device: str
    baud: int = 115_200
    dtr: bool | None = None
    rts: bool | None = None


def open_port(port: SerialPort) -> serial.Serial:
    """Open and lock a port without waiting for data.

    Raises:
        OSError: the port cannot be opened or locked (`serial.SerialException` is one).
        termios.error: the system refuses a setting.
    """
    opened = serial.Serial(None, port.baud, timeout=0, exclusive=True)
    opened.port = port.device
    if port.dtr is not None:
        opened.dtr = port.dtr
    if port.rts is not None:
        opened.rts = port.rts
    opened.open()
    return opened


class SerialSource:
    """One serial port; its name is the device."""

    def __init__(
        self, port: SerialPort, *, opener: Callable[[SerialPort], serial.Serial] = open_port, name: str | None = None
    ) -> None:
        """Take `opener` as the way to open `port`."""
        self.state = SourceState(name or port.device, "serial")
        self.lines = LineReader()
        self._port = port
        self._opener = opener
        self._link: _Link | None = None
        self._bad_lines_logged_at = float("-inf")
        self._bad_lines_logged = 0

    async def run(self, deliver: Deliver) -> None:
        """Deliver the payload of each good line until cancelled."""
        backoff = Backoff()
        while True:
            opened = await self._open()
            up_for_s = 0.0 if opened is None else await self._serve(opened, deliver)
            await asyncio.sleep(backoff.pause_s(up_for_s))

    def send_alive(self, node: str | None, boot: str | None, seq: int) -> None:  # noqa: ARG002  # one node a port
        """Write the heartbeat line, or count it as unsent if the port is down or takes no more."""
        if self._link is None or not self._link.write(alive_line(boot, seq)):
            self.state.counts["unsent"] += 1

    async def send_rest(self) -> None:
        """Write the word of an orderly stop and wait up to `DRAIN_S` until it left."""
        link = self._link
        if link is None or not link.write(rest_line()):
            return
        with contextlib.suppress(OSError, TimeoutError):
            async with asyncio.timeout(DRAIN_S):
                while link.opened.out_waiting:  # noqa: ASYNC110  # the system tells nobody when a port has drained
                    await asyncio.sleep(0.01)

    async def _open(self) -> serial.Serial | None:
        opening = asyncio.get_running_loop().run_in_executor(None, self._opener, self._port)
        try:
            return await asyncio.shield(opening)
        except asyncio.CancelledError:
            opening.add_done_callback(_close_unwanted)
            raise
        except (OSError, termios.error, ValueError) as error:
            self.state.fall(explain_open_error(self._port.device, error))
            return None

    async def _serve(self, opened: serial.Serial, deliver: Deliver) -> float:
        """Read until the port is gone; return for how long it was there, seconds."""
        now = asyncio.get_running_loop().time
        began = now()
        link = self._link = _Link(opened)
        self.state.rise()
        try:
            while block := await link.read():
                self.state.counts["bytes"] += len(block)
                for payload in self.lines.feed(block):
                    deliver(payload, self.state.name)
                self._log_bad_lines()
        finally:
            self._link = None
            link.close()
            self.lines.drop_partial()
        self.state.fall(f"serial port {self._port.device} went away ({link.loss}); waiting for it to come back")
        return now() - began

    def _log_bad_lines(self) -> None:
        counts = self.lines.counts
        bad = counts.too_long + counts.no_crc + counts.bad_crc
        now = asyncio.get_running_loop().time()
        if bad > self._bad_lines_logged and now >= self._bad_lines_logged_at + BAD_LINES_LOG_S:
            _log.warning("%s: %d bad lines so far: %s", self.state.name, bad, counts)
            self._bad_lines_logged, self._bad_lines_logged_at = bad, now


class _Link:
    """An open port on the event loop."""

    def __init__(self, opened: serial.Serial) -> None:
        self.opened = opened
        self.loss = "closed"
        self._fd: int = opened.fileno()
        self._blocks: deque[bytes] = deque()
        self._news = asyncio.Event()
        self._unsent = bytearray()
        self._is_lost = False
        asyncio.get_running_loop().add_reader(self._fd, self._on_readable)

    async def read(self) -> bytes:
        """Return the next bytes, none once the port is gone."""
        while not self._blocks:
            if self._is_lost:
                return b""
            self._news.clear()
            await self._news.wait()
        return self._blocks.popleft()

    def write(self, line: bytes) -> bool:
        """Write a whole line without waiting; return whether the port took it or will take its rest."""
        if self._is_lost or not self._flush():
            return False
        self._unsent += line
        before = len(self._unsent)
        self._flush()
        if len(self._unsent) == before:
            self._unsent.clear()  # not one byte went out: a heartbeat that waits would be an old one
            return False
        return True

    def close(self) -> None:
        """Take the port off the loop and close it without waiting for what it still holds."""
        self._lose("closed")
        with contextlib.suppress(OSError, termios.error):
            if self.opened.out_waiting:  # an empty flush would take back a last word that a reader has not seen yet
                self.opened.reset_output_buffer()
        with contextlib.suppress(OSError):
            self.opened.close()

    def _flush(self) -> bool:
        """Write what is left of a line; return whether nothing is left."""
        try:
            while self._unsent:
                del self._unsent[: os.write(self._fd, self._unsent)]
        except BlockingIOError:
            return False
        except OSError as error:
            self._lose(str(error))
            return False
        return True

    def _on_readable(self) -> None:
        try:
            block = os.read(self._fd, READ_BYTES)
        except BlockingIOError:
            return
        except OSError as error:
            self._lose(str(error))
            return
        if block:
            self._blocks.append(block)
            self._news.set()
        else:
            self._lose("end of data")

    def _lose(self, why: str) -> None:
        """Stop watching the descriptor at once: one left on a hung-up port would be readable without end."""
        if not self._is_lost:
            self._is_lost = True
            self.loss = why
            asyncio.get_running_loop().remove_reader(self._fd)
            self._news.set()


def _close_unwanted(opening: "asyncio.Future[serial.Serial]") -> None:
    """Close a port whose opening outlived the wish for it."""
    if not opening.cancelled() and opening.exception() is None:
        opening.result().close()
