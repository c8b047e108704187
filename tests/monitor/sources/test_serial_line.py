"""The serial source against real pseudo-terminals with the node in another process."""

import asyncio
import contextlib
import errno
import logging
import os
import re
import select
import socket
import struct
import threading
import time
import tty
from collections.abc import AsyncIterator, Callable
from pathlib import Path

import pytest
import serial

from monitor.sources import serial_line
from monitor.sources.serial_line import SerialPort, SerialSource, open_port
from monitor.wire.line import LineCounts, frame_line
from tests.peers import PtyNode

PACK = b'[{"bn":"shed-1/","bt":1764000000.25,"n":"t1/emf","u":"V","v":0.0332751}]'


class Running:
    """A source at work, and what it delivered."""

    def __init__(self, source: SerialSource) -> None:
        self.source = source
        self.got: list[bytes] = []
        self.names: set[str] = set()

    def deliver(self, payload: bytes, name: str) -> None:
        """Keep a payload."""
        self.got.append(payload)
        self.names.add(name)

    async def until(self, is_true: Callable[[], bool], limit_s: float = 5.0) -> None:
        """Wait until something is so."""
        async with asyncio.timeout(limit_s):
            while not is_true():
                await asyncio.sleep(0.005)

    async def until_connected(self, limit_s: float = 5.0) -> None:
        """Wait until the port is open."""
        await self.until(lambda: self.source.state.connected, limit_s)


@contextlib.asynccontextmanager
async def running(source: SerialSource) -> AsyncIterator[Running]:
    """Run a source beside the test."""
    watched = Running(source)
    task = asyncio.create_task(source.run(watched.deliver))
    try:
        yield watched
    finally:
        task.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await task


def source_at(link: Path) -> SerialSource:
    """Make a source for the port behind `link`."""
    return SerialSource(SerialPort(str(link)))


async def test_good_lines_are_delivered_with_the_sources_name(pty_node: PtyNode) -> None:
    """What a node in another process writes arrives, byte for byte."""
    async with running(source_at(pty_node.link)) as watched:
        await watched.until_connected()
        await pty_node.write(frame_line(PACK) * 3)
        await watched.until(lambda: len(watched.got) == 3)

    assert watched.got == [PACK] * 3
    assert watched.names == {str(pty_node.link)}
    assert watched.source.state.counts["bytes"] == 3 * len(frame_line(PACK))
    assert watched.source.lines.counts == LineCounts(good=3)


async def test_pack_cut_in_two_is_one_pack(pty_node: PtyNode) -> None:
    """A line may come in any pieces."""
    line = frame_line(PACK)
    async with running(source_at(pty_node.link)) as watched:
        await watched.until_connected()
        await pty_node.write(line[:20])
        await watched.until(lambda: watched.source.state.counts["bytes"] == 20)
        assert watched.got == []
        await pty_node.write(line[20:])
        await watched.until(lambda: len(watched.got) == 1)

    assert watched.got == [PACK]


async def test_garbage_is_counted_and_the_next_line_is_read(pty_node: PtyNode) -> None:
    """F38: random bytes, NUL, interrupt and stop characters, a line with a wrong CRC, a line without one."""
    garbage = bytes(range(256)).replace(b"\n", b"") + b"\n" + b"\x00\x03\x11\x13\n" + b"[] 00000000\n" + b"[]\n"
    async with running(source_at(pty_node.link)) as watched:
        await watched.until_connected()
        await pty_node.write(garbage + frame_line(PACK))
        await watched.until(lambda: len(watched.got) == 1)

    assert watched.source.lines.counts == LineCounts(good=1, no_crc=3, bad_crc=1)


async def test_megabyte_without_newline_is_survived(pty_node: PtyNode) -> None:
    """F38: a megabyte without newline is one line too long, and the loop goes on meanwhile."""
    async with running(source_at(pty_node.link)) as watched:
        await watched.until_connected()
        writing = asyncio.create_task(pty_node.write(b"\x55" * 1_000_000 + b"\n" + frame_line(PACK)))
        longest_s = await longest_stall_s(writing)
        await watched.until(lambda: len(watched.got) == 1)

    assert watched.source.lines.counts == LineCounts(good=1, too_long=1)
    assert longest_s < 0.5


