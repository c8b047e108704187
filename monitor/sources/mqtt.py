"""Nodes behind an MQTT broker (3.1.1, which clustered brokers speak too): packs in, heartbeats out.

One client object a connection, subscribed anew each time, with a loop around it. The session is kept by the broker, so
that packs sent while this service restarts are queued there. A retained pack is somebody's last word of unknown age
and never fresh: counted, not delivered. A pack on another node's topic is not that node's: counted, not delivered.
"""

import asyncio
import contextlib
import ssl
from collections.abc import AsyncIterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import aiomqtt

from monitor.cancelling import heed_cancellation
from monitor.sources.source import Backoff, Deliver, SourceState
from monitor.wire.line import alive_line, rest_line
from monitor.wire.pack import node_of
from monitor.wire.topics import alive_topic, scan_filter, scanning_node

KEEPALIVE_S: Final = 10
ANSWER_S: Final = 3.0
"""Longest wait for an answer of the broker, seconds."""

REST_S: Final = 1.0
"""Longest wait for the last words to leave at an orderly stop, seconds."""

_REFUSED_USER: Final = frozenset({4, 5, 134, 135})
"""Reason codes of a refused user or password: MQTT 3.1.1 section 3.2.2.3, MQTT 5 section 3.2.2.2."""

_REFUSED_FROM: Final = 128
"""Granted QoS of a refused subscription and above: MQTT 3.1.1 section 3.9.3."""


@dataclass(frozen=True, slots=True)
class BrokerLink:
    """How to reach a broker; `ca_file` set means TLS, checked against that authority and the host's name."""

    host: str
    port: int = 1883
    user: str | None = None
    password: str | None = None
    ca_file: str | None = None


