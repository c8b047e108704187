"""MQTT out: temperatures, alarms and findings for whatever the house has, when the site names a broker.

Nothing in the service waits for this: publishing only puts a message into bounded memory. Of a state (a temperature,
the list of alarms) only the newest waits; of what happened (a finding, a change of an alarm) the newest
`EVENTS_LIMIT`; what falls out is counted. One client object per connection, with a loop around it that reconnects
with growing pauses. MQTT 5 is tried first, for its message expiry, then 3.1.1, which does everything else. Each
message carries its time, since a retained one may be old. Topics: `monitor.wire.topics`.
"""

import asyncio
import contextlib
import logging
import random
import ssl
import time
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NoReturn

import aiomqtt
import msgspec
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from monitor.cancelling import heed_cancellation
from monitor.model import Finding
from monitor.publish.messages import AlarmLine, Value
from monitor.site_file import BrokerPart
from monitor.wire.topics import alarm_topic, finding_topic, state_topic, status_topic, temperature_topic

STATE_EXPIRY_S = 30
"""A retained state is forgotten after this long where the broker speaks MQTT 5: publish states more often."""
EVENTS_LIMIT = 1000
KEEPALIVE_S = 10
REACH_LIMIT_S = 3.0
ANSWER_LIMIT_S = 10.0
LAST_WORD_LIMIT_S = 1.0
FIRST_PAUSE_S = 0.5
LONGEST_PAUSE_S = 5.0
QUIET_SESSION_S = 10.0  # a connection that lasted this long was a good one: pauses begin anew
TWIN_CONNECTS = 4
TWIN_WINDOW_S = 60.0

_REFUSED_VERSION = 132  # reason codes of MQTT 5 section 2.4; the library translates those of 3.1.1
_REFUSED_PERSON = frozenset({134, 135})

_log = logging.getLogger(__name__)


class Link(StrEnum):
    """How things stand with the broker."""

    IDLE = "idle"
    CONNECTING = "connecting"
    CONNECTED = "connected"
    WAITING = "waiting"


@dataclass(frozen=True, slots=True)
class _Outgoing:
    topic: str
    payload: bytes
    is_state: bool


