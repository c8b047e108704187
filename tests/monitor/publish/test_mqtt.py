"""MQTT out against a real Mosquitto: states, events, will, outages, refusals.

The behaviour of will, retained messages and expiry is that of the OASIS standards MQTT 3.1.1 and MQTT 5.0.
"""

import asyncio
import contextlib
import datetime as dt
import ipaddress
import json
import time
from collections.abc import AsyncIterator, Callable
from pathlib import Path
from typing import Any

import aiomqtt
import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from monitor.model import Finding, FindingKind, FindingState
from monitor.publish.messages import AlarmLine, Value
from monitor.publish.mqtt import EVENTS_LIMIT, STATE_EXPIRY_S, Link, MqttPublisher
from monitor.site_file import BrokerPart

FINDING = Finding(5.0, FindingKind.FALL, FindingState.BEGIN, "front", 4.0, -12.0, "Cel", "The front falls.")
ALARM = AlarmLine(
    "fall", "temperature-falling", 1, True, False, False, 5.0, 0.0, None, "front", "Title", "Text", "Cause",
    "Consequence", "Action", 600.0,
)  # fmt: skip


def value(sensor: str, celsius: float) -> Value:
    """Return a good value."""
    return Value(sensor, celsius, "ok", "good", 0.4, 25.0, 2.0)


async def until(true: Callable[[], Any], limit_s: float = 10.0) -> None:
    """Wait until `true()` holds."""
    async with asyncio.timeout(limit_s):
        while not true():
            await asyncio.sleep(0.005)


@contextlib.asynccontextmanager
async def publishing(publisher: MqttPublisher) -> AsyncIterator[MqttPublisher]:
    """Run `publisher` for the length of a block, then stop it in order."""
    running = asyncio.create_task(publisher.run())
    try:
        yield publisher
    finally:
        running.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await running


async def failed(publisher: MqttPublisher) -> None:
    """Wait until a try has failed."""
    await until(lambda: publisher.counts["failures"] >= 1)


class Ear:
    """What a listener in the house has heard, by topic."""

    def __init__(self) -> None:
        self.heard: list[aiomqtt.Message] = []

    def on(self, topic: str) -> list[Any]:
        """Return the payloads heard on `nightstoke/k/host/<topic>`, text or decoded JSON."""
        texts = [str(m.payload, "utf-8") for m in self.heard if str(m.topic) == f"nightstoke/k/host/{topic}"]
        return texts if topic == "status" else [json.loads(t) for t in texts]


@contextlib.asynccontextmanager
async def listening(port: int, **options: Any) -> AsyncIterator[Ear]:
    """Listen to everything of kiln `k` in MQTT 5 and 3.1.1 alike."""
    ear = Ear()

    async def hear(client: aiomqtt.Client) -> None:
        async for message in client.messages:
            ear.heard.append(message)

    async with aiomqtt.Client("127.0.0.1", port, protocol=aiomqtt.ProtocolVersion.V5, **options) as client:
        await client.subscribe("nightstoke/k/#", qos=1)
        hearing = asyncio.create_task(hear(client))
        yield ear
        hearing.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await hearing


def publisher_to(port: int, **broker: Any) -> MqttPublisher:
    """Return a publisher of kiln `k` to loopback."""
    password = broker.pop("password", None)
    return MqttPublisher(BrokerPart(host="127.0.0.1", port=port, **broker), "k", password)


async def test_states_are_retained_with_their_time(house_broker: Any) -> None:
    """Who subscribes later gets the newest temperature of each sensor and the present alarms, each with its time."""
    house_broker.start()
    async with publishing(publisher_to(house_broker.port)) as publisher:
        publisher.publish_values([value("front", 600.0), value("back", 580.0)], 10.0)
        await until(lambda: publisher.counts["sent"] == 2)
        publisher.publish_values([value("front", 601.0)], 11.0)
        publisher.publish_state([ALARM], 11.5)
        await until(lambda: publisher.counts["sent"] == 4)

        async with listening(house_broker.port) as ear:
            await until(lambda: len(ear.heard) == 4)

        assert ear.on("status") == ["online"]
        (front,) = ear.on("temperature/front")
        assert (front["time"], front["celsius"], front["quality"], front["sensor"]) == (11.0, 601.0, "good", "front")
        assert ear.on("temperature/back")[0]["time"] == 10.0
        (state,) = ear.on("state")
        assert (state["time"], state["alarms"][0]["key"]) == (11.5, "fall")
        assert all(m.retain and m.qos == 1 for m in ear.heard)


