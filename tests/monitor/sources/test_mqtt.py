"""The MQTT source against a real broker that the tests start."""

import asyncio
import contextlib
import signal
import subprocess
from collections.abc import AsyncIterator, Callable
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from pathlib import Path

import aiomqtt
import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from monitor.sources.mqtt import BrokerLink, MqttSource
from tests.peers import Mosquitto, free_port

KILN = "demo-kiln"
PACK = b'[{"bn":"shed-1/","bt":1764000000.25,"n":"t1/emf","u":"V","v":0.0332751}]'
SCAN = f"nightstoke/{KILN}/shed-1/scan"
ALIVE = f"nightstoke/{KILN}/shed-1/alive"
Start = Callable[..., Mosquitto]


class Running:
    """A source at work, and what it delivered."""

    def __init__(self, source: MqttSource) -> None:
        self.source = source
        self.got: list[tuple[bytes, str]] = []

    def deliver(self, payload: bytes, name: str) -> None:
        """Keep a payload."""
        self.got.append((payload, name))

    async def until(self, is_true: Callable[[], bool], limit_s: float = 10.0) -> None:
        """Wait until something is so."""
        async with asyncio.timeout(limit_s):
            while not is_true():
                await asyncio.sleep(0.005)

    async def until_connected(self) -> None:
        """Wait until the broker took the subscription."""
        await self.until(lambda: self.source.state.connected)

    async def until_error(self, part: str) -> str:
        """Wait until the source says `part`, and return all it says."""
        await self.until(lambda: part in (self.source.state.error or ""))
        return self.source.state.error or ""


@contextlib.asynccontextmanager
async def running(link: BrokerLink) -> AsyncIterator[Running]:
    """Run a source beside the test."""
    watched = Running(MqttSource(link, KILN))
    task = asyncio.create_task(watched.source.run(watched.deliver))
    try:
        yield watched
    finally:
        task.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await task


def node(broker: Mosquitto, **settings: object) -> aiomqtt.Client:
    """Return the node's client."""
    return aiomqtt.Client("127.0.0.1", broker.port, identifier="shed-1", **settings)  # type: ignore[arg-type]


async def test_packs_are_delivered_with_the_sources_name(mosquitto: Start) -> None:
    """What a node publishes under its name arrives, byte for byte, broken content too: judging is not done here."""
    broker = mosquitto()
    async with running(BrokerLink("127.0.0.1", broker.port)) as watched, node(broker) as client:
        await watched.until_connected()
        await client.publish(SCAN, PACK, qos=1)
        await client.publish(SCAN, b"hello", qos=1)
        await watched.until(lambda: len(watched.got) == 2)

    assert watched.got == [(PACK, "mqtt"), (b"hello", "mqtt")]
    assert watched.source.state.counts == {"connections": 1, "packs": 2, "bytes": len(PACK) + 5}


async def test_retained_pack_is_never_fresh(mosquitto: Start) -> None:
    """F44: yesterday's word of a node is counted and not delivered; a live one that asks to be retained is live."""
    broker = mosquitto()
    async with node(broker) as client:
        await client.publish(SCAN, PACK, qos=1, retain=True)
        async with running(BrokerLink("127.0.0.1", broker.port)) as watched:
            await watched.until(lambda: watched.source.state.counts["retained"] == 1)
            assert watched.got == []
            await client.publish(SCAN, PACK, qos=1, retain=True)
            await watched.until(lambda: len(watched.got) == 1)


async def test_pack_on_another_nodes_topic_is_not_taken(mosquitto: Start) -> None:
    """A node speaks for itself only; the host's own name is nobody's."""
    broker = mosquitto()
    async with running(BrokerLink("127.0.0.1", broker.port)) as watched, node(broker) as client:
        await watched.until_connected()
        await client.publish(f"nightstoke/{KILN}/shed-2/scan", PACK, qos=1)
        await client.publish(f"nightstoke/{KILN}/host/scan", PACK, qos=1)
        await client.publish(SCAN, PACK, qos=1)
        await watched.until(lambda: len(watched.got) == 1)

    assert watched.source.state.counts["wrong_topic"] == 2


