"""A small stand-in for the service: the panel's files, its WebSocket and its requests, driven by the test.

It speaks with the records of `monitor/publish/messages.py`, so a panel that reads it reads the real one.
"""

import asyncio
import json
import socket
import threading
from pathlib import Path
from typing import Any

import msgspec
import numpy as np
import uvicorn
from fastapi import FastAPI, Request, Response, WebSocket, WebSocketDisconnect
from fastapi.staticfiles import StaticFiles

from monitor.publish.guard import Guard
from monitor.publish.messages import (
    Frame,
    Heartbeat,
    Hello,
    Report,
    Snapshot,
    ToPanel,
    decode_from_panel,
    encode,
)

PANEL = Path(__file__).parents[2] / "monitor" / "panel"
OUTLOOK = Path(__file__).parents[1] / "golden" / "outlook.json"


class FakeService:
    """A service whose every word the test decides; `heard` holds what panels said, `posts` what they asked."""

    def __init__(self, snapshot: Snapshot) -> None:
        """Begin with this snapshot; nothing is sent before a panel says hello."""
        self.snapshot = snapshot
        self.ring: list[Frame] = []
        self.hellos: list[Hello] = []
        self.reports: list[Report] = []
        self.posts: list[tuple[str, Any]] = []
        self.post_status = 200
        self.post_words: Any = None
        self.outlook: Any = json.loads(OUTLOOK.read_text())
        self.outlook_status = 200
        self.report: Any = None
        self.report_status = 200
        self.outlooks_asked: list[tuple[str, str]] = []
        self.is_mute = False
        self.accepts = True
        self.sockets: set[WebSocket] = set()
        self._loop = asyncio.new_event_loop()
        self._socket = socket.socket()
        self._socket.bind(("127.0.0.1", 0))
        self.port = int(self._socket.getsockname()[1])
        self._server = uvicorn.Server(uvicorn.Config(self._app(), log_level="error", lifespan="off"))
        self._thread = threading.Thread(target=self._run, daemon=True)

    @property
    def address(self) -> str:
        """Where the panel is."""
        return f"http://127.0.0.1:{self.port}/"

    def start(self) -> None:
        """Serve in a thread of its own until `stop`."""
        self._thread.start()

    def stop(self) -> None:
        """End the server and wait for its thread."""
        self._server.should_exit = True
        self._thread.join(timeout=5)
        self._socket.close()

    def frame(self, **changed: Any) -> Frame:
        """Send every panel a frame with the next number and keep it for those who come back."""
        seq = self.snapshot.seq + 1
        frame = Frame(epoch=self.snapshot.epoch, seq=seq, **{"clock": self.snapshot.clock, **changed})
        kept = {"seq": seq, "clock": frame.clock}
        told = ("alarms", "silenced_s", "guide", "last_stoke", "entries", "closed_up", "prompts", "practice")
        kept |= {name: changed[name] for name in told if name in changed}
        if frame.values:
            fresh = {value.sensor: value for value in frame.values}
            kept["values"] = [fresh.get(value.sensor, value) for value in self.snapshot.values]
        self.snapshot = msgspec.structs.replace(self.snapshot, **kept)
        self.ring.append(frame)
        self.say(frame)
        return frame

    def beat(self) -> None:
        """Send every panel a sign of life."""
        self.say(Heartbeat(self.snapshot.epoch, self.snapshot.seq, self.snapshot.clock, 1))

    def say(self, message: ToPanel) -> None:
        """Send one message to every panel, unless the service is mute, and wait until it is on its way."""
        asyncio.run_coroutine_threadsafe(self._say(message), self._loop).result(timeout=5)

    def cut(self) -> None:
        """Close every socket, as a service does that ends."""
        asyncio.run_coroutine_threadsafe(self._cut(), self._loop).result(timeout=5)

    async def _say(self, message: ToPanel) -> None:
        for panel in list(self.sockets):
            if not self.is_mute:
                await panel.send_text(encode(message).decode())

    async def _cut(self) -> None:
        for panel in list(self.sockets):
            await panel.close()

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        self._loop.run_until_complete(self._server.serve(sockets=[self._socket]))
        self._loop.close()

    def _app(self) -> FastAPI:
        app = FastAPI()
        app.add_middleware(Guard, names=frozenset({"kiln.test"}), on_refused=lambda: None)
        app.add_api_websocket_route("/live", self._live)
        app.add_api_route("/api/history", self._history)
        app.add_api_route("/api/outlook", self._outlook)
        app.add_api_route("/api/alarms/{key:path}/seen", self._post, methods=["POST"])
        app.add_api_route("/api/alarms/{key:path}/shelve", self._post, methods=["POST"])
        app.add_api_route("/api/alarms/{key:path}/unshelve", self._post, methods=["POST"])
        app.add_api_route("/api/alarms/report", self._report)
        app.add_api_route("/api/silence", self._post, methods=["POST"])
        app.add_api_route("/api/practice", self._post, methods=["POST"])
        app.add_api_route("/api/entries", self._post, methods=["POST"])
        app.mount("/", StaticFiles(directory=PANEL, html=True))
        return app

    async def _live(self, panel: WebSocket) -> None:
        if not self.accepts:
            await panel.close()
            return
        await panel.accept()
        try:
            await self._greet(panel)
            self.sockets.add(panel)
            while True:
                said = decode_from_panel(await panel.receive_text())
                if isinstance(said, Report):
                    self.reports.append(said)
        except WebSocketDisconnect:
            pass
        finally:
            self.sockets.discard(panel)

    async def _greet(self, panel: WebSocket) -> None:
        hello = decode_from_panel(await panel.receive_text())
        assert isinstance(hello, Hello)
        self.hellos.append(hello)
        if self.is_mute:
            return
        known = hello.epoch == self.snapshot.epoch and hello.seq is not None
        missed = [frame for frame in self.ring if known and frame.seq > (hello.seq or 0)]
        for message in missed if known else [self.snapshot]:
            await panel.send_text(encode(message).decode())

    async def _post(self, request: Request) -> Response:
        self.posts.append((request.url.path, json.loads(await request.body())))
        return Response(json.dumps(self.post_words), self.post_status, media_type="application/json")

    async def _report(self) -> Response:
        return Response(json.dumps(self.report), self.report_status, media_type="application/json")

    async def _outlook(self, celsius: str, cone: str) -> Response:
        self.outlooks_asked.append((celsius, cone))
        return Response(json.dumps(self.outlook), self.outlook_status, media_type="application/json")

    async def _history(self, columns: int, begin: float | None = None, end: float | None = None) -> Response:
        snapshot = self.snapshot
        until = snapshot.clock if end is None else end
        since = (snapshot.firing.begun if snapshot.firing else until - 3600) if begin is None else begin
        times = np.linspace(since, until, columns, endpoint=False)
        middles = [
            (value.celsius or 900.0) - (until - times) / 3600 * 30 + 8 * np.sin(times / 300 + row)
            for row, value in enumerate(snapshot.values)
        ]
        lows = np.array(middles, dtype="<f4") - 4
        head = {
            "begin": since,
            "step_s": (until - since) / columns,
            "columns": columns,
            "sensors": [value.sensor for value in snapshot.values],
        }
        return Response(pack_history(head, lows, lows + 8), media_type="application/octet-stream")


def pack_history(head: dict[str, Any], minima: np.ndarray, maxima: np.ndarray) -> bytes:
    """Write the answer of `/api/history`: length, padded header, minima, maxima."""
    words = json.dumps(head).encode()
    words += b" " * (-(4 + len(words)) % 8)
    return len(words).to_bytes(4, "little") + words + minima.tobytes() + maxima.tobytes()
