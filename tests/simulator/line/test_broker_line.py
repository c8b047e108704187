"""A node's connection to a real broker that the tests start."""

import signal
import ssl
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.reasoncodes import ReasonCode

from simulator.line.broker_address import BrokerAddress, parse_broker_url
from simulator.line.broker_line import BrokerLine
from simulator.line.faulty_line import Turn
from simulator.script.line_faults import LineFault
from tests.certificates import write_pair
from tests.peers import Mosquitto, free_port

SCAN = "nightstoke/demo-kiln/shed-1/scan"
ALIVE = "nightstoke/demo-kiln/shed-1/alive"
Start = Callable[..., Mosquitto]


class Told:
    """A stop that tests can give."""

    def __init__(self) -> None:
        self.is_told = False

    def __call__(self) -> bool:
        """Return whether to stop."""
        return self.is_told


class Node:
    """A line under test, what it reported, and its stop."""

    def __init__(self, address: BrokerAddress) -> None:
        self.stop = Told()
        self.reports: list[str] = []
        self.line = BrokerLine(
            address, kiln="demo-kiln", node="shed-1", should_stop=self.stop, report=self.reports.append
        )


def _until(is_true: Callable[[], bool], limit_s: float = 15.0) -> None:
    deadline = time.monotonic() + limit_s
    while not is_true():
        assert time.monotonic() < deadline
        time.sleep(0.005)


@contextmanager
def _node(broker: Mosquitto | int, login: str = "") -> Iterator[Node]:
    port = broker if isinstance(broker, int) else broker.port
    node = Node(parse_broker_url(f"mqtt://{login}127.0.0.1:{port}"))
    try:
        yield node
    finally:
        node.line.close(0.0)


@contextmanager
def _house(broker: Mosquitto) -> Iterator[tuple[Client, list[tuple[bytes, bool]]]]:
    """Give a client of the host's, and the payloads that it heard on the scan topic, retained or not."""
    heard: list[tuple[bytes, bool]] = []
    ready: list[bool] = []

    def take(_client: Client, _userdata: Any, message: MQTTMessage) -> None:
        heard.append((bytes(message.payload), message.retain))

    client = Client(CallbackAPIVersion.VERSION2)
    client.on_message = take
    client.on_subscribe = lambda *_: ready.append(True)
    client.connect("127.0.0.1", broker.port)
    client.loop_start()
    client.subscribe(SCAN, qos=1)
    _until(lambda: bool(ready))
    try:
        yield client, heard
    finally:
        client.disconnect()
        client.loop_stop()


def test_packs_go_out_and_the_host_is_heard(mosquitto: Start) -> None:
    """On the topics of the wire contract, QoS 1, nothing retained; noise as it is."""
    broker = mosquitto()
    with _node(broker) as node, _house(broker) as (client, heard):
        assert node.line.wait_until_ready()
        assert node.line.send_pack(b"[1]")
        assert node.line.send_noise(b"\x00\xff")
        client.publish(ALIVE, b"alive a 1", qos=1)
        assert node.line.wait_for_host()
        _until(lambda: len(heard) == 2)
        words = node.line.words()

    assert heard == [(b"[1]", False), (b"\x00\xff", False)]
    assert words == [b"alive a 1"]
    assert node.reports == [f"broker mqtt://127.0.0.1:{broker.port} is connected"]
    assert "Received PUBLISH from nightstoke-demo-kiln-shed-1 (d0, q1, r0, " in broker.log.read_text("utf-8")


def test_a_host_that_is_online_listens(mosquitto: Start) -> None:
    """Its retained status is enough, since it does not speak to a node that it has not heard of yet."""
    broker = mosquitto()
    with _house(broker) as (client, _), _node(broker) as node:
        client.publish("nightstoke/demo-kiln/host/status", b"offline", qos=1, retain=True).wait_for_publish(5)
        assert node.line.wait_until_ready()
        assert node.line.wait_until(time.monotonic() + 0.1)
        assert not node.line._is_host_online
        client.publish("nightstoke/demo-kiln/host/status", b"online", qos=1, retain=True)

        assert node.line.wait_for_host()
        assert node.line.words() == []


def test_a_node_that_may_not_read_its_heartbeat_says_so(mosquitto: Start) -> None:
    """F42: by the topic's name; the host's status it can do without. This broker grants all and delivers none."""
    granted, refused = (ReasonCode(PacketTypes.SUBACK, identifier=code) for code in (1, 128))
    with _node(mosquitto()) as node:
        assert node.line.wait_until_ready()
        node.line._on_subscribe(node.line._client, None, 1, [granted, refused], None)
        node.line._on_subscribe(node.line._client, None, 2, [refused, granted], None)

    assert len(node.reports) == 2
    assert f"refuses to let {ALIVE} be read" in node.reports[1]


def test_close_waits_for_what_the_broker_has_not_acknowledged(mosquitto: Start) -> None:
    """A thousand packs at once: all there when it returns, none missing, in order."""
    broker = mosquitto()
    with _house(broker) as (_, heard), _node(broker) as node:
        assert node.line.wait_until_ready()
        assert all(node.line.send_pack(b"%d" % n) for n in range(1000))
        assert node.line.close(10.0) == 0
        _until(lambda: len(heard) == 1000)

    assert [int(payload) for payload, _ in heard] == list(range(1000))


