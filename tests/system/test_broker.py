"""The service beside a real Mosquitto: what it tells the house, nodes behind the broker, and a broker that dies."""

import json
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

from tests.peers import Mosquitto, PtyNode
from tests.system.running import Running, until
from tests.system.scans import BOOT, pack, scan_line, site_text
from tests.system.stored import export_scans

HOST = "nightstoke/night-kiln/host"
SCAN_TOPIC = "nightstoke/night-kiln/shed-1/scan"
ALIVE_TOPIC = "nightstoke/night-kiln/shed-1/alive"


class Listener:
    """A client of the broker that hears everything."""

    def __init__(self, client: Client) -> None:
        self.client = client
        self.heard: list[tuple[str, bytes, bool]] = []
        self.is_subscribed = False
        client.on_message = self._take
        client.on_subscribe = self._note

    def _take(self, _client: Client, _userdata: Any, message: MQTTMessage) -> None:
        self.heard.append((message.topic, bytes(message.payload), message.retain))

    def _note(self, *_: Any) -> None:
        self.is_subscribed = True

    def on(self, topic: str) -> list[bytes]:
        """Return the payloads heard on a topic, oldest first."""
        return [payload for heard, payload, _ in self.heard if heard == topic]

    def told(self, topic: str) -> list[dict[str, Any]]:
        """Return the messages heard on a topic, read as JSON."""
        return [json.loads(payload) for payload in self.on(topic)]

    def has_heard(self, topic: str, payload: bytes) -> bool:
        """Tell whether one payload was heard on a topic."""
        return payload in self.on(topic)


@contextmanager
def listening(broker: Mosquitto) -> Iterator[Listener]:
    """Connect to the broker and subscribe to everything."""
    client = Client(CallbackAPIVersion.VERSION2)
    listener = Listener(client)
    client.connect("127.0.0.1", broker.port)
    client.loop_start()
    client.subscribe("#", qos=1)
    until(lambda: listener.is_subscribed)
    try:
        yield listener
    finally:
        client.disconnect()
        client.loop_stop()


def test_the_house_is_told_and_the_broker_may_die(
    serve: Callable[..., Running], mosquitto: Callable[..., Mosquitto], pty_node: PtyNode
) -> None:
    """Retained temperatures and state, findings and alarms as they happen, online and offline; no broker, no harm."""
    broker = mosquitto()
    base = int(time.time())
    service = serve(site_text(pty_node.link, more=f'[broker]\nhost = "127.0.0.1"\nport = {broker.port}\n'))
    until(service.is_well)
    with listening(broker) as house:
        until(lambda: house.has_heard(f"{HOST}/status", b"online"))
        for first in range(0, 2600, 50):
            pty_node.do("write", hex=b"".join(scan_line(s, base + s) for s in range(first, first + 50)).hex())
        until(lambda: [f for f in house.told(f"{HOST}/finding") if f["kind"] == "fall"], 20, what="a fall")
        until(lambda: [s for s in house.told(f"{HOST}/state") if s["alarms"]], what="a state with an alarm")
        findings, alarms = house.told(f"{HOST}/finding"), house.told(f"{HOST}/alarm")
        until(lambda: len(service.ask("/api/findings").told) >= len(findings), what="the findings stored")
        stored = service.ask("/api/findings").told
    with listening(broker) as latecomer:
        until(lambda: latecomer.on(f"{HOST}/temperature/s2"))
        retained = {topic: payload for topic, payload, is_retained in latecomer.heard if is_retained}
    value = json.loads(retained[f"{HOST}/temperature/s1"])

    assert set(retained) == {f"{HOST}/{word}" for word in ("status", "state", "temperature/s1", "temperature/s2")}
    assert retained[f"{HOST}/status"] == b"online"
    assert value["status"] == "ok"
    assert 700 < value["celsius"] < 900
    assert abs(value["time"] - base) < 3600
    assert [(f["kind"], f["time"]) for f in findings] == [(f["kind"], f["time"]) for f in stored][: len(findings)]
    assert {"time", "change", "title", "action"} <= set(alarms[0])
    broker.stop()
    until(lambda: "broker" in service.health()[1], what="the word on the broker")
    status, words = service.health()
    assert status == 200
    assert f"broker 127.0.0.1:{broker.port}" in words["broker"]
    pty_node.do("write", hex=scan_line(2600, base + 2600).hex())
    until(lambda: service.accepted == 2601)
    broker.start()
    with listening(broker) as house:
        until(lambda: house.has_heard(f"{HOST}/status", b"online"), 12)
        assert service.end() == 0
        until(lambda: house.has_heard(f"{HOST}/status", b"offline"))


def test_nodes_behind_the_broker_are_heard_and_answered(
    serve: Callable[..., Running], mosquitto: Callable[..., Mosquitto], tmp_path: Path
) -> None:
    """Packs published at QoS 1 are stored and answered by `alive`; a retained one is not fresh; `rest` comes last."""
    broker = mosquitto()
    base = int(time.time())
    site = site_text(None, more=f'[broker]\nhost = "127.0.0.1"\nport = {broker.port}\n[[source]]\nkind = "mqtt"\n')
    with listening(broker) as node:
        node.client.publish(SCAN_TOPIC, pack(999, base - 86000, [0.03, 0.03]), qos=1, retain=True).wait_for_publish(5)
        service = serve(site)
        until(service.is_well)
        for seq in range(20):
            node.client.publish(SCAN_TOPIC, pack(seq, base + seq, [0.03, 0.03]), qos=1)
        until(lambda: node.has_heard(ALIVE_TOPIC, f"alive {BOOT} 19".encode()))
        broker.stop()
        until(lambda: service.health()[0] == 503, what="503 without the only source")
        _, words = service.health()
        broker.start()
        until(service.is_well, 12)
    with listening(broker) as node:
        for seq in range(10, 30):
            node.client.publish(SCAN_TOPIC, pack(seq, base + seq, [0.03, 0.03]), qos=1)
        until(lambda: node.has_heard(ALIVE_TOPIC, f"alive {BOOT} 29".encode()))
        code = service.end()
        until(lambda: node.has_heard(ALIVE_TOPIC, b"rest"))

    assert code == 0
    assert f"broker 127.0.0.1:{broker.port} is not reachable" in words["sources"]["mqtt"]
    assert [scan.seq for scan in export_scans(tmp_path / "data", tmp_path / "a.senml.jsonl")] == list(range(30))


def test_a_broker_that_refuses_is_told_with_the_remedy(
    serve: Callable[..., Running], mosquitto: Callable[..., Mosquitto], pty_node: PtyNode
) -> None:
    """A broker that wants a password it was not given leaves the kiln watched, and its refusal is told in words."""
    broker = mosquitto("allow_anonymous false")

    service = serve(site_text(pty_node.link, more=f'[broker]\nhost = "127.0.0.1"\nport = {broker.port}\n'))
    until(lambda: "broker" in service.health()[1])
    until(service.is_well)

    assert "user None is refused" in service.health()[1]["broker"]
    assert "check user and password_file of [broker]" in service.health()[1]["broker"]