class MqttSource:
    """All nodes of one kiln behind one broker."""

    def __init__(self, broker: BrokerLink, kiln: str, *, client_id: str | None = None, name: str = "mqtt") -> None:
        """Subscribe at `broker` to the packs of `kiln`; the client id must be this service's alone."""
        self.state = SourceState(name, "mqtt")
        self._broker = broker
        self._kiln = kiln
        self._client_id = client_id or f"nightstoke-{kiln}"
        self._client: aiomqtt.Client | None = None
        self._alive: dict[str, bytes] = {}
        self._has_alive = asyncio.Event()
        self._told: set[str] = set()

    async def run(self, deliver: Deliver) -> None:
        """Deliver the payload of each fresh message until cancelled."""
        backoff = Backoff()
        while True:
            heed_cancellation()
            # In a task of its own: a failed TaskGroup leaves its task marked as cancelled in Python 3.11.
            up_for_s = await asyncio.create_task(self._session(deliver), name="broker session")
            await asyncio.sleep(backoff.pause_s(up_for_s))

    async def _session(self, deliver: Deliver) -> float:
        """Connect once and deliver while it lasts; return for how long that was, seconds."""
        now = asyncio.get_running_loop().time
        up_since = float("inf")
        try:
            async with self._connected() as client:
                up_since = now()
                heed_cancellation()
                await self._exchange(client, deliver)
        except* (aiomqtt.MqttError, _SetupError) as errors:
            self.state.fall(self._explain(_first(errors)))
        return now() - up_since

    def send_alive(self, node: str | None, boot: str | None, seq: int) -> None:
        """Publish the newest heartbeat for `node` as soon as the broker is there."""
        if node is not None:
            self._alive[node] = alive_line(boot, seq).rstrip()
            self._told.add(node)
            self._has_alive.set()

    async def send_rest(self) -> None:
        """Publish the word of an orderly stop to every node that was sent a heartbeat, for up to `REST_S`."""
        client = self._client
        if client is None:
            return
        with contextlib.suppress(aiomqtt.MqttError, TimeoutError):
            async with asyncio.timeout(REST_S):
                for node in sorted(self._told):
                    await client.publish(alive_topic(self._kiln, node), rest_line().rstrip(), qos=1)

    @contextlib.asynccontextmanager
    async def _connected(self) -> AsyncIterator[aiomqtt.Client]:
        """Connect and subscribe; the source counts as connected within."""
        broker = self._broker
        client = aiomqtt.Client(
            broker.host,
            broker.port,
            username=broker.user,
            password=broker.password,
            identifier=self._client_id,
            protocol=aiomqtt.ProtocolVersion.V311,
            clean_session=False,
            keepalive=KEEPALIVE_S,
            timeout=ANSWER_S,
            tls_context=self._tls(),
        )
        async with client:
            granted = await client.subscribe(scan_filter(self._kiln), qos=1)
            if any(_code(code) >= _REFUSED_FROM for code in granted):
                raise _SetupError(
                    f"refuses to let user {broker.user!r} read {scan_filter(self._kiln)}: allow it in the broker's "
                    "access list"
                )
            self._client = client
            self.state.rise()
            try:
                yield client
            finally:
                self._client = None

    def _tls(self) -> ssl.SSLContext | None:
        ca_file = self._broker.ca_file
        if ca_file is None:
            return None
        try:
            return ssl.create_default_context(cafile=ca_file)
        except (OSError, ssl.SSLError) as error:
            raise _SetupError(
                f"needs the authority's certificate in {Path(ca_file)}, which is not readable as one: {error}; "
                "correct ca_file under [broker] in kiln.toml"
            ) from error

    async def _exchange(self, client: aiomqtt.Client, deliver: Deliver) -> None:
        async with asyncio.TaskGroup() as both:
            both.create_task(self._publish_alive(client))
            async for message in client.messages:
                self._take(message, deliver)

    async def _publish_alive(self, client: aiomqtt.Client) -> None:
        while True:
            await self._has_alive.wait()
            self._has_alive.clear()
            alive, self._alive = self._alive, {}
            for node, payload in alive.items():
                await client.publish(alive_topic(self._kiln, node), payload)
                heed_cancellation()

    def _take(self, message: aiomqtt.Message, deliver: Deliver) -> None:
        node = scanning_node(message.topic.value, self._kiln)
        payload = message.payload
        assert isinstance(payload, bytes)  # the broker's messages are bytes
        if message.retain:
            self.state.counts["retained"] += 1
        elif node is None or node_of(payload) not in (None, node):
            self.state.counts["wrong_topic"] += 1
        else:
            self.state.counts["packs"] += 1
            self.state.counts["bytes"] += len(payload)
            deliver(payload, self.state.name)

    def _explain(self, error: BaseException) -> str:
        broker = self._broker
        where = f"broker {broker.host}:{broker.port}"
        if isinstance(error, _SetupError):
            return f"{where} {error}"
        code = _code(error.rc) if isinstance(error, aiomqtt.MqttCodeError) else None
        if code in _REFUSED_USER:
            return f"{where} refuses user {broker.user!r}: correct user and password_file under [broker] in kiln.toml"
        if "CERTIFICATE_VERIFY_FAILED" in str(error):  # aiomqtt passes on the words only
            return (
                f"{where} shows a certificate that {broker.ca_file} does not vouch for: "
                "correct host or ca_file under [broker] in kiln.toml"
            )
        return (
            f"{where} is not reachable ({error}): start it, or correct host and port under [broker] in kiln.toml; "
            "this service then goes on by itself"
        )


class _SetupError(Exception):
    """What the broker or its settings lack, worded to follow the broker's name."""


def _first(errors: BaseExceptionGroup[BaseException]) -> BaseException:
    error = errors.exceptions[0]
    return _first(error) if isinstance(error, BaseExceptionGroup) else error


def _code(code: object) -> int:
    """Return a reason code as a number; paho gives numbers or objects that hold one."""
    return code if isinstance(code, int) else int(getattr(code, "value", -1))