async def test_states_expire_and_the_status_does_not(house_broker: Any) -> None:
    """In MQTT 5 each state carries an expiry, so that no old number outlives the service."""
    house_broker.start()
    async with publishing(publisher_to(house_broker.port)) as publisher, listening(house_broker.port) as ear:
        publisher.publish_values([value("front", 600.0)], 10.0)
        publisher.publish_finding(FINDING)
        await until(lambda: len(ear.heard) == 3)

        expiry = {str(m.topic): getattr(m.properties, "MessageExpiryInterval", None) for m in ear.heard}
        assert expiry == {
            "nightstoke/k/host/status": None,
            "nightstoke/k/host/temperature/front": STATE_EXPIRY_S,
            "nightstoke/k/host/finding": None,
        }


async def test_findings_and_alarms_are_told_once(house_broker: Any) -> None:
    """Events reach who listens, in order, and nobody who comes later."""
    house_broker.start()
    async with publishing(publisher_to(house_broker.port)) as publisher:
        async with listening(house_broker.port) as ear:
            publisher.publish_finding(FINDING)
            publisher.publish_alarm(ALARM, "began", 6.0)
            publisher.publish_alarm(ALARM, "acknowledged", 7.0)
            await until(lambda: len(ear.on("alarm")) == 2)
        async with listening(house_broker.port) as late:
            await until(lambda: late.heard)
            await asyncio.sleep(0.1)

    assert ear.on("finding") == [
        {
            "time": 5.0, "kind": "fall", "state": "begin", "sensor": "front", "onset": 4.0, "measure": -12.0,
            "unit": "Cel", "text": "The front falls.", "fault": None, "door": None, "ratio": None, "confidence": None,
        }
    ]  # fmt: skip
    assert [(a["time"], a["change"], a["key"], a["action"]) for a in ear.on("alarm")] == [
        (6.0, "began", "fall", "Action"),
        (7.0, "acknowledged", "fall", "Action"),
    ]
    assert [str(m.topic) for m in late.heard] == ["nightstoke/k/host/status"]


async def test_an_orderly_stop_says_offline(house_broker: Any) -> None:
    """Stopped in order, the service takes its own word back, quickly."""
    house_broker.start()
    async with listening(house_broker.port) as ear:
        async with publishing(publisher_to(house_broker.port)):
            await until(lambda: ear.on("status") == ["online"])
            begun = time.monotonic()
        stopped_s = time.monotonic() - begun
        await until(lambda: ear.on("status") == ["online", "offline"])

    assert stopped_s < 2.0


async def test_a_cut_wire_leaves_the_last_will(house_broker: Any, house_wire: Any) -> None:
    """When the connection breaks the broker says offline; the publisher returns by itself and says online."""
    house_broker.start()
    async with publishing(publisher_to(house_wire.port)) as publisher, listening(house_broker.port) as ear:
        await until(lambda: publisher.state is Link.CONNECTED)
        await until(lambda: ear.on("status") == ["online"])
        house_wire.cut()
        await until(lambda: publisher.state is not Link.CONNECTED)
        assert "connection lost" in str(publisher.error)
        await until(lambda: ear.on("status") == ["online", "offline", "online"])

        await until(lambda: publisher.error is None)
        assert publisher.counts["connects"] == 2


async def test_a_killed_broker_costs_no_event_and_no_wait(house_broker: Any) -> None:
    """Through a kill and restart the newest state and all events arrive; publishing never waits."""
    house_broker.start()
    async with publishing(publisher_to(house_broker.port)) as publisher:
        await until(lambda: publisher.state is Link.CONNECTED)
        house_broker.kill()
        await until(lambda: publisher.state is Link.WAITING)
        begun = time.monotonic()
        for i in range(100):
            publisher.publish_values([value("front", 600.0 + i)], float(i))
            publisher.publish_alarm(ALARM, "worse", float(i))
        took_s = time.monotonic() - begun
        house_broker.start()
        back = time.monotonic()
        async with listening(house_broker.port) as ear:
            await until(lambda: ear.on("temperature/front") and len(ear.on("alarm")) == 100)

    assert time.monotonic() - back < 10.0
    assert took_s < 0.5
    assert [a["time"] for a in ear.on("alarm")] == [float(i) for i in range(100)]
    assert [t["celsius"] for t in ear.on("temperature/front")] == [699.0]
    assert publisher.counts == {**publisher.counts, "sent": 101, "replaced": 99, "dropped": 0}


