"""The live link to panels: one stream of numbered messages, resumed where a panel left off.

Each message is encoded once. A panel that comes back with the epoch and number it saw last gets what it missed from a
bounded ring, else a snapshot. A panel that cannot keep up loses its backlog and gets a fresh snapshot: newest state
wins, memory stays bounded, and nobody else waits.
"""

import asyncio
import secrets
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field

import msgspec
from starlette.websockets import WebSocket, WebSocketDisconnect

from monitor.publish.messages import Frame, Heartbeat, Hello, Report, Snapshot, decode_from_panel, encode

RING_MESSAGES = 900
QUEUE_MESSAGES = 8
SEND_LIMIT_S = 2.0
HEARTBEAT_S = 2.0
HELLO_LIMIT_S = 5.0
POLICY_VIOLATION = 1008
TRY_AGAIN_LATER = 1013


@dataclass(eq=False)
class Client:
    """One connected panel: what waits for it, and what it says it can do."""

    queue: deque[bytes] = field(default_factory=deque)
    wake: asyncio.Event = field(default_factory=asyncio.Event)
    needs_snapshot: bool = False
    report: Report | None = None

    def push(self, message: bytes) -> None:
        """Queue `message`; on overflow drop the backlog and ask for a snapshot in its place."""
        if self.needs_snapshot:
            return
        if len(self.queue) >= QUEUE_MESSAGES:
            self.queue.clear()
            self.needs_snapshot = True
        else:
            self.queue.append(message)
        self.wake.set()


class Hub:
    """All connected panels and the recent past they may resume from.

    `snapshot` returns the present for a given epoch and number; `engine_count` and `clock` feed the heartbeat.
    """

    def __init__(
        self,
        snapshot: Callable[[str, int], Snapshot],
        engine_count: Callable[[], int],
        clock: Callable[[], float],
    ) -> None:
        self.epoch = secrets.token_hex(8)
        self.seq = 0
        self.frames_sent = 0
        self.backlogs_dropped = 0
        self.malformed = 0
        self.clients: set[Client] = set()
        self._snapshot = snapshot
        self._engine_count = engine_count
        self._clock = clock
        self._ring: deque[tuple[int, bytes]] = deque(maxlen=RING_MESSAGES)

    @property
    def panels_with_sound(self) -> int:
        """How many connected panels report a moving audio clock."""
        return sum(1 for c in self.clients if c.report is not None and c.report.sound == "running")

    @property
    def lowest_battery(self) -> float | None:
        """The lowest battery (0 to 1) of the connected panels that tell theirs, None where none does."""
        told = [c.report.battery for c in self.clients if c.report is not None and c.report.battery is not None]
        return min(told, default=None)

    def publish(self, frame: Frame) -> None:
        """Number `frame`, keep it for resumes and queue it for every panel."""
        self.seq += 1
        message = encode(msgspec.structs.replace(frame, epoch=self.epoch, seq=self.seq))
        self._ring.append((self.seq, message))
        for client in self.clients:
            client.push(message)

    def present(self) -> Snapshot:
        """Return the snapshot that stands for everything published so far."""
        return self._snapshot(self.epoch, self.seq)

    def missed(self, hello: Hello) -> list[bytes] | None:
        """Return what a panel that says `hello` missed, or None where only a snapshot can tell."""
        if hello.epoch != self.epoch or hello.seq is None or not 0 <= hello.seq <= self.seq:
            return None
        behind = self.seq - hello.seq
        if behind > len(self._ring):
            return None
        return [message for number, message in self._ring if number > hello.seq]

    async def beat(self) -> None:
        """Send a sign of life to every panel every `HEARTBEAT_S`, for ever."""
        while True:
            await asyncio.sleep(HEARTBEAT_S)
            message = encode(Heartbeat(self.epoch, self.seq, self._clock(), self._engine_count()))
            for client in self.clients:
                client.push(message)

    async def serve(self, socket: WebSocket) -> None:
        """Serve one panel until it leaves or falls silent."""
        await socket.accept()
        client = Client()
        try:
            async with asyncio.timeout(HELLO_LIMIT_S):
                hello = await socket.receive_text()
            first = decode_from_panel(hello)
            if not isinstance(first, Hello):
                raise msgspec.ValidationError("the first message of a panel is hello")
            await self._greet(client, socket, first)
            await self._converse(client, socket)
        except (msgspec.MsgspecError, TimeoutError):
            self.malformed += 1
            with suppress(RuntimeError):
                await socket.close(POLICY_VIOLATION, "first say hello; see /openapi.json and the documentation")
        except WebSocketDisconnect:
            pass
        finally:
            self.clients.discard(client)

    async def _greet(self, client: Client, socket: WebSocket, hello: Hello) -> None:
        # Nothing may be published between looking back and joining, so no await stands between the two.
        missed = self.missed(hello)
        messages = [encode(self.present())] if missed is None else missed
        self.clients.add(client)
        for message in messages:
            await self._send(socket, message)

    async def _converse(self, client: Client, socket: WebSocket) -> None:
        async with asyncio.TaskGroup() as group:
            sender = group.create_task(self._send_loop(client, socket), name="panel-send")
            try:
                while True:
                    message = decode_from_panel(await socket.receive_text())
                    if isinstance(message, Report):
                        client.report = message
            except (WebSocketDisconnect, msgspec.MsgspecError, RuntimeError) as error:
                self.malformed += isinstance(error, msgspec.MsgspecError)
                sender.cancel()
        with suppress(RuntimeError):
            await socket.close()

    async def _send_loop(self, client: Client, socket: WebSocket) -> None:
        try:
            while True:
                await client.wake.wait()
                for message in self._take(client):
                    await self._send(socket, message)
        except (WebSocketDisconnect, RuntimeError, TimeoutError):
            with suppress(RuntimeError):
                await socket.close(TRY_AGAIN_LATER, "too slow")

    def _take(self, client: Client) -> list[bytes]:
        client.wake.clear()
        if client.needs_snapshot:
            self.backlogs_dropped += 1
            client.needs_snapshot = False
            client.queue.clear()
            return [encode(self.present())]
        messages = list(client.queue)
        client.queue.clear()
        return messages

    async def _send(self, socket: WebSocket, message: bytes) -> None:
        async with asyncio.timeout(SEND_LIMIT_S):
            await socket.send_text(message.decode())
        self.frames_sent += 1
