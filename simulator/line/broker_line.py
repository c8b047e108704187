"""A node's end of an MQTT connection: packs go out at QoS 1, the host's heartbeat comes in.

MQTT 3.1.1, the session kept by the broker, the client id the node's own. While the broker is away nothing is handed
over: the node's memory sends it again. A silenced node leaves its connection standing and answers nobody, as one whose
radio is out of reach. One thread of its own has the client to itself: the client's own thread cannot be halted and go
on, and two threads must not write.
"""

import threading
import time
from collections import deque
from collections.abc import Callable
from typing import Any

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.reasoncodes import ReasonCode

from monitor.wire.topics import alive_topic, scan_topic, status_topic
from simulator.line.broker_address import BrokerAddress
from simulator.line.faulty_line import Turn
from simulator.script.line_faults import LineFault

KEEPALIVE_S = 10
FIRST_RETRY_S, LAST_RETRY_S = 0.5, 4.0
CONNECT_S = 3.0
TWIN_RETRY_S = 2
"""How soon a twin that was put out comes again, seconds."""
MOST_UNACKNOWLEDGED = 200
"""Packs that the broker has not acknowledged; then it is waited for."""
TURN_S = 0.1
"""Longest wait between two looks at whether to stop, seconds."""
LOOK_S = 0.02
"""Longest wait for the network between two looks at what there is to send, seconds."""