async def test_the_newest_state_wins_under_load(house_broker: Any) -> None:
    """States that change faster than they can be sent arrive in order, with gaps, and end with the last."""
    house_broker.start()
    async with publishing(publisher_to(house_broker.port)) as publisher, listening(house_broker.port) as ear:
        await until(lambda: publisher.state is Link.CONNECTED)
        for i in range(2000):
            publisher.publish_values([value("front", float(i))], float(i))
            await asyncio.sleep(0)
        await until(lambda: [told["celsius"] for told in ear.on("temperature/front")[-1:]] == [1999.0])

    came = [t["celsius"] for t in ear.on("temperature/front")]
    assert came == sorted(set(came))
    assert publisher.counts["sent"] + publisher.counts["replaced"] >= 2000


async def test_an_unreachable_broker_is_said_and_holds_up_nothing(house_broker: Any) -> None:
    """Without a broker memory stays bounded, what falls out is counted, and the reason names place and remedy."""
    publisher = publisher_to(house_broker.port)
    assert (publisher.state, publisher.error) == (Link.IDLE, None)
    async with publishing(publisher):
        for i in range(EVENTS_LIMIT + 7):
            publisher.publish_alarm(ALARM, "began", float(i))
        await until(lambda: publisher.counts["failures"] >= 2)

        assert publisher.counts["dropped"] == 7
        assert publisher.error is not None
        assert publisher.error.startswith(f"broker 127.0.0.1:{house_broker.port} cannot be reached: ")
        assert publisher.error.endswith("; check host and port of [broker]")
        house_broker.start()
        await until(lambda: publisher.state is Link.CONNECTED)
        assert publisher.error is None
        await until(lambda: publisher.counts["sent"] == EVENTS_LIMIT)


