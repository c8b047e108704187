"""`nightstoke firing`: begin, end and list firings of a running service from the command line."""

import gzip
import re
import time
from collections.abc import Callable
from pathlib import Path

from tests.peers import PtyNode
from tests.system.running import Running, command, until
from tests.system.scans import scan_line, site_text


def test_firings_are_begun_ended_and_listed(serve: Callable[..., Running], pty_node: PtyNode, tmp_path: Path) -> None:
    """The first scan begins one, `end` ends it, `start` begins the next, and `list` tells all with their scans."""
    base, data = int(time.time()), tmp_path / "data"
    service = serve(site_text(pty_node.link))
    until(service.is_well)
    early = command("firing", "end", "--data", data)
    pty_node.do("write", hex=b"".join(scan_line(seq, base + seq) for seq in range(30)).hex())
    until(lambda: service.accepted == 30)
    ended = command("firing", "end", "--data", data)
    again = command("firing", "end", "--data", data)
    begun = command("firing", "start", "--data", data)
    next_begun = command("firing", "start", "--data", data)
    pty_node.do("write", hex=b"".join(scan_line(seq, base + seq) for seq in range(30, 40)).hex())
    until(lambda: service.accepted == 40)
    shown = service.health()[1]["firing"]
    assert service.end() == 0
    listed = command("firing", "list", "--data", data)
    late = command("firing", "end", "--data", data)

    assert early.returncode == again.returncode == 4
    assert "no firing is open" in early.stderr
    assert [done.returncode for done in (ended, begun, next_begun, listed)] == [0, 0, 0, 0]
    first = time.strftime("%Y%m%dT%H%MZ", time.gmtime(base))
    assert ended.stdout == f"firing {first} ended\n"
    assert re.fullmatch(r"firing \d{8}T\d{4}Z(-\d)? begun\n", begun.stdout)
    rows = [(line.split()[0], line.split()[-2:]) for line in listed.stdout.splitlines()]
    assert rows[0] == (first, ["30", "scans"])
    assert [scans for _, scans in rows] == [["30", "scans"], ["0", "scans"], ["10", "scans"]]
    assert len({firing for firing, _ in rows}) == 3
    assert rows[2][0] == shown == next_begun.stdout.split()[1]
    assert [" open " in line for line in listed.stdout.splitlines()] == [False, False, True]
    assert late.returncode == 4
    assert "no service runs on" in late.stderr


def test_each_firing_is_exported_by_its_id(serve: Callable[..., Running], pty_node: PtyNode, tmp_path: Path) -> None:
    """`export --firing ID` writes that firing only; packed and plain hold the same; an unknown id names those there."""
    base, data = int(time.time()), tmp_path / "data"
    service = serve(site_text(pty_node.link))
    until(service.is_well)
    pty_node.do("write", hex=b"".join(scan_line(seq, base + seq) for seq in range(20)).hex())
    until(lambda: service.accepted == 20)
    first = command("firing", "end", "--data", data).stdout.split()[1]
    command("firing", "start", "--data", data)
    pty_node.do("write", hex=b"".join(scan_line(seq, base + seq) for seq in range(20, 25)).hex())
    until(lambda: service.accepted == 25)
    assert service.end() == 0
    plain, packed, newest = (tmp_path / name for name in ("a.senml.jsonl", "b.senml.jsonl.gz", "c.senml.jsonl"))

    one = command("export", "--data", data, "--firing", first, plain)
    two = command("export", "--data", data, "--firing", first, packed)
    three = command("export", "--data", data, newest)
    none = command("export", "--data", data, "--firing", "19990101T0000Z", tmp_path / "d.senml.jsonl")

    assert [done.returncode for done in (one, two, three, none)] == [0, 0, 0, 2]
    assert "20 scans" in one.stderr
    assert gzip.decompress(packed.read_bytes()) == plain.read_bytes()
    assert "5 scans" in three.stderr
    assert f"there are {first}, " in none.stderr
    assert not list(tmp_path.glob("*.part"))