async def longest_stall_s(task: "asyncio.Task[None]") -> float:
    """Return for how long the loop stood still at most until `task` was done, seconds."""
    longest_s, last = 0.0, time.monotonic()
    while not task.done():
        await asyncio.sleep(0.001)
        longest_s, last = max(longest_s, time.monotonic() - last), time.monotonic()
    return longest_s


async def test_port_that_comes_back_under_another_name_is_found(pty_node: PtyNode) -> None:
    """F35: unplugged and plugged in again with another number behind the same link: open again within 5 s."""
    async with running(source_at(pty_node.link)) as watched:
        await watched.until_connected()
        before = await pty_node.ask("ready")
        await pty_node.write(frame_line(PACK) + b"[half a")
        await watched.until(lambda: watched.source.state.counts["bytes"] == len(frame_line(PACK)) + 7)
        await pty_node.ask("vanish")
        await watched.until(lambda: "is not there" in (watched.source.state.error or ""), 1.0)
        await asyncio.sleep(1.0)
        after = await pty_node.ask("replug")
        await watched.until_connected(5.0)
        await pty_node.write(b" line]\n" + frame_line(PACK))
        await watched.until(lambda: len(watched.got) == 2)

    assert before != after
    assert watched.source.state.counts["connections"] == 2
    assert watched.source.lines.counts == LineCounts(good=2, cut=1, no_crc=1)


async def test_lost_port_costs_no_processor_time(pty_node: PtyNode) -> None:
    """F35: a hung-up terminal is readable without end; nothing may spin on it."""
    async with running(source_at(pty_node.link)) as watched:
        await watched.until_connected()
        await pty_node.ask("vanish")
        began = time.process_time()
        await asyncio.sleep(1.0)
        spent_s = time.process_time() - began

    assert spent_s < 0.3


async def test_missing_port_is_said_and_waited_for(tmp_path: Path) -> None:
    """A port that is not there at start is no reason to end."""
    async with running(source_at(tmp_path / "node")) as watched:
        await watched.until(lambda: "is not there" in (watched.source.state.error or ""))
        node = await asyncio.to_thread(PtyNode, tmp_path / "node")
        try:
            await watched.until_connected()
            assert watched.source.state.error is None
        finally:
            node.end()


async def test_port_held_by_another_program_is_said_and_waited_for(pty_node: PtyNode) -> None:
    """F37: the lock of a second program is met, told, and left as soon as that one ends."""
    await pty_node.ask("lock")
    async with running(source_at(pty_node.link)) as watched:
        await watched.until(lambda: "in use by another program" in (watched.source.state.error or ""))
        await pty_node.ask("unlock")
        await watched.until_connected()


async def test_our_port_is_locked_against_others(pty_node: PtyNode) -> None:
    """F37: a second opening that asks for the lock is refused while the source runs, and not after it."""
    port = SerialPort(str(pty_node.link))
    async with running(SerialSource(port)) as watched:
        await watched.until_connected()
        with pytest.raises(serial.SerialException, match="exclusively lock"):
            open_port(port)

    open_port(port).close()


async def test_no_permission_is_said_with_the_group(pty_node: PtyNode) -> None:
    """Root is refused nothing, so the opener refuses here; the text names the port and the group that may open it."""

    def refuse(port: SerialPort) -> serial.Serial:
        raise serial.SerialException(13, f"could not open port {port.device}")

    async with running(SerialSource(SerialPort(str(pty_node.link)), opener=refuse)) as watched:
        await watched.until(lambda: "no permission" in (watched.source.state.error or ""))

    assert "usermod -a -G" in (watched.source.state.error or "")


async def test_heartbeat_and_rest_are_written(pty_node: PtyNode) -> None:
    """The node reads the lines of the contract."""
    async with running(source_at(pty_node.link)) as watched:
        await watched.until_connected()
        watched.source.send_alive(None, None, 0)
        assert await pty_node.ask("read") == "alive - 0\n"
        watched.source.send_alive("shed-1", "9f3ac2d1", 18231)
        assert await pty_node.ask("read") == "alive 9f3ac2d1 18231\n"
        await watched.source.send_rest()
        assert await pty_node.ask("read") == "rest\n"

    assert watched.source.state.counts["unsent"] == 0


