"""A disk that fills, and one that is full at the start (faults F50, F51): told, survived, nothing lost with room again.

The disk is a small tmpfs, which only a privileged process can mount.
"""

import signal
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.peers import PtyNode
from tests.system.running import Running, hear, until
from tests.system.scans import BOOT, scan_line, site_text
from tests.system.stored import export_scans

DISK_MIB = 4


class SmallDisk:
    """A file system of a few MiB that can be filled and freed."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._filler = folder / "filler"

    def fill(self) -> None:
        """Take all the space that is left."""
        with self._filler.open("ab", buffering=0) as filler:
            for size in (2**16, 2**12, 1):
                try:
                    while True:
                        filler.write(b"\xff" * size)
                except OSError:
                    continue

    def free(self) -> None:
        """Give the space back."""
        self._filler.unlink()


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[SmallDisk]:
    """Mount a small tmpfs; where that is not allowed the test is skipped."""
    folder = tmp_path / "disk"
    folder.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={DISK_MIB}m", "tmpfs", str(folder)], check=False, capture_output=True
    )
    if mounted.returncode != 0:
        pytest.skip("a small disk needs the right to mount a tmpfs, as root outside a locked-down container has it")
    yield SmallDisk(folder)
    subprocess.run(["umount", "-l", str(folder)], check=True)


def write_scans(node: PtyNode, numbers: range, base: int) -> None:
    """Let the node send scans, a second apart in kiln time."""
    node.do("write", hex=b"".join(scan_line(seq, base + seq) for seq in numbers).hex())


def is_reported(node: PtyNode, seq: int) -> bool:
    """Tell whether the node now hears that everything up to `seq` is on disk."""
    heard = ""
    while word := node.do("read", timeout_s=0.0):
        heard += word
    return f"alive {BOOT} {seq}\n" in heard


def test_a_disk_that_fills_is_waited_out(
    serve: Callable[..., Running], pty_node: PtyNode, small_disk: SmallDisk, tmp_path: Path
) -> None:
    """Full while running: 503 says so, the live picture goes on, nothing is reported kept; with room all is stored."""
    data, base = small_disk.folder / "data", int(time.time())
    service = serve(site_text(pty_node.link), data=data)
    write_scans(pty_node, range(50), base)
    until(lambda: is_reported(pty_node, 49))
    small_disk.fill()
    write_scans(pty_node, range(50, 250), base)
    until(lambda: service.health()[0] == 503, what="503 for the full disk")
    _, words = service.health()
    with service.panel() as panel:
        snapshot = hear(panel)
        write_scans(pty_node, range(250, 300), base)
        until(lambda: service.accepted == 300)
        frame = hear(panel)
    reported_too_early = is_reported(pty_node, 299)
    small_disk.free()
    until(service.is_well, 15)
    until(lambda: is_reported(pty_node, 299), 15)

    assert "the disk is full; free some space" in words["store"]
    assert str(data / "nightstoke.sqlite3") in words["store"]
    assert words["sources"] == {str(pty_node.link): "working"}
    assert words["engine"] == "working"
    assert "the disk is full" in snapshot["links"]["store_error"]
    assert frame["values"]
    assert not reported_too_early
    assert service.end() == 0
    assert [scan.seq for scan in export_scans(data, tmp_path / "night.senml.jsonl")] == list(range(300))


def test_a_start_on_a_full_disk_goes_on_from_memory(
    serve: Callable[..., Running], pty_node: PtyNode, small_disk: SmallDisk, tmp_path: Path
) -> None:
    """Full at the start: the service is up and says so; what came in meanwhile is stored once there is room."""
    data, base = small_disk.folder / "data", int(time.time())
    small_disk.fill()
    service = serve(site_text(pty_node.link), data=data)
    status, words = service.health()
    write_scans(pty_node, range(200), base)
    until(lambda: service.accepted == 200)
    values = service.ask("/api/snapshot").told["values"]
    reported_too_early = is_reported(pty_node, 199)
    small_disk.free()
    until(service.is_well, 15)
    write_scans(pty_node, range(200, 210), base)
    until(lambda: is_reported(pty_node, 209), 15)

    assert status == 503
    assert "going on from memory" in words["store"]
    assert str(data) in words["store"]
    assert all(value["status"] == "ok" for value in values)
    assert not reported_too_early
    assert service.health()[1]["firing"] is not None
    assert service.end() == 0
    assert [scan.seq for scan in export_scans(data, tmp_path / "night.senml.jsonl")] == list(range(210))


@pytest.mark.parametrize("sent", [signal.SIGKILL, signal.SIGTERM])
def test_a_restart_on_a_full_disk_goes_on_in_the_firing(
    serve: Callable[..., Running], pty_node: PtyNode, small_disk: SmallDisk, tmp_path: Path, sent: signal.Signals
) -> None:
    """Started again on a full disk: with room there is one firing, no scan missing or twice, and alive goes on.

    After an orderly end the database cannot even be opened for want of space, after a kill now and then it can.
    """
    data, base = small_disk.folder / "data", int(time.time())
    service = serve(site_text(pty_node.link), data=data)
    write_scans(pty_node, range(100), base)
    until(lambda: is_reported(pty_node, 99))
    firing = service.health()[1]["firing"]
    service.process.send_signal(sent)
    service.process.wait(5)
    small_disk.fill()
    service = serve(site_text(pty_node.link), data=data)
    write_scans(pty_node, range(50, 200), base)
    until(lambda: service.accepted in (100, 150))
    until(lambda: service.health()[0] == 503)
    small_disk.free()
    write_scans(pty_node, range(200, 210), base)
    until(lambda: is_reported(pty_node, 209), 15)
    until(service.is_well, 15)

    assert service.health()[1]["firing"] == firing
    assert service.end() == 0
    assert [scan.seq for scan in export_scans(data, tmp_path / "night.senml.jsonl")] == list(range(210))


def test_an_end_on_a_full_disk_tells_what_was_not_stored(
    serve: Callable[..., Running], pty_node: PtyNode, small_disk: SmallDisk
) -> None:
    """SIGTERM while nothing can be stored ends the service in time all the same, and it says how much that cost."""
    service = serve(site_text(pty_node.link), data=small_disk.folder / "data")
    write_scans(pty_node, range(10), int(time.time()))
    until(lambda: is_reported(pty_node, 9))
    small_disk.fill()
    write_scans(pty_node, range(10, 210), int(time.time()))
    until(lambda: service.health()[0] == 503)

    assert service.end() == 0
    assert "records could not be stored" in "".join(service.err)
    assert "the disk is full" in "".join(service.err)
