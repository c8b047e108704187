"""The pseudo-terminal, both ends in this process."""

import os
import threading
import time
import zlib
from collections.abc import Iterator
from pathlib import Path

import pytest

from simulator.line.faulty_line import Turn
from simulator.line.pseudo_terminal import PseudoTerminal
from simulator.script.line_faults import LineFault


class Told:
    """A stop that tests can give."""

    def __init__(self) -> None:
        self.is_told = False

    def __call__(self) -> bool:
        """Return whether to stop."""
        return self.is_told


@pytest.fixture
def told() -> Told:
    """Return a stop not given yet."""
    return Told()


@pytest.fixture
def terminal(tmp_path: Path, told: Told) -> Iterator[PseudoTerminal]:
    """Return an open pseudo-terminal at tmp_path/tty."""
    opened = PseudoTerminal(tmp_path / "tty", told)
    yield opened
    if opened.is_open:
        opened.close(0.0)


@pytest.fixture
def host(tmp_path: Path, terminal: PseudoTerminal) -> Iterator[int]:
    """Return the host's end."""
    fd = os.open(tmp_path / "tty", os.O_RDWR | os.O_NOCTTY)
    yield fd
    os.close(fd)


def test_line_arrives_as_it_was_sent(terminal: PseudoTerminal, host: int) -> None:
    """Raw: no return is added and nothing echoes."""
    assert terminal.wait_until_ready()
    assert terminal.send_noise(b"[1] 0000\n")

    assert os.read(host, 100) == b"[1] 0000\n"


def test_host_is_heard_and_not_echoed(terminal: PseudoTerminal, host: int) -> None:
    """Heartbeat lines are drained, in pieces too, and handed over once, whole."""
    os.write(host, b"alive - 0\n\nalive 00c0ffee 1")
    assert terminal.wait_for_host()
    assert terminal.words() == [b"alive - 0"]
    os.write(host, b"7\n")
    assert terminal.wait_until(time.monotonic() + 0.05)

    assert terminal.words() == [b"alive 00c0ffee 17"]
    assert terminal.words() == []
    os.set_blocking(host, False)
    with pytest.raises(BlockingIOError):
        os.read(host, 100)


def test_pack_comes_with_its_checksum(terminal: PseudoTerminal, host: int) -> None:
    """The wire contract's line: a space and the CRC-32 of ISO-HDLC, here by zlib."""
    assert terminal.send_pack(b"[1]")

    assert os.read(host, 100) == b"[1] %08x\n" % zlib.crc32(b"[1]")


def test_replugged_it_is_another_terminal_behind_the_same_link(
    terminal: PseudoTerminal, host: int, tmp_path: Path
) -> None:
    """F35: the reader meets the end at once, the link is gone meanwhile, what is sent is lost, waiting goes on."""
    before = (tmp_path / "tty").readlink()
    terminal.turn(Turn(LineFault.REPLUG, is_on=True))
    assert not (tmp_path / "tty").exists()
    assert os.read(host, 100) == b""
    assert terminal.send_pack(b"[1]")
    assert terminal.wait_until(time.monotonic() + 0.01)
    terminal.turn(Turn(LineFault.REPLUG, is_on=False))
    again = os.open(tmp_path / "tty", os.O_RDWR | os.O_NOCTTY)
    os.write(again, b"alive - 0\n")
    assert terminal.wait_for_host()
    terminal.send_noise(b"[2] 0000\n")

    assert (tmp_path / "tty").readlink() != before
    assert os.read(again, 100) == b"[2] 0000\n"
    os.close(again)


def test_other_faults_leave_it_plugged(terminal: PseudoTerminal, host: int) -> None:
    """A turn that it has taken already, or that is not a port's, changes nothing."""
    terminal.turn(Turn(LineFault.REPLUG, is_on=False))
    terminal.turn(Turn(LineFault.OUTAGE, is_on=True))
    terminal.send_noise(b"[1] 0000\n")

    assert os.read(host, 100) == b"[1] 0000\n"


def test_unplugged_it_closes_cleanly(terminal: PseudoTerminal, tmp_path: Path) -> None:
    """At the end of a run in the middle of it."""
    terminal.turn(Turn(LineFault.REPLUG, is_on=True))

    assert terminal.close(0.1) == 0
    assert not (tmp_path / "tty").is_symlink()


def test_host_is_heard_while_something_is_sent(terminal: PseudoTerminal, host: int) -> None:
    """Neither waits for the other."""
    os.write(host, b"alive a 1\n")
    terminal.send_noise(b"x" * 3_000)
    terminal.send_noise(b"y")

    assert terminal.words() == [b"alive a 1"]


def test_full_terminal_waits_for_its_reader(terminal: PseudoTerminal, host: int) -> None:
    """Far more than the terminal holds arrives whole once somebody reads."""
    sent = b"x" * 99_999 + b"\n"
    got = bytearray()

    def read_slowly() -> None:
        time.sleep(0.1)
        while len(got) < len(sent):
            got.extend(os.read(host, 4096))

    reader = threading.Thread(target=read_slowly)
    reader.start()
    assert terminal.send_noise(sent)
    assert terminal.close(5.0) == 0
    reader.join()

    assert bytes(got) == sent


def test_stop_ends_every_wait(terminal: PseudoTerminal, host: int, told: Told) -> None:
    """Nobody reads, nobody speaks: told to stop, sending and waiting give up."""
    told.is_told = True

    assert not terminal.send_noise(b"x" * 99_999)
    assert not terminal.wait_until(time.monotonic() + 60.0)
    assert not terminal.wait_for_host()


def test_unread_bytes_are_told_at_the_close(terminal: PseudoTerminal, host: int, tmp_path: Path) -> None:
    """Closing without a reader says how much was lost, and takes the link away."""
    terminal.send_noise(b"abc\n")

    assert terminal.close(0.1) == 4
    assert not (tmp_path / "tty").is_symlink()


def test_link_of_a_run_before_is_replaced(tmp_path: Path, told: Told) -> None:
    """A dangling link is taken over; when another run has taken it, closing leaves it."""
    link = tmp_path / "tty"
    link.symlink_to("/nowhere")
    first = PseudoTerminal(link, told)
    second = PseudoTerminal(link, told)
    first.close(0.0)

    assert link.exists()
    second.close(0.0)
    assert not link.is_symlink()


def test_file_in_the_way_is_left_alone(tmp_path: Path, told: Told) -> None:
    """A name that is no link is refused, named, and not touched."""
    (tmp_path / "tty").write_text("mine")
    with pytest.raises(FileExistsError, match="choose another name"):
        PseudoTerminal(tmp_path / "tty", told)

    assert (tmp_path / "tty").read_text() == "mine"