async def test_heartbeat_and_rest_reach_the_node(mosquitto: Start) -> None:
    """The node reads on its topic what a serial node reads on its line; nothing is said to nobody."""
    broker = mosquitto()
    async with running(BrokerLink("127.0.0.1", broker.port)) as watched, node(broker) as client:
        await watched.until_connected()
        await client.subscribe(ALIVE, qos=1)
        words = client.messages
        watched.source.send_alive(None, None, 0)
        watched.source.send_alive("shed-1", "9f3ac2d1", 18231)
        first = await anext(words)
        await watched.source.send_rest()
        second = await anext(words)

    assert (first.payload, second.payload) == (b"alive 9f3ac2d1 18231", b"rest")
    assert not first.retain
    assert not second.retain


async def test_heartbeat_waits_for_the_broker_as_its_newest_word(mosquitto: Start) -> None:
    """While the broker is away only the newest heartbeat is kept; a rest then is no fault."""
    broker = mosquitto()
    broker.stop()
    async with running(BrokerLink("127.0.0.1", broker.port)) as watched:
        await watched.until_error("not reachable")
        await watched.source.send_rest()
        for seq in range(3):
            watched.source.send_alive("shed-1", "a", seq)
        broker.start()
        async with node(broker) as client:
            await client.subscribe(ALIVE)
            await watched.until_connected()
            watched.source.send_alive("shed-1", "a", 3)
            words = [(await anext(client.messages)).payload]
            if words == [b"alive a 2"]:
                words.append((await anext(client.messages)).payload)

    assert words[-1] == b"alive a 3"


async def test_killed_broker_is_found_again(mosquitto: Start) -> None:
    """F41: killed and started again, the broker is joined again within 10 s of its return."""
    broker = mosquitto()
    async with running(BrokerLink("127.0.0.1", broker.port)) as watched:
        await watched.until_connected()
        await asyncio.to_thread(broker.stop, signal.SIGKILL)
        error = await watched.until_error("is not reachable")
        assert f"broker 127.0.0.1:{broker.port}" in error
        assert "[broker] in kiln.toml" in error
        await asyncio.to_thread(broker.start)
        await watched.until_connected()
        async with node(broker) as client:
            await client.publish(SCAN, PACK, qos=1)
            await watched.until(lambda: len(watched.got) == 1)

    assert watched.source.state.counts["connections"] == 2


async def test_packs_sent_while_the_service_is_down_are_queued(mosquitto: Start) -> None:
    """The broker keeps the session, so a restart of the service loses no pack sent with QoS 1."""
    broker = mosquitto()
    link = BrokerLink("127.0.0.1", broker.port)
    async with running(link) as watched:
        await watched.until_connected()
    async with node(broker) as client:
        await client.publish(SCAN, PACK, qos=1)
    async with running(link) as watched:
        await watched.until(lambda: len(watched.got) == 1)

    assert watched.source.state.counts["retained"] == 0


def users(folder: Path) -> str:
    """Make a password file with the user `watch`, password `embers`."""
    file = folder / "users"
    file.touch(mode=0o600)
    subprocess.run(["mosquitto_passwd", "-b", str(file), "watch", "embers"], check=True, stderr=subprocess.DEVNULL)
    return str(file)


async def test_wrong_password_is_told_and_right_one_works(mosquitto: Start, tmp_path: Path) -> None:
    """F42: the text names the broker, the user and where to put it right."""
    broker = mosquitto(f"password_file {users(tmp_path)}")
    async with running(BrokerLink("127.0.0.1", broker.port, "watch", "ashes")) as watched:
        error = await watched.until_error("refuses user 'watch'")
    async with running(BrokerLink("127.0.0.1", broker.port, "watch", "embers")) as watched:
        await watched.until_connected()

    assert "correct user and password_file under [broker] in kiln.toml" in error


class RefusingSource(MqttSource):
    """A source whose subscription the broker refuses; Mosquitto 2.0 grants all and then sends nothing."""

    granted: tuple[int, ...] = (128,)

    @contextlib.asynccontextmanager
    async def _connected(self) -> AsyncIterator[aiomqtt.Client]:
        original = aiomqtt.Client.subscribe

        async def refused(client: aiomqtt.Client, *args: object, **kwargs: object) -> tuple[int, ...]:
            await original(client, *args, **kwargs)  # type: ignore[arg-type]
            return self.granted

        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(aiomqtt.Client, "subscribe", refused)
            async with super()._connected() as client:
                yield client


