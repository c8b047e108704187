"""A pseudo-terminal that stands for a node's serial port: scans go out, the host's heartbeat comes in.

Raw before anyone writes. The slave stays open here, else the master reads an error while nobody listens. The master
never blocks: a full terminal is waited for in short turns, so that a signal is heard. What is unread when the master
closes would be lost: closing waits for the reader first. Unplugged, it is gone with all that was unread; plugged in
again it is another terminal behind the same link, as an adapter that the system gives another number.
"""

import errno
import fcntl
import os
import select
import struct
import termios
import time
import tty
from collections.abc import Callable
from pathlib import Path

from monitor.wire.line import frame_line
from simulator.line.faulty_line import Turn
from simulator.script.line_faults import LineFault

QUIET_S = 0.25
"""How long nothing must wait to be read before all counts as read: the kernel hands over what was written in portions
and shows only the portion at hand."""
TURN_S = 0.1
"""Longest wait between two looks at whether to stop, seconds."""


class PseudoTerminal:
    """An open pseudo-terminal whose slave is found at the symbolic link `link`."""

    def __init__(self, link: Path, should_stop: Callable[[], bool]) -> None:
        self._link = link
        self._should_stop = should_stop
        self._master, self._slave = _open_raw()
        self.is_open = True
        self.is_plugged = True
        self._spoken: list[bytes] = []
        self._partial = b""
        try:
            self._place_link()
        except OSError:
            self._shut()
            raise

    def _place_link(self) -> None:
        if self._link.is_symlink():
            self._link.unlink()  # of a run before
        elif self._link.exists():
            raise FileExistsError(errno.EEXIST, "is there and is no link; choose another name", str(self._link))
        self._link.symlink_to(os.ttyname(self._slave))

    def send_pack(self, payload: bytes) -> bool:
        """Send `payload` as a line with its CRC; return False if told to stop before it is out."""
        return self.send_noise(frame_line(payload))

    def send_noise(self, noise: bytes) -> bool:
        """Send bytes as fast as they are read; return False if told to stop before they are out."""
        rest = memoryview(noise)
        while rest and self.is_plugged:
            if self._should_stop():
                return False
            readable, writable, _ = select.select([self._master], [self._master], [], TURN_S)
            if readable:
                self._hear()
            if writable:
                rest = rest[self._write(rest) :]
        return True

    def wait_until(self, due: float) -> bool:
        """Listen until the monotonic clock says `due`; return False if told to stop before."""
        while (left := due - time.monotonic()) > 0.0:
            if self._should_stop():
                return False
            if select.select([self._master] if self.is_plugged else [], [], [], min(left, TURN_S))[0]:
                self._hear()
        return not self._should_stop()

    def wait_until_ready(self) -> bool:
        """Return True at once: whoever comes finds the terminal."""
        return True

    def wait_for_host(self) -> bool:
        """Listen until the host has said something; return False if told to stop before."""
        while not self._spoken:
            if not self.wait_until(time.monotonic() + TURN_S):
                return False
        return True

    def words(self) -> list[bytes]:
        """Return the whole lines that the host wrote since the last call, without their ends."""
        spoken, self._spoken = self._spoken, []
        return spoken

    def turn(self, turn: Turn) -> None:
        """Unplug the terminal or plug it in again; other faults need nothing here."""
        if turn.fault is LineFault.REPLUG and turn.is_on and self.is_plugged:
            self._unplug()
        elif turn.fault is LineFault.REPLUG and not turn.is_on and not self.is_plugged:
            self._place_link()
            self.is_plugged = True

    def _unplug(self) -> None:
        """Close the terminal; the next one is opened first, so that it has another name."""
        following = _open_raw()
        self._take_link_away()
        os.close(self._master)
        os.close(self._slave)
        self._master, self._slave = following
        self._partial = b""
        self.is_plugged = False

    def close(self, patience_s: float) -> int:
        """Wait up to `patience_s` for all to be read, take the link away and close; return the bytes not read."""
        until = time.monotonic() + patience_s
        quiet_until = time.monotonic() + QUIET_S
        while time.monotonic() < min(until, quiet_until):
            time.sleep(0.005)
            if self._unread():
                quiet_until = time.monotonic() + QUIET_S
        unread = self._unread()
        self._take_link_away()
        self._shut()
        return unread

    def _take_link_away(self) -> None:
        if self._link.is_symlink() and self._link.readlink() == Path(os.ttyname(self._slave)):
            self._link.unlink()

    def _shut(self) -> None:
        os.close(self._master)
        os.close(self._slave)
        self.is_open = False

    def _write(self, rest: memoryview) -> int:
        try:
            return os.write(self._master, rest)
        except BlockingIOError:
            return 0

    def _hear(self) -> None:
        try:
            lines = (self._partial + os.read(self._master, 4096)).split(b"\n")
        except BlockingIOError:
            return
        self._partial = lines[-1][-256:]
        self._spoken += [line for line in lines[:-1] if line]

    def _unread(self) -> int:
        waiting = fcntl.ioctl(self._slave, termios.FIONREAD, b"\0\0\0\0")
        return int(struct.unpack("i", waiting)[0])


def _open_raw() -> tuple[int, int]:
    """Open a terminal that changes nothing, and return its master, which never blocks, and its slave."""
    master, slave = os.openpty()
    tty.setraw(slave)
    os.set_blocking(master, False)
    return master, slave