class MqttPublisher:
    """One way out to one broker; use it from the event loop's own thread."""

    def __init__(self, broker: BrokerPart, kiln_id: str, password: str | None = None) -> None:
        self._broker = broker
        self._kiln = kiln_id
        self._password = password
        self._name = f"nightstoke-{kiln_id}-host"
        self._protocol = aiomqtt.ProtocolVersion.V5
        self._states: dict[str, _Outgoing] = {}
        self._events: deque[_Outgoing] = deque()
        self._due = asyncio.Event()
        self._connects: deque[float] = deque(maxlen=TWIN_CONNECTS)
        self._link = Link.IDLE
        self._error: str | None = None
        self._counts = dict.fromkeys(("sent", "replaced", "dropped", "connects", "failures"), 0)

    @property
    def state(self) -> Link:
        """How things stand with the broker now."""
        return self._link

    @property
    def error(self) -> str | None:
        """Why nothing is published, and what to do; None while connected or before the first try."""
        return self._error

    @property
    def counts(self) -> dict[str, int]:
        """Messages sent, states replaced by newer ones unsent, events dropped; connections made and failed."""
        return dict(self._counts)

    def publish_values(self, values: Sequence[Value], now: float) -> None:
        """Publish the newest word of each sensor as its retained state at `now` (epoch seconds)."""
        for value in values:
            self._put_state(temperature_topic(self._kiln, value.sensor), {"time": now, **msgspec.to_builtins(value)})

    def publish_state(self, alarms: Sequence[AlarmLine], now: float) -> None:
        """Publish all present alarms as the kiln's retained state at `now` (epoch seconds)."""
        self._put_state(state_topic(self._kiln), {"time": now, "alarms": msgspec.to_builtins(alarms)})

    def publish_finding(self, finding: Finding) -> None:
        """Publish a finding once; its time is its own."""
        self._put_event(finding_topic(self._kiln), finding)

    def publish_alarm(self, alarm: AlarmLine, change: str, now: float) -> None:
        """Publish once that `alarm` changed at `now` (epoch seconds); `change` is the journal's word for it."""
        self._put_event(alarm_topic(self._kiln), {"time": now, "change": change, **msgspec.to_builtins(alarm)})

    async def run(self) -> NoReturn:
        """Keep a connection and send what is due, until cancelled; then say `offline` and leave."""
        pause_s = FIRST_PAUSE_S
        while True:
            heed_cancellation()
            begun = time.monotonic()
            protocol = self._protocol
            # In a task of its own: a failed TaskGroup leaves its task marked as cancelled in Python 3.11.
            error = await asyncio.create_task(self._attempt(), name="broker session")
            self._fail(error)
            if protocol is not self._protocol is aiomqtt.ProtocolVersion.V311:
                continue  # the broker answered, only not to MQTT 5: no reason to wait
            if time.monotonic() - begun > QUIET_SESSION_S:
                pause_s = FIRST_PAUSE_S
            self._link = Link.WAITING
            await asyncio.sleep(pause_s * random.uniform(0.5, 1.0))  # noqa: S311 - spreads many kilns, hides nothing
            pause_s = min(2.0 * pause_s, LONGEST_PAUSE_S)

    async def _attempt(self) -> str:
        """Connect once and publish while it lasts; return why it ended."""
        self._link = Link.CONNECTING
        try:
            tls = self._tls()
            await self._reach(tls)
        except OSError as error:
            return self._unreachable(error)
        why = "the broker closed the connection"
        try:
            await self._session(tls)
        except* aiomqtt.MqttError as group:
            why = self._explain(group.exceptions[0])
        return f"broker {self._place}: {why}"

    def _tls(self) -> ssl.SSLContext | None:
        file = self._broker.ca_file
        return None if file is None else ssl.create_default_context(cafile=file)

    async def _reach(self, tls: ssl.SSLContext | None) -> None:
        """Open and drop a bare connection: it tells an unreachable broker from one that refuses.

        The library connects in a thread that cannot be cancelled; after this it does not have to wait there.
        """
        async with asyncio.timeout(REACH_LIMIT_S):
            _, writer = await asyncio.open_connection(self._broker.host, self._broker.port, ssl=tls)
        writer.transport.abort()

    async def _session(self, tls: ssl.SSLContext | None) -> None:
        async with self._client(tls) as client:
            self._welcome()
            try:
                await self._say(client, "online")
                heed_cancellation()
                async with asyncio.TaskGroup() as tasks:
                    tasks.create_task(self._send(client))
                    tasks.create_task(self._watch(client))
            except asyncio.CancelledError:
                client.timeout = LAST_WORD_LIMIT_S
                with contextlib.suppress(aiomqtt.MqttError):
                    await self._say(client, "offline")
                raise

    def _client(self, tls: ssl.SSLContext | None) -> aiomqtt.Client:
        return aiomqtt.Client(
            self._broker.host,
            self._broker.port,
            username=self._broker.user,
            password=self._password,
            identifier=self._name,
            protocol=self._protocol,
            will=aiomqtt.Will(status_topic(self._kiln), "offline", qos=1, retain=True),
            timeout=ANSWER_LIMIT_S,
            keepalive=KEEPALIVE_S,
            tls_context=tls,
        )

    async def _say(self, client: aiomqtt.Client, word: str) -> None:
        await client.publish(status_topic(self._kiln), word, qos=1, retain=True)

    async def _send(self, client: aiomqtt.Client) -> NoReturn:
        """Send what is due, events first; what was not confirmed stays due."""
        while True:
            message = self._events[0] if self._events else next(iter(self._states.values()), None)
            if message is None:
                self._due.clear()
                await self._due.wait()
                continue
            expiry = self._expiry() if message.is_state else None
            await client.publish(message.topic, message.payload, qos=1, retain=message.is_state, properties=expiry)
            self._counts["sent"] += 1
            heed_cancellation()
            if self._events and self._events[0] is message:
                self._events.popleft()
            elif self._states.get(message.topic) is message:
                del self._states[message.topic]

    async def _watch(self, client: aiomqtt.Client) -> None:
        """Notice a lost connection while nothing is sent; nothing is subscribed, so no message comes."""
        async for _ in client.messages:
            pass

    def _expiry(self) -> Properties | None:
        if self._protocol is not aiomqtt.ProtocolVersion.V5:
            return None
        properties = Properties(PacketTypes.PUBLISH)  # type: ignore[no-untyped-call]
        properties.MessageExpiryInterval = STATE_EXPIRY_S
        return properties

    def _put_state(self, topic: str, message: object) -> None:
        self._counts["replaced"] += topic in self._states
        self._states[topic] = _Outgoing(topic, msgspec.json.encode(message), is_state=True)
        self._due.set()

    def _put_event(self, topic: str, message: object) -> None:
        if len(self._events) >= EVENTS_LIMIT:
            self._events.popleft()
            self._counts["dropped"] += 1
        self._events.append(_Outgoing(topic, msgspec.json.encode(message), is_state=False))
        self._due.set()

    @property
    def _place(self) -> str:
        return f"{self._broker.host}:{self._broker.port}"

    def _welcome(self) -> None:
        self._link, self._error = Link.CONNECTED, None
        self._counts["connects"] += 1
        self._connects.append(time.monotonic())
        _log.info("connected to broker %s as %s", self._place, self._name)

    def _fail(self, error: str) -> None:
        if error != self._error:
            _log.warning("%s", error)
        self._error = error
        self._counts["failures"] += 1

    def _unreachable(self, error: OSError) -> str:
        if isinstance(error, ssl.SSLError | FileNotFoundError):
            remedy = f"check ca_file {self._broker.ca_file!r} of [broker]"
        else:
            remedy = "check host and port of [broker]"
        return f"broker {self._place} cannot be reached: {str(error) or 'no answer'}; {remedy}"

    def _explain(self, error: BaseException) -> str:
        """Return in plain words what `error` means, and choose the protocol of the next try."""
        was_connected = self._link is Link.CONNECTED
        code = error.rc.value if isinstance(error, aiomqtt.MqttCodeError) and isinstance(error.rc, ReasonCode) else None
        if was_connected:
            self._protocol = aiomqtt.ProtocolVersion.V5
            return f"connection lost: {error}" + self._twin_hint()
        if code in _REFUSED_PERSON:
            return f"user {self._broker.user!r} is refused ({error}); check user and password_file of [broker]"
        if code is None or code == _REFUSED_VERSION:
            newer = self._protocol is aiomqtt.ProtocolVersion.V5
            self._protocol = aiomqtt.ProtocolVersion.V311 if newer else aiomqtt.ProtocolVersion.V5
        return f"connection refused: {error}"

    def _twin_hint(self) -> str:
        full = len(self._connects) == TWIN_CONNECTS
        if not full or time.monotonic() - self._connects[0] > TWIN_WINDOW_S:
            return ""
        return f"; perhaps another client uses the same name {self._name!r}: give each kiln its own id"
