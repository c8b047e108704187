"""A node's end of a pseudo-terminal, in a process of its own: does what its standard input says, a JSON line each.

Run by the fixture `pty_node`. Only the standard library, so that it starts in a few hundredths of a second.
"""

import fcntl
import json
import os
import pty
import select
import sys
import tty
from pathlib import Path
from typing import Any


class Terminal:
    """The terminal behind `link`, and beside it the one that will be there after the next replugging."""

    def __init__(self, link: str) -> None:
        self.link = Path(link)
        self.locks: list[int] = []
        self.master, self.slave = self.opened()
        self.point()

    def opened(self) -> tuple[int, int]:
        """Open a raw terminal: a new one echoes and turns newlines into two characters."""
        master, slave = pty.openpty()
        tty.setraw(slave)
        return master, slave

    def point(self) -> None:
        """Let the link lead to the terminal."""
        beside = self.link.with_name(self.link.name + ".new")
        beside.symlink_to(os.ttyname(self.slave))
        beside.replace(self.link)

    def ready(self, **_: Any) -> str:
        """Say that the terminal is there, and its present name."""
        return os.ttyname(self.slave)

    def write(self, *, hex: str) -> str:  # noqa: A002  # the name on the wire
        """Write bytes to whoever has the terminal open."""
        left = memoryview(bytes.fromhex(hex))
        while left:
            left = left[os.write(self.master, left) :]
        return "written"

    def read(self, *, timeout_s: float = 5.0) -> str:
        """Return what was written to us up to a newline, or what there is after `timeout_s`."""
        got = b""
        while not got.endswith(b"\n") and select.select([self.master], [], [], timeout_s)[0]:
            got += os.read(self.master, 1)
        return got.decode()

    def vanish(self, **_: Any) -> str:
        """Unplug: close the terminal and take the link away; the next one will have another name."""
        kept = self.opened()
        os.close(self.master)
        os.close(self.slave)
        self.link.unlink()
        self.master, self.slave = kept
        return "gone"

    def replug(self, **_: Any) -> str:
        """Plug in again under the same link."""
        self.point()
        return os.ttyname(self.slave)

    def lock(self, **_: Any) -> str:
        """Hold the terminal as another program does."""
        self.locks.append(os.open(os.ttyname(self.slave), os.O_RDWR | os.O_NOCTTY))
        fcntl.flock(self.locks[-1], fcntl.LOCK_EX | fcntl.LOCK_NB)
        return "locked"

    def unlock(self, **_: Any) -> str:
        """Let the terminal go."""
        os.close(self.locks.pop())
        return "unlocked"


def main() -> None:
    """Answer one command after the other."""
    terminal = Terminal(sys.argv[1])
    for line in sys.stdin:
        arguments = json.loads(line)
        answer = getattr(terminal, arguments.pop("command"))(**arguments)
        print(json.dumps(answer), flush=True)


main()
