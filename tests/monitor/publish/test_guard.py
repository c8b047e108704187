"""Host and Origin are checked before anything else: cases that must pass and cases that must not."""

import pytest
from starlette.applications import Starlette
from starlette.responses import PlainTextResponse
from starlette.routing import Route, WebSocketRoute
from starlette.testclient import TestClient
from starlette.websockets import WebSocket, WebSocketDisconnect

from monitor.publish.guard import BODY_LIMIT_BYTES, Guard, host_name, is_own_host, is_own_origin

NAMES = frozenset({"kiln.test"})


async def answer(request: object) -> PlainTextResponse:
    """Answer anything."""
    return PlainTextResponse("yes")


async def echo(socket: WebSocket) -> None:
    """Say hello and leave."""
    await socket.accept()
    await socket.send_text("hello")
    await socket.close()


def client(host: str = "127.0.0.1:8080") -> TestClient:
    """Return a client that speaks to a guarded application under `host`."""
    app = Starlette(routes=[Route("/", answer, methods=["GET", "POST"]), WebSocketRoute("/live", echo)])
    return TestClient(Guard(app, NAMES, lambda: None), base_url=f"http://{host}")


@pytest.mark.parametrize(
    ("host", "own"),
    [
        ("127.0.0.1", True),
        ("127.0.0.1:8080", True),
        ("[::1]:8080", True),
        ("192.0.2.7", True),
        ("localhost:1", True),
        ("kiln.test", True),
        ("KILN.test:80", True),
        ("evil.example", False),
        ("kiln.test.evil.example", False),
        ("", False),
        ("[broken", False),
    ],
)
def test_own_hosts_are_addresses_localhost_and_listed_names(host: str, own: bool) -> None:
    """A name that someone else pointed here is refused."""
    assert is_own_host(host, NAMES) is own


def test_host_name_drops_port_and_brackets() -> None:
    """Only the name decides."""
    assert host_name("[::1]:8080") == "::1"


@pytest.mark.parametrize(
    ("origin", "own"),
    [
        (None, True),
        ("http://kiln.test:8080", True),
        ("https://kiln.test:8080", True),
        ("http://kiln.test", False),
        ("http://evil.example", False),
        ("null", False),
        ("http://[", False),
    ],
)
def test_own_origin_has_the_same_host_and_port(origin: str | None, own: bool) -> None:
    """Another page's origin, and an origin that hides itself, are foreign."""
    assert is_own_origin(origin, "kiln.test:8080") is own


def test_foreign_host_is_refused_and_counted_with_a_reason() -> None:
    """The answer says what to add where."""
    refused: list[bool] = []
    app = Guard(Starlette(), NAMES, lambda: refused.append(True))
    reply = TestClient(app, base_url="http://evil.example").get("/")

    assert reply.status_code == 421
    assert "[panel] hosts" in reply.json()["error"]
    assert refused == [True]


def test_reading_is_free_and_changing_is_not_for_foreign_origins() -> None:
    """GET passes, POST and the live link do not."""
    foreign = {"origin": "http://evil.example"}

    assert client().get("/", headers=foreign).status_code == 200
    assert client().post("/", headers=foreign).status_code == 403
    with pytest.raises(WebSocketDisconnect) as refused, client().websocket_connect("/live", headers=foreign):
        pass
    assert refused.value.code == 1008


def test_own_origin_may_change_and_connect() -> None:
    """The panel's own page works."""
    own = {"origin": "http://127.0.0.1:8080"}

    assert client().post("/", headers=own).status_code == 200
    with client().websocket_connect("/live", headers={**own, "host": "127.0.0.1:8080"}) as socket:
        assert socket.receive_text() == "hello"


def test_large_and_endless_bodies_are_refused() -> None:
    """A body over the limit, of odd length or of no told length never reaches the service."""
    assert client().post("/", content=b"x" * (BODY_LIMIT_BYTES + 1)).status_code == 413
    assert client().post("/", headers={"content-length": "-1"}).status_code == 413
    assert client().post("/", content=iter([b"x"])).status_code == 411


def test_every_answer_carries_the_security_headers() -> None:
    """No framing, no sniffing, own scripts only."""
    headers = client().get("/").headers

    assert "frame-ancestors 'none'" in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