def test_a_broker_that_comes_late_dies_and_comes_back_is_found(mosquitto: Start) -> None:
    """Each change told once; packs sent meanwhile are let go without waiting."""
    broker = mosquitto()
    broker.stop()
    with _node(broker) as node:
        _until(lambda: len(node.reports) == 1)
        broker.start()
        assert node.line.wait_until_ready()
        broker.stop(signal.SIGKILL)
        _until(lambda: not node.line.is_ready)
        assert all(node.line.send_pack(b"lost") for _ in range(500))
        _until(lambda: len(node.reports) == 4)
        broker.start()
        assert node.line.wait_until_ready()
        with _house(broker) as (_, heard):
            assert node.line.send_pack(b"[2]")
            _until(lambda: heard == [(b"[2]", False)])
    said = [words.split(" ", 2)[2] for words in node.reports]

    assert said[0] == said[3] == "is not reachable; trying again"
    assert said[1] == said[4] == "is connected"
    assert said[2].startswith("is gone (")


def test_a_refusal_is_told_with_its_remedy(mosquitto: Start) -> None:
    """F42: once, not at each try."""
    broker = mosquitto("allow_anonymous false")
    with _node(broker, "kiln:wrong@") as node:
        _until(lambda: bool(node.reports))
        assert not node.line.is_ready

    assert "refuses the connection" in node.reports[0]
    assert "check user and password" in node.reports[0]


def test_a_password_opens(mosquitto: Start, tmp_path: Path) -> None:
    """User and password of the URL."""
    passwords = tmp_path / "passwords"
    subprocess.run(["mosquitto_passwd", "-b", "-c", passwords, "kiln", "p@ss"], check=True, capture_output=True)
    broker = mosquitto(f"password_file {passwords}")
    with _node(broker, "kiln:p%40ss@") as node:
        assert node.line.wait_until_ready()


def test_a_silent_node_says_nothing_and_comes_back(mosquitto: Start) -> None:
    """F40: the connection stands, nothing is sent; afterwards it goes on; twice the same turn is one."""
    broker = mosquitto()
    with _node(broker) as node, _house(broker) as (client, heard):
        assert node.line.wait_until_ready()
        for _ in range(2):
            node.line.turn(Turn(LineFault.OUTAGE, is_on=True))
        assert node.line.send_pack(b"[1]")
        client.publish(ALIVE, b"alive a 1", qos=1)
        assert node.line.wait_until(time.monotonic() + 0.2)
        assert node.line.words() == []
        for fault in (LineFault.OUTAGE, LineFault.LOSS):
            node.line.turn(Turn(fault, is_on=False))
        assert node.line.send_pack(b"[2]")
        _until(lambda: bool(heard))

    assert heard == [(b"[2]", False)]


def test_a_twin_takes_the_connection_again_and_again(mosquitto: Start) -> None:
    """F43: the broker sees one id take over from itself; when the twin is gone the node stays connected."""
    broker = mosquitto()
    with _node(broker) as node, _house(broker) as (_, heard):
        assert node.line.wait_until_ready()
        for _ in range(2):
            node.line.turn(Turn(LineFault.TWIN, is_on=True))
        taken = "Client nightstoke-demo-kiln-shed-1 already connected"
        _until(lambda: broker.log.read_text("utf-8").count(taken) >= 3, 20.0)
        node.line.turn(Turn(LineFault.TWIN, is_on=False))
        _until(lambda: node.line.is_ready)
        assert node.line.send_pack(b"[1]")
        _until(lambda: bool(heard))


def test_retained_packs_meet_whoever_comes_later(mosquitto: Start) -> None:
    """F44: marked only while the fault is on; a later reader gets the last of them, old as it is."""
    broker = mosquitto()
    with _node(broker) as node:
        assert node.line.wait_until_ready()
        node.line.turn(Turn(LineFault.RETAINS, is_on=True))
        node.line.send_pack(b"[1]")
        node.line.turn(Turn(LineFault.RETAINS, is_on=False))
        node.line.send_pack(b"[2]")
        assert node.line.close(5.0) == 0
    with _house(broker) as (_, heard):
        _until(lambda: bool(heard))

    assert heard == [(b"[1]", True)]


def test_stop_ends_every_wait() -> None:
    """No broker, no host: told to stop, waiting gives up."""
    with _node(free_port()) as node:
        node.stop.is_told = True

        assert not node.line.wait_until_ready()
        assert not node.line.wait_for_host()
        assert not node.line.wait_until(time.monotonic() + 60.0)
        assert not node.line.send_pack(b"[1]")


@pytest.mark.filterwarnings("ignore:Exception ignored in. <ssl.SSLSocket")  # paho leaves it to the garbage collector
def test_tls_is_checked_against_the_authority_given(mosquitto: Start, tmp_path: Path) -> None:
    """A certificate of one's own opens where the URL names it; else it is nobody to speak to."""
    certificate, key = write_pair(tmp_path)
    broker = mosquitto(f"certfile {certificate}", f"keyfile {key}")
    for ca_file, opens in ((str(certificate), True), (None, False)):
        node = Node(BrokerAddress("127.0.0.1", broker.port, is_tls=True, ca_file=ca_file))
        _until(lambda node=node: bool(node.reports))
        assert node.line.is_ready is opens
        node.line.close(0.0)

    assert "vouches" in node.reports[0]


def test_an_authority_that_cannot_be_read_is_told(tmp_path: Path) -> None:
    """At once, not at each try."""
    with pytest.raises(ssl.SSLError):
        Node(BrokerAddress("127.0.0.1", free_port(), is_tls=True, ca_file=__file__))
    with pytest.raises(FileNotFoundError):
        Node(BrokerAddress("127.0.0.1", free_port(), is_tls=True, ca_file=str(tmp_path / "none.pem")))
