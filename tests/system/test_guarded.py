"""The door and the live link of a running service: whom it answers, and what a panel gets that left for a while."""

import json
import socket
import time
from collections.abc import Callable
from typing import Any

import pytest
from websockets.exceptions import InvalidStatus
from websockets.sync.client import connect

from tests.peers import PtyNode
from tests.system.running import Running, hear, hear_frames, until
from tests.system.scans import scan_line, site_text


def write_scan(node: PtyNode, seq: int, base: int) -> None:
    """Let the node send one scan."""
    node.do("write", hex=scan_line(seq, base + seq).hex())


@pytest.fixture
def service(serve: Callable[..., Running], pty_node: PtyNode) -> Running:
    """Return a running service that reads `pty_node` and answers to one more name."""
    running = serve(site_text(pty_node.link, more='[panel]\nhosts = ["kiln.example"]\n'))
    until(running.is_well)
    return running


def test_foreign_hosts_and_origins_are_refused(service: Running) -> None:
    """A name that is not this service's is misdirected; another page may neither change anything nor listen."""
    port = service.address.rstrip("/").rpartition(":")[2]
    foreign = {"Origin": "http://elsewhere.example"}
    own = {"Origin": f"http://127.0.0.1:{port}"}
    me = {"who": "night watch"}

    assert service.ask("/healthz", Host="elsewhere.example").status == 421
    assert service.ask("/", Host="elsewhere.example").status == 421
    assert "[panel] hosts" in service.ask("/healthz", Host="elsewhere.example").told["error"]
    for name in ("kiln.example", f"localhost:{port}", "[::1]", "192.0.2.1:80", socket.gethostname().upper()):
        assert service.ask("/healthz", Host=name).status == 200, name
    assert service.ask("/api/silence", "POST", me, **foreign).status == 403
    assert service.ask("/api/silence", "POST", me, Origin="null").status == 403
    assert service.ask("/api/silence", "POST", me, **own).status == 200
    assert service.ask("/api/silence", "POST", me).status == 200
    live = f"ws://127.0.0.1:{port}/live"
    for address, headers in ((live, foreign), (f"ws://elsewhere.example:{port}/live", {})):
        with (
            socket.create_connection(("127.0.0.1", int(port))) as line,
            pytest.raises(InvalidStatus) as refused,
            connect(address, sock=line, additional_headers=headers),
        ):
            pass
        assert refused.value.response.status_code == 403
    with connect(live, additional_headers=own) as link:
        link.send('{"kind":"hello"}')
        assert hear(link)["kind"] == "snapshot"


def test_bodies_and_words_that_are_none_are_refused(service: Running) -> None:
    """Bodies beyond the limit, unknown fields, alarms that are none, spans that end before they begin."""
    long_body = {"who": "x" * 100_000}

    assert service.ask("/api/silence", "POST", long_body).status == 413
    assert service.ask("/api/silence", "POST", {"who": "me", "why": "?"}).status == 422
    assert service.ask("/api/alarms/none/seen", "POST", {"who": "me"}).status == 404
    assert service.ask("/api/history?begin=2000&end=1000").status == 422
    assert service.ask("/api/history?begin=NaN").status == 422
    assert service.ask("/api/firing/end", "POST").status == 409
    with service.panel() as link:
        hear(link)
        link.send("no words")
        until(lambda: service.ask("/api/snapshot").told["links"]["counters"].get("panel_words_malformed") == 1)
    assert service.is_well()


def number_of(service: Running) -> int:
    """Return the number of the newest message to panels."""
    return int(service.ask("/api/snapshot").told["seq"])


def numbered(messages: list[dict[str, Any]]) -> list[int]:
    """Return the numbers of the frames."""
    return [message["seq"] for message in messages]


def test_a_panel_that_comes_back_gets_exactly_what_it_missed(service: Running, pty_node: PtyNode) -> None:
    """With epoch and number: the missed frames, byte for byte what others got; without, or of another epoch: all."""
    base = int(time.time())
    with service.panel() as witness:
        epoch = hear(witness)["epoch"]
        with service.panel() as link:
            hear(link)
            write_scan(pty_node, 0, base)
            seen = hear_frames(link, lambda got: any(f.get("values") for f in got))
        last = seen[-1]["seq"]
        newest = last
        for seq in range(1, 6):
            write_scan(pty_node, seq, base)
            newest = until(lambda told=newest: (now := number_of(service)) > told and now)  # type: ignore[misc]
        with service.panel(epoch=epoch, seq=last) as link:
            missed = hear_frames(link, lambda got: bool(got) and got[-1]["seq"] >= newest)
        told = hear_frames(witness, lambda got: bool(got) and got[-1]["seq"] >= newest)
    with service.panel(epoch=epoch, seq=newest + 1000) as ahead, service.panel(epoch="other", seq=1) as other:
        kinds = [hear(ahead)["kind"], hear(other)["kind"]]

    assert numbered(missed) == list(range(last + 1, missed[-1]["seq"] + 1))
    assert json.dumps([f for f in told if f["seq"] > last][: len(missed)]) == json.dumps(missed)
    assert len([f for f in missed if f.get("values")]) >= 4
    assert missed[-1]["seq"] >= newest >= last + 5
    assert kinds == ["snapshot", "snapshot"]
