"""The live link, over a real socket on loopback: resume, snapshot, backlog, and words that are no words."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress

import pytest
import uvicorn
from starlette.applications import Starlette
from starlette.routing import WebSocketRoute
from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import ConnectionClosed

from monitor.publish import websocket
from monitor.publish.messages import Frame, Heartbeat, Hello, Kiln, Links, Report, Snapshot, decode_to_panel, encode
from monitor.publish.websocket import QUEUE_MESSAGES, RING_MESSAGES, Client, Hub


def make_snapshot(epoch: str, seq: int) -> Snapshot:
    """Return an empty present."""
    links = Links(node_age_s={}, counters={}, store_error=None, source_error={}, panels_with_sound=0)
    return Snapshot(
        epoch=epoch,
        seq=seq,
        clock=1.0,
        speed=1.0,
        test=None,
        kiln=Kiln("Quiet Hill", "quiet-hill", "UTC"),
        firing=None,
        plan=None,
        guide=None,
        sensors=[],
        values=[],
        alarms=[],
        silenced_s=0.0,
        findings=[],
        last_stoke=None,
        links=links,
        entries=[],
        closed_up=False,
    )


def make_hub() -> Hub:
    """Return a hub over a still kiln."""
    return Hub(make_snapshot, engine_count=lambda: 7, clock=lambda: 2.0)


def frame(clock: float) -> Frame:
    """Return a frame that can be told apart by its clock."""
    return Frame(epoch="", seq=0, clock=clock)


@asynccontextmanager
async def serving(hub: Hub) -> AsyncIterator[str]:
    """Serve `hub` on a free loopback port and give its address."""
    app = Starlette(routes=[WebSocketRoute("/live", hub.serve)])
    server = uvicorn.Server(uvicorn.Config(app, host="127.0.0.1", port=0, log_level="error", lifespan="off"))
    task = asyncio.create_task(server.serve())
    while not server.started:
        await asyncio.sleep(0.005)
    port = server.servers[0].sockets[0].getsockname()[1]
    beat = asyncio.create_task(hub.beat())
    try:
        yield f"ws://127.0.0.1:{port}/live"
    finally:
        beat.cancel()
        with suppress(asyncio.CancelledError):
            await beat
        server.should_exit = True
        await task


async def say_hello(socket: ClientConnection, epoch: str | None = None, seq: int | None = None) -> None:
    """Say what was seen last."""
    await socket.send(encode(Hello(epoch=epoch, seq=seq)).decode())


async def next_message(socket: ClientConnection) -> Snapshot | Frame | Heartbeat:
    """Return the next message within two seconds."""
    return decode_to_panel(await asyncio.wait_for(socket.recv(), 2.0))


async def test_new_panel_gets_a_snapshot_then_frames_in_order() -> None:
    """Nothing lost, nothing doubled, numbers rise by one."""
    hub = make_hub()
    async with serving(hub) as address, connect(address) as socket:
        hub.publish(frame(1.0))
        await say_hello(socket)
        first = await next_message(socket)
        hub.publish(frame(2.0))
        hub.publish(frame(3.0))
        second, third = await next_message(socket), await next_message(socket)

    assert isinstance(first, Snapshot)
    assert (first.epoch, first.seq) == (hub.epoch, 1)
    assert [(m.seq, m.clock) for m in (second, third)] == [(2, 2.0), (3, 3.0)]


async def test_returning_panel_gets_exactly_what_it_missed() -> None:
    """Epoch and number resume from the ring without a snapshot."""
    hub = make_hub()
    for number in range(5):
        hub.publish(frame(float(number)))
    async with serving(hub) as address, connect(address) as socket:
        await say_hello(socket, hub.epoch, 3)
        missed = [await next_message(socket) for _ in range(2)]
        hub.publish(frame(9.0))
        after = await next_message(socket)

    assert [m.seq for m in missed] == [4, 5]
    assert after.seq == 6


@pytest.mark.parametrize(
    ("epoch", "seq"), [("other", 3), (None, None), ("own", None), ("own", -1), ("own", 99), ("own", 0)]
)
def test_resume_is_refused_where_the_ring_cannot_tell(epoch: str | None, seq: int | None) -> None:
    """Another start of the service, a number never given out, or one too long ago need a snapshot."""
    hub = make_hub()
    for _ in range(RING_MESSAGES + 1):
        hub.publish(frame(0.0))
    known = hub.epoch if epoch == "own" else epoch

    assert hub.missed(Hello(epoch=known, seq=99_999 if seq == 99 else seq)) is None


def test_resume_up_to_date_misses_nothing() -> None:
    """A panel that saw the last message gets an empty list, not a snapshot."""
    hub = make_hub()
    hub.publish(frame(0.0))

    assert hub.missed(Hello(epoch=hub.epoch, seq=1)) == []


def test_slow_panel_loses_its_backlog_for_a_snapshot() -> None:
    """Memory stays bounded and the newest state wins."""
    client = Client()
    for _ in range(QUEUE_MESSAGES + 3):
        client.push(b"x")

    assert client.needs_snapshot
    assert len(client.queue) == 0


async def test_backlog_is_replaced_by_one_snapshot() -> None:
    """A burst beyond the queue arrives as the present, with the newest number."""
    hub = make_hub()
    async with serving(hub) as address, connect(address) as socket:
        await say_hello(socket)
        await next_message(socket)
        for _ in range(QUEUE_MESSAGES + 5):
            hub.publish(frame(1.0))
        present = await next_message(socket)

    assert isinstance(present, Snapshot)
    assert present.seq == QUEUE_MESSAGES + 5
    assert hub.backlogs_dropped == 1


async def test_sign_of_life_comes_without_news(monkeypatch: pytest.MonkeyPatch) -> None:
    """A quiet kiln still beats, with the engine's counter and the last number."""
    monkeypatch.setattr(websocket, "HEARTBEAT_S", 0.05)
    hub = make_hub()
    async with serving(hub) as address, connect(address) as socket:
        await say_hello(socket)
        await next_message(socket)
        beat = await next_message(socket)

    assert beat == Heartbeat(epoch=hub.epoch, seq=0, clock=2.0, engine=7)