async def test_a_broker_that_does_not_answer_is_said(house_wire: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """A port that takes the connection and stays mute ends each try after a limit, in both protocols."""
    monkeypatch.setattr("monitor.publish.mqtt.ANSWER_LIMIT_S", 0.2)
    house_wire.answer_first = lambda _: b""
    async with publishing(publisher_to(house_wire.port)) as publisher:
        await until(lambda: len(house_wire.seen) == 3)

        assert [packet[8] for packet in house_wire.seen] == [5, 4, 5]
        assert publisher.error is not None
        assert "connection refused: " in publisher.error


async def test_a_wrong_password_is_said_in_plain_words(house_broker: Any) -> None:
    """A refusal of the person names user and key, and is not taken for an old protocol."""
    house_broker.admit_only("kiln", "right")
    house_broker.start()
    async with publishing(publisher_to(house_broker.port, user="kiln", password="wrong")) as refused:
        await until(lambda: refused.counts["failures"] >= 2)
        assert refused.error is not None
        assert "user 'kiln' is refused" in refused.error
        assert "check user and password_file of [broker]" in refused.error
        assert refused.counts["connects"] == 0
    async with publishing(publisher_to(house_broker.port, user="kiln", password="right")) as admitted:
        await until(lambda: admitted.state is Link.CONNECTED)


CONNACK_OLD_VERSION = bytes([0x20, 2, 0, 1])  # MQTT 3.1.1 section 3.2.2.3: unacceptable protocol version


async def test_a_broker_of_3_1_1_serves_as_well(house_broker: Any, house_wire: Any) -> None:
    """Refused in MQTT 5, the publisher comes back in 3.1.1 at once, without expiry; after a loss it tries 5 again."""
    house_wire.answer_first = lambda packet: CONNACK_OLD_VERSION if packet[8] == 5 else None
    house_broker.start()
    async with publishing(publisher_to(house_wire.port)) as publisher, listening(house_broker.port) as ear:
        begun = time.monotonic()
        await until(lambda: publisher.state is Link.CONNECTED)
        came_s = time.monotonic() - begun
        publisher.publish_values([value("front", 600.0)], 10.0)
        await until(lambda: ear.on("temperature/front"))
        house_wire.cut()
        await until(lambda: publisher.counts["connects"] == 2)

    assert came_s < 1.0
    assert [packet[8] for packet in house_wire.seen] == [5, 4, 5, 4]
    assert getattr(ear.heard[-1].properties, "MessageExpiryInterval", None) is None


async def test_two_clients_of_one_name_are_told_apart(house_broker: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two services with the same kiln id throw each other out: the error says what may be the matter."""
    monkeypatch.setattr("monitor.publish.mqtt.LONGEST_PAUSE_S", 0.1)
    house_broker.start()
    one, other = publisher_to(house_broker.port), publisher_to(house_broker.port)
    said: list[str] = []

    def told() -> bool:
        said.extend(p.error for p in (one, other) if p.error)
        return any("another client uses the same name 'nightstoke-k-host'" in s for s in said)

    async with publishing(one), publishing(other):
        await until(told, 20.0)

    assert one.counts["connects"] + other.counts["connects"] >= 4


def certificates(folder: Path) -> None:
    """Write a root and a certificate for 127.0.0.1 made by it."""
    now = dt.datetime.now(dt.UTC)
    keys = {name: ec.generate_private_key(ec.SECP256R1()) for name in ("root", "server")}
    root = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Test root")])
    for name, key in keys.items():
        builder = (
            x509.CertificateBuilder()
            .issuer_name(root)
            .subject_name(root if name == "root" else x509.Name([]))
            .public_key(key.public_key())
            .serial_number(x509.random_serial_number())
            .not_valid_before(now - dt.timedelta(days=1))
            .not_valid_after(now + dt.timedelta(days=1))
            .add_extension(x509.BasicConstraints(ca=name == "root", path_length=None), critical=True)
        )
        if name == "server":
            address = x509.IPAddress(ipaddress.ip_address("127.0.0.1"))
            builder = builder.add_extension(x509.SubjectAlternativeName([address]), critical=True)
        signed = builder.sign(keys["root"], hashes.SHA256())
        (folder / f"{name}.pem").write_bytes(signed.public_bytes(serialization.Encoding.PEM))
        private = key.private_bytes(
            serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
        )
        (folder / f"{name}.key").write_bytes(private)


async def test_a_broker_with_tls_is_checked_against_its_root(house_broker: Any) -> None:
    """With `ca_file` the connection is TLS; a root that is not there, or a stranger's, is said and not passed over."""
    folder = house_broker.folder
    certificates(folder)
    house_broker.lines.append(f"cafile {folder}/root.pem\ncertfile {folder}/server.pem\nkeyfile {folder}/server.key")
    house_broker.start()
    async with publishing(publisher_to(house_broker.port, ca_file=f"{folder}/root.pem")) as trusting:
        await until(lambda: trusting.state is Link.CONNECTED)
    certificates(folder)
    for file, said in (("root.pem", "certificate verify failed"), ("none.pem", "No such file")):
        async with publishing(publisher_to(house_broker.port, ca_file=f"{folder}/{file}")) as doubting:
            await failed(doubting)
            assert said in str(doubting.error)
            assert f"check ca_file '{folder}/{file}' of [broker]" in str(doubting.error)
            assert doubting.counts["connects"] == 0


async def test_a_stop_in_the_midst_of_publishing_is_never_lost(house_broker: Any) -> None:
    """Told to end between one message and its confirmation, the publisher ends, whenever that is."""
    house_broker.start()
    for turn in range(25):
        publisher = publisher_to(house_broker.port)
        running = asyncio.create_task(publisher.run())
        await until(lambda publisher=publisher: publisher.state is Link.CONNECTED)
        publisher.publish_values([value(f"s{number}", 900.0 + turn) for number in range(40)], 5.0)
        await until(lambda publisher=publisher, least=turn + 1: publisher.counts["sent"] >= least)
        running.cancel()
        done, _ = await asyncio.wait({running}, timeout=3.0)

        assert done, f"turn {turn}: still running"
        assert running.cancelled()
