"""A serial port that goes and comes, and what no node should send: told, counted, survived (faults F35, F37 to F39)."""

import random
import time
from collections.abc import Callable
from pathlib import Path

from tests.peers import PtyNode
from tests.system.running import Running, until
from tests.system.scans import line, pack, scan_line, site_text

BACK_LIMIT_S = 5.0
"""A port that comes back is read again within this time, seconds."""
MOST_BYTES_MORE = 8 * 2**20


def resident_bytes(service: Running) -> int:
    """Return the resident memory of the service's process, from /proc."""
    for text in Path(f"/proc/{service.process.pid}/status").read_text("ascii").splitlines():
        if text.startswith("VmRSS"):
            return int(text.split()[1]) * 1024
    raise AssertionError("the process has ended")


def write(node: PtyNode, sent: bytes) -> None:
    """Let the node write bytes."""
    node.do("write", hex=sent.hex())


def test_a_port_that_is_not_there_is_waited_for(serve: Callable[..., Running], tmp_path: Path) -> None:
    """The service starts without its port, says which one is missing and what to do, and takes it when it comes."""
    device = tmp_path / "node"
    service = serve(site_text(device))

    status, words = service.health()

    assert status == 503
    assert f"serial port {device} is not there: plug the node in" in words["sources"][str(device)]
    node = PtyNode(device)
    try:
        until(service.is_well, BACK_LIMIT_S)
    finally:
        node.end()


def test_a_port_comes_back_under_another_name(serve: Callable[..., Running], pty_node: PtyNode) -> None:
    """Unplugged: 503 naming the port and what to do; back behind the same link: 200 within 5 s, scans flow again."""
    service = serve(site_text(pty_node.link))
    until(service.is_well)
    now, first_name = int(time.time()), pty_node.do("ready")
    write(pty_node, scan_line(0, now) + scan_line(1, now + 1))
    until(lambda: service.accepted == 2)

    pty_node.do("vanish")
    until(lambda: not service.is_well())
    _, words = service.health()
    until(lambda: "is not there: plug the node in" in service.health()[1]["sources"][str(pty_node.link)])
    second_name = pty_node.do("replug")
    returned = time.monotonic()
    until(service.is_well, BACK_LIMIT_S)
    write(pty_node, scan_line(2, now + 2))
    until(lambda: service.accepted == 3, BACK_LIMIT_S)

    assert time.monotonic() - returned < BACK_LIMIT_S
    assert first_name != second_name
    assert str(pty_node.link) in words["sources"][str(pty_node.link)]
    assert service.process.poll() is None


def test_a_second_service_is_kept_off_the_port(
    serve: Callable[..., Running], pty_node: PtyNode, tmp_path: Path
) -> None:
    """Where another program holds the port, the service says so and goes on by itself once it is free."""
    pty_node.do("lock")
    service = serve(site_text(pty_node.link))
    status, words = service.health()

    assert status == 503
    assert f"{pty_node.link} is in use by another program: stop that one" in words["sources"][str(pty_node.link)]
    pty_node.do("unlock")
    until(service.is_well, BACK_LIMIT_S)


def test_what_is_no_scan_is_counted_and_survived(serve: Callable[..., Running], pty_node: PtyNode) -> None:
    """Noise, a megabyte without a newline, a pack cut in two, absurd packs: each counted by kind, memory bounded."""
    service = serve(site_text(pty_node.link))
    until(service.is_well)
    now, rng = int(time.time()), random.Random(1)
    write(pty_node, scan_line(0, now))
    until(lambda: service.accepted == 1)
    before = resident_bytes(service)
    good = scan_line(1, now + 1)

    write(pty_node, b"\x00\x03" + bytes(b for b in rng.randbytes(5000) if b != 10) + b"\n")
    write(pty_node, rng.randbytes(2**20).replace(b"\n", b" ") + b"\n")
    until(lambda: dropped(service, "too_long") == 1)
    read_before = bytes_read(service)
    write(pty_node, good[:40])
    until(lambda: bytes_read(service) == read_before + 40, what="the first half read on its own")
    write(pty_node, good[40:])
    write(pty_node, scan_line(2, now + 2).replace(b"shed", b"sked"))
    write(pty_node, line(b"[" * 10_000))
    write(pty_node, line(pack(3, now + 3, [0.03, 0.03]).replace(b"0.03", b"1e400", 1)))
    write(pty_node, line(b'[{"bn":"shed-1/","bt":1,"n":"seq","v":-4}]') + line(b"NaN"))
    write(pty_node, scan_line(4, now + 4))
    until(lambda: service.accepted == 3)

    assert service.is_well()
    assert dropped(service, "no_crc") == 1
    assert dropped(service, "bad_crc") == 1
    text = service.ask("/metrics").body.decode()
    kinds = [t for t in text.splitlines() if t.startswith("nightstoke_lines_dropped_total{")]
    assert sum(float(t.split()[-1]) for t in kinds) == 7.0, kinds
    assert resident_bytes(service) - before < MOST_BYTES_MORE


def dropped(service: Running, kind: str) -> int:
    """Return how many lines were dropped for one reason."""
    return int(service.measure(f'nightstoke_lines_dropped_total{{kind="{kind}"}}'))


def bytes_read(service: Running) -> int:
    """Return how many bytes the serial source has read."""
    return int(service.ask("/api/snapshot").told["links"]["counters"]["serial_bytes"])