async def test_report_counts_panels_with_sound() -> None:
    """The host knows who can be heard, and forgets who left."""
    hub = make_hub()
    async with serving(hub) as address:
        async with connect(address) as socket:
            await say_hello(socket)
            await next_message(socket)
            await socket.send(encode(Report(sound="running", visible=True)).decode())
            while hub.panels_with_sound == 0:
                await asyncio.sleep(0.005)
            with_sound = hub.panels_with_sound
        while hub.clients:
            await asyncio.sleep(0.005)

    assert with_sound == 1
    assert hub.panels_with_sound == 0


@pytest.mark.parametrize("words", ["{}", "not json", '{"kind":"report","sound":"running","visible":true}'])
async def test_first_word_must_be_hello(words: str) -> None:
    """Anything else closes the link with a reason, and is counted."""
    hub = make_hub()
    async with serving(hub) as address, connect(address) as socket:
        await socket.send(words)
        with pytest.raises(ConnectionClosed) as closed:
            await socket.recv()

    assert closed.value.rcvd is not None
    assert "hello" in closed.value.rcvd.reason
    assert hub.malformed == 1


async def test_nonsense_later_closes_the_link_and_is_counted() -> None:
    """A panel that speaks nonsense is let go; the service goes on."""
    hub = make_hub()
    async with serving(hub) as address, connect(address) as socket:
        await say_hello(socket)
        await next_message(socket)
        await socket.send("nonsense")
        async with asyncio.timeout(2.0):
            await socket.wait_closed()

    assert hub.malformed == 1
    assert not hub.clients


async def test_silent_panel_is_let_go(monkeypatch: pytest.MonkeyPatch) -> None:
    """Who never says hello holds no place."""
    monkeypatch.setattr(websocket, "HELLO_LIMIT_S", 0.05)
    hub = make_hub()
    async with serving(hub) as address, connect(address) as socket:
        with pytest.raises(ConnectionClosed):
            await asyncio.wait_for(socket.recv(), 2.0)

    assert not hub.clients