class BrokerLine:
    """A connection of the node `node` of `kiln`; `report` is told in words when it is lost, refused or back."""

    def __init__(
        self,
        address: BrokerAddress,
        *,
        kiln: str,
        node: str,
        should_stop: Callable[[], bool],
        report: Callable[[str], None],
    ) -> None:
        self._address = address
        self._client_id = f"nightstoke-{kiln}-{node}"
        self._alive_topic = alive_topic(kiln, node)
        self._status_topic = status_topic(kiln)
        self._scan_topic = scan_topic(kiln, node)
        self._should_stop = should_stop
        self._report = report
        self._told = ""
        self._news = threading.Condition()
        self._spoken: list[bytes] = []
        self._to_send: deque[tuple[bytes, bool]] = deque()
        self._unacknowledged = 0
        self._is_host_online = False
        self._is_silent = False
        self._is_closing = False
        self._retains = False
        self._twin: Client | None = None
        self.is_ready = False
        """Whether the broker has taken the connection and the subscription."""
        self._client = self._new_client()
        self._client.on_connect = self._on_connect
        self._client.on_disconnect = self._on_disconnect
        self._client.on_subscribe = self._on_subscribe
        self._client.on_message = self._on_message
        self._client.on_publish = self._on_publish
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def wait_until_ready(self) -> bool:
        """Wait for the broker; return False if told to stop before."""
        return self._wait(lambda: self.is_ready)

    def wait_for_host(self) -> bool:
        """Listen until the host is there; return False if told to stop before.

        It speaks to nodes that it has heard of; to others its status says that it listens.
        """
        return self._wait(lambda: self._is_host_online or bool(self._spoken))

    def wait_until(self, due: float) -> bool:
        """Wait until the monotonic clock says `due`; return False if told to stop before."""
        while (left := due - time.monotonic()) > 0.0:
            if self._should_stop():
                return False
            time.sleep(min(left, TURN_S))
        return not self._should_stop()

    def send_pack(self, payload: bytes) -> bool:
        """Publish `payload`, or let it go while the broker is away; return False if told to stop."""
        if not self._wait(lambda: self._unacknowledged < MOST_UNACKNOWLEDGED or not self.is_ready):
            return False
        if self.is_ready and not self._is_silent:
            with self._news:
                self._unacknowledged += 1
            self._to_send.append((payload, self._retains))
        return True

    def send_noise(self, noise: bytes) -> bool:
        """Publish bytes as they are: a message needs no form."""
        return self.send_pack(noise)

    def words(self) -> list[bytes]:
        """Return what the host said since the last call."""
        with self._news:
            spoken, self._spoken = self._spoken, []
        return spoken

    def turn(self, turn: Turn) -> None:
        """Fall silent or speak again, let a twin come or go, mark packs to be retained or no more."""
        if turn.fault in (LineFault.OUTAGE, LineFault.REPLUG):
            self._is_silent = turn.is_on
        elif turn.fault is LineFault.TWIN:
            self._turn_twin(is_on=turn.is_on)
        elif turn.fault is LineFault.RETAINS:
            self._retains = turn.is_on

    def close(self, patience_s: float) -> int:
        """Wait up to `patience_s` for the broker to acknowledge all, close; return how many packs it did not."""
        self._turn_twin(is_on=False)
        self._is_silent = False
        with self._news:
            self._news.wait_for(lambda: self._unacknowledged <= 0, patience_s)
            self._is_closing = True
            self._news.notify_all()
        self._thread.join()
        return max(self._unacknowledged, 0)

    def _serve(self) -> None:
        """Connect, send and listen until told to close."""
        retry_s = FIRST_RETRY_S
        self._connect()
        while not self._is_closing:
            if self._is_silent:
                time.sleep(LOOK_S)
                continue
            while self._to_send:
                payload, retain = self._to_send.popleft()
                self._client.publish(self._scan_topic, payload, qos=1, retain=retain)
            if self._client.loop(LOOK_S) is not MQTTErrorCode.MQTT_ERR_SUCCESS:
                self._pause(retry_s)
                retry_s = min(2.0 * retry_s, LAST_RETRY_S)
                self._connect()
            elif self.is_ready:
                retry_s = FIRST_RETRY_S
        self._client.disconnect()

    def _connect(self) -> None:
        try:
            self._client.reconnect()
        except OSError:
            vouched = ", or nobody that we trust vouches for it" if self._address.is_tls else ""
            self._tell(f"is not reachable{vouched}; trying again")

    def _pause(self, seconds: float) -> None:
        with self._news:
            self._news.wait_for(lambda: self._is_closing, seconds)

    def _new_client(self) -> Client:
        """Return a client of this node, not connected yet."""
        address = self._address
        client = Client(
            CallbackAPIVersion.VERSION2,
            client_id=self._client_id,
            clean_session=False,
            protocol=MQTTProtocolVersion.MQTTv311,
        )
        if address.user is not None:
            client.username_pw_set(address.user, address.password)
        if address.is_tls:
            client.tls_set(ca_certs=address.ca_file)
        client.connect_timeout = CONNECT_S
        client.connect_async(address.host, address.port, keepalive=KEEPALIVE_S)
        return client

    def _turn_twin(self, *, is_on: bool) -> None:
        if is_on and self._twin is None:
            self._twin = self._new_client()
            self._twin.reconnect_delay_set(TWIN_RETRY_S, TWIN_RETRY_S)
            self._twin.loop_start()
        elif not is_on and self._twin is not None:
            self._twin.disconnect()
            self._twin.loop_stop()
            self._twin = None

    def _wait(self, is_so: Callable[[], bool]) -> bool:
        """Wait until something is so; return False if told to stop before."""
        with self._news:
            while not self._news.wait_for(is_so, TURN_S):
                if self._should_stop():
                    return False
        return not self._should_stop()

    def _tell(self, words: str) -> None:
        """Report `words` where they are news."""
        if words != self._told:
            self._told = words
            self._report(f"broker {self._address} {words}")

    def _change(self, *, is_ready: bool) -> None:
        with self._news:
            self.is_ready = is_ready
            self._news.notify_all()

    def _on_connect(self, client: Client, _userdata: object, _flags: object, reason: ReasonCode, _more: object) -> None:
        if reason.is_failure:
            self._tell(f"refuses the connection: {reason}; check user and password in the URL")
        else:
            client.subscribe([(self._alive_topic, 1), (self._status_topic, 1)])

    def _on_disconnect(self, _client: Client, _userdata: object, _flags: object, reason: ReasonCode, _: object) -> None:
        was_ready = self.is_ready
        self._change(is_ready=False)
        if was_ready and reason.is_failure:
            self._tell(f"is gone ({reason}); trying again")

    def _on_subscribe(self, _client: Client, _userdata: object, _mid: int, reasons: list[Any], _more: object) -> None:
        if reasons[0].is_failure:
            self._tell(f"refuses to let {self._alive_topic} be read: allow it in the broker's access list")
        else:
            self._tell("is connected")
        self._change(is_ready=True)

    def _on_message(self, _client: Client, _userdata: object, message: MQTTMessage) -> None:
        with self._news:
            if message.topic == self._status_topic:
                self._is_host_online = message.payload == b"online"
            else:
                self._spoken.append(bytes(message.payload))
            self._news.notify_all()

    def _on_publish(self, *_: object) -> None:
        with self._news:
            self._unacknowledged -= 1
            self._news.notify_all()