async def test_heartbeat_never_waits_for_a_node_that_does_not_read(pty_node: PtyNode) -> None:
    """A full terminal makes heartbeats unsent, not the loop wait; only whole lines arrive when it is read again."""
    async with running(source_at(pty_node.link)) as watched:
        await watched.until_connected()
        began = time.monotonic()
        for seq in range(3000):
            watched.source.send_alive("shed-1", "9f3ac2d1", seq)
        assert time.monotonic() - began < 2.0
        unsent = watched.source.state.counts["unsent"]
        lines = [await pty_node.ask("read") for _ in range(3000 - unsent - 1)]
        watched.source.send_alive("shed-1", "9f3ac2d1", 9999)
        lines += [await pty_node.ask("read"), await pty_node.ask("read")]

    assert 0 < unsent < 3000
    words = [re.fullmatch(r"alive 9f3ac2d1 (\d+)\n", line) for line in lines]
    seqs = [int(word[1]) for word in words if word]
    assert len(seqs) == len(lines) == 3000 - unsent + 1
    assert seqs == sorted(set(seqs))
    assert seqs[-1] == 9999


async def test_heartbeat_of_a_port_that_is_down_is_counted(tmp_path: Path) -> None:
    """Nothing is lost silently, and a rest without a port is no fault."""
    source = source_at(tmp_path / "node")
    source.send_alive("shed-1", None, 3)
    await source.send_rest()

    assert source.state.counts["unsent"] == 1


def hung_up(source: SerialSource) -> bool:
    """Say whether the far end of the source's port is closed."""
    assert source._link is not None
    poll = select.poll()
    poll.register(source._link.opened.fileno(), select.POLLIN)
    return any(event & select.POLLHUP for _, event in poll.poll(1))


async def test_writing_finds_a_lost_port(pty_node: PtyNode) -> None:
    """A port that goes away under a heartbeat is lost and counted, whoever notices first."""
    async with running(source_at(pty_node.link)) as watched:
        await watched.until_connected()
        pty_node.end()
        deadline = time.monotonic() + 5
        while not hung_up(watched.source):  # the loop must not run, so that the write is first
            assert time.monotonic() < deadline
        watched.source.send_alive("shed-1", None, 3)
        assert watched.source.state.counts["unsent"] == 1
        await watched.until(lambda: not watched.source.state.connected)


class SocketPort:
    """A port that is a socket, for what no pseudo-terminal does: errors on reading and a slow line."""

    def __init__(self, end: socket.socket) -> None:
        self.end = end
        self.end.setblocking(False)
        self.waiting = [7, 0, 7]

    @property
    def out_waiting(self) -> int:
        """Bytes that have not left yet."""
        return self.waiting.pop(0)

    def fileno(self) -> int:
        """Return the descriptor."""
        return self.end.fileno()

    def reset_output_buffer(self) -> None:
        """Throw away what has not left."""
        raise OSError(errno.EIO, "gone")

    def close(self) -> None:
        """Close the port."""
        self.end.close()
        raise OSError(errno.EIO, "gone")


async def test_rest_waits_until_the_line_has_drained(tmp_path: Path) -> None:
    """What a slow line still holds is given time to leave."""
    near, far = socket.socketpair()
    port = SocketPort(near)
    source = SerialSource(SerialPort(str(tmp_path)), opener=lambda _: port)  # type: ignore[arg-type,return-value]
    async with running(source) as watched:
        await watched.until_connected()
        await source.send_rest()
    with far:
        assert far.recv(100) == b"rest\n"

    assert port.waiting == []


async def test_rest_is_not_taken_back_when_the_port_closes() -> None:
    """The last word of an orderly stop reaches a node that reads it a moment later."""
    heard = []
    for _ in range(20):
        master, slave = os.openpty()
        tty.setraw(slave)
        async with running(SerialSource(SerialPort(os.ttyname(slave)))) as watched:
            await watched.until_connected()
            await watched.source.send_rest()
        os.set_blocking(master, False)
        heard.append(os.read(master, 100) if select.select([master], [], [], 1.0)[0] else b"")
        os.close(slave)
        os.close(master)

    assert heard == [b"rest\n"] * 20