async def test_refused_subscription_names_the_topic(mosquitto: Start) -> None:
    """F42: a missing right to read is told with the topic that needs it."""
    broker = mosquitto()
    watched = Running(RefusingSource(BrokerLink("127.0.0.1", broker.port, "watch"), KILN))
    task = asyncio.create_task(watched.source.run(watched.deliver))
    error = await watched.until_error("refuses to let")
    task.cancel()
    with contextlib.suppress(asyncio.CancelledError):
        await task

    assert f"let user 'watch' read nightstoke/{KILN}/+/scan" in error


def certificates(folder: Path) -> list[str]:
    """Make an authority `ca.pem` and a server's certificate for the loopback; return the broker's settings."""
    now = datetime(2026, 1, 1, tzinfo=UTC)
    names = {who: x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, who)]) for who in ("ca", "server")}
    keys = {who: ec.generate_private_key(ec.SECP256R1()) for who in names}
    for who, extension in (
        ("ca", x509.BasicConstraints(ca=True, path_length=None)),
        ("server", x509.SubjectAlternativeName([x509.IPAddress(ip_address("127.0.0.1"))])),
    ):
        made = (
            x509.CertificateBuilder(issuer_name=names["ca"], subject_name=names[who], public_key=keys[who].public_key())
            .serial_number(x509.random_serial_number())
            .not_valid_before(now)
            .not_valid_after(now + timedelta(days=36500))
            .add_extension(extension, critical=who == "ca")
            .add_extension(x509.SubjectKeyIdentifier.from_public_key(keys[who].public_key()), critical=False)
            .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(keys["ca"].public_key()), critical=False)
            .sign(keys["ca"], hashes.SHA256())
        )
        (folder / f"{who}.pem").write_bytes(made.public_bytes(serialization.Encoding.PEM))
    key = keys["server"].private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    (folder / "server.key").write_bytes(key)
    return [f"cafile {folder}/ca.pem", f"certfile {folder}/server.pem", f"keyfile {folder}/server.key"]


async def test_encrypted_broker_is_joined_with_its_authority(mosquitto: Start, tmp_path: Path) -> None:
    """A broker that speaks nothing but TLS is joined with its authority's CA file."""
    broker = mosquitto(*certificates(tmp_path))
    async with running(BrokerLink("127.0.0.1", broker.port, ca_file=str(tmp_path / "ca.pem"))) as watched:
        await watched.until_connected()

    assert watched.source.state.counts["connections"] == 1


@pytest.mark.filterwarnings("ignore:Exception ignored in. <ssl.SSLSocket")  # paho leaves it to the garbage collector
async def test_broker_of_another_authority_is_refused(mosquitto: Start, tmp_path: Path) -> None:
    """A broker whose certificate the CA file does not vouch for is not spoken to."""
    broker = mosquitto(*certificates(tmp_path))
    other = tmp_path / "other"
    other.mkdir()
    certificates(other)
    async with running(BrokerLink("127.0.0.1", broker.port, "watch", "embers", str(other / "ca.pem"))) as watched:
        error = await watched.until_error("certificate")

    assert error == (
        f"broker 127.0.0.1:{broker.port} shows a certificate that {other}/ca.pem does not vouch for: "
        "correct host or ca_file under [broker] in kiln.toml"
    )


@pytest.mark.parametrize("content", [None, "no certificate"])
async def test_unreadable_authority_is_told(content: str | None, tmp_path: Path) -> None:
    """A CA file that is missing or none is named."""
    ca_file = tmp_path / "ca.pem"
    if content is not None:
        ca_file.write_text(content, "utf-8")
    async with running(BrokerLink("127.0.0.1", free_port(), ca_file=str(ca_file))) as watched:
        error = await watched.until_error("needs the authority's certificate")

    assert f"{ca_file}, which is not readable as one" in error
    assert "correct ca_file under [broker]" in error


async def test_fault_of_the_receiver_ends_the_task(mosquitto: Start) -> None:
    """A fault of ours is seen, not swallowed."""
    broker = mosquitto()

    def fail(payload: bytes, name: str) -> None:
        raise RuntimeError(f"cannot take {len(payload)} bytes from {name}")

    source = MqttSource(BrokerLink("127.0.0.1", broker.port), KILN)
    task = asyncio.create_task(source.run(fail))
    while not source.state.connected:
        await asyncio.sleep(0.005)
    async with node(broker) as client:
        await client.publish(SCAN, PACK, qos=1)

    with pytest.raises(ExceptionGroup) as caught:
        await task
    assert caught.group_contains(RuntimeError, match="cannot take")