async def test_error_on_reading_is_a_loss(tmp_path: Path) -> None:
    """Any error but "try again" means that the port is gone; "try again" means nothing."""
    server = socket.create_server(("127.0.0.1", 0))
    far = socket.create_connection(server.getsockname())
    near, _ = server.accept()
    source = SerialSource(SerialPort(str(tmp_path)), opener=lambda _: SocketPort(near))  # type: ignore[arg-type,return-value]
    async with running(source) as watched:
        await watched.until_connected()
        assert source._link is not None
        source._link._on_readable()
        assert source.state.connected
        far.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        far.close()
        await watched.until(lambda: not source.state.connected)
    server.close()

    assert "went away ([Errno 104] Connection reset by peer)" in (source.state.error or "")


async def test_fault_of_the_receiver_ends_the_task(pty_node: PtyNode) -> None:
    """A fault of ours is seen, not swallowed, and the port is closed behind it."""

    def fail(payload: bytes, name: str) -> None:
        raise RuntimeError(f"cannot take {len(payload)} bytes from {name}")

    source = source_at(pty_node.link)
    task = asyncio.create_task(source.run(fail))
    while not source.state.connected:
        await asyncio.sleep(0.005)
    await pty_node.write(frame_line(PACK))

    with pytest.raises(RuntimeError, match="cannot take"):
        await task
    open_port(SerialPort(str(pty_node.link))).close()


async def test_opening_that_hangs_stops_nobody(pty_node: PtyNode) -> None:
    """A driver that takes long to open holds neither the loop nor the end; what it opened too late is closed."""
    may_open = threading.Event()
    opened: list[serial.Serial] = []

    def slow(port: SerialPort) -> serial.Serial:
        may_open.wait(5)
        opened.append(open_port(port))
        return opened[-1]

    async with running(SerialSource(SerialPort(str(pty_node.link)), opener=slow)):
        await asyncio.sleep(0.05)
    may_open.set()
    async with asyncio.timeout(5):
        while not opened or opened[0].is_open:
            await asyncio.sleep(0.005)

    assert not opened[0].is_open


async def test_opening_that_fails_after_the_end_is_no_fault(tmp_path: Path) -> None:
    """An opening that outlives the wish for it may fail unnoticed."""
    may_fail = threading.Event()

    def slow(port: SerialPort) -> serial.Serial:
        may_fail.wait(5)
        return open_port(port)

    async with running(SerialSource(SerialPort(str(tmp_path / "none")), opener=slow)) as watched:
        await asyncio.sleep(0.05)
    may_fail.set()
    await asyncio.sleep(0.05)

    assert watched.source.state.error == "not started yet"


async def test_bad_lines_are_logged_once_a_minute(
    pty_node: PtyNode, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Counting is exact, logging sparing."""
    caplog.set_level(logging.WARNING)
    async with running(source_at(pty_node.link)) as watched:
        await watched.until_connected()
        await pty_node.write(b"x\n")
        await watched.until(lambda: watched.source.lines.counts.no_crc == 1)
        await pty_node.write(b"x\n")
        await watched.until(lambda: watched.source.lines.counts.no_crc == 2)
        monkeypatch.setattr(serial_line, "BAD_LINES_LOG_S", 0.0)
        await pty_node.write(b"x\n")
        await watched.until(lambda: watched.source.lines.counts.no_crc == 3)

    told = [message for message in caplog.messages if "bad lines" in message]
    assert [message.split(": ")[1].split(" ")[0] for message in told] == ["1", "3"]


def test_port_is_opened_as_configured(pty_node: PtyNode) -> None:
    """115200 8N1 without flow control; DTR and RTS as said, else as the system has them."""
    plain = open_port(SerialPort(str(pty_node.link)))
    settings = plain.get_settings()
    plain.close()
    told = open_port(SerialPort(str(pty_node.link), baud=9600, dtr=False, rts=False))
    told.close()

    assert (settings["baudrate"], settings["bytesize"], settings["parity"], settings["stopbits"]) == (115200, 8, "N", 1)
    assert [settings[flow] for flow in ("xonxoff", "rtscts", "dsrdtr")] == [False] * 3
    assert (plain.dtr, plain.rts, told.dtr, told.rts, told.baudrate) == (True, True, False, False, 9600)
