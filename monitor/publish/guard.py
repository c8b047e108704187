"""Who may ask: the Host and Origin of every request, checked before anything else sees it.

A browser on the shed's network can be led by any web page to this service's address. The Host check defeats names that
were pointed at it from outside; the Origin check refuses state changes and live links that another page started.
Address literals and localhost are always this service's own; names must be the machine's or listed in the site file.
"""

import ipaddress
from collections.abc import Callable
from urllib.parse import urlsplit

from starlette.datastructures import Headers
from starlette.responses import JSONResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from starlette.websockets import WebSocketClose

SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
BODY_LIMIT_BYTES = 64 * 1024
POLICY_VIOLATION = 1008

SECURITY_HEADERS = (
    (
        b"content-security-policy",
        (
            b"default-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; frame-ancestors 'none'; "
            b"base-uri 'none'; form-action 'none'"
        ),
    ),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
)


def host_name(host: str) -> str:
    """Return the name or address in a Host header, without port and brackets, in lower case; "" where unreadable."""
    try:
        return urlsplit(f"//{host}").hostname or ""
    except ValueError:
        return ""


def is_own_host(host: str, names: frozenset[str]) -> bool:
    """Tell whether a Host header means this service: an address literal, localhost or one of `names`."""
    name = host_name(host)
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return name in names or name == "localhost"
    return True


def is_own_origin(origin: str | None, host: str) -> bool:
    """Tell whether `origin` is the page this service itself gave out at `host`; none at all is no browser."""
    if origin is None:
        return True
    try:
        return urlsplit(origin).netloc.lower() == host.lower()
    except ValueError:
        return False


class Guard:
    """ASGI layer that refuses foreign hosts, foreign origins and large bodies, and adds the security headers."""

    def __init__(self, app: ASGIApp, names: frozenset[str], on_refused: Callable[[], None]) -> None:
        self.app = app
        self.names = names
        self.on_refused = on_refused

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or refuse it with a reason."""
        if scope["type"] not in {"http", "websocket"}:
            await self.app(scope, receive, send)
            return
        refusal = self._refusal(scope)
        if refusal is None:
            await self.app(scope, receive, _with_headers(send) if scope["type"] == "http" else send)
            return
        self.on_refused()
        if scope["type"] == "websocket":
            await WebSocketClose(POLICY_VIOLATION, refusal[1])(scope, receive, send)
        else:
            await JSONResponse({"error": refusal[1]}, refusal[0])(scope, receive, send)

    def _refusal(self, scope: Scope) -> tuple[int, str] | None:
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        if not is_own_host(host, self.names):
            return 421, f"host {host_name(host)!r} is not this service; add it to [panel] hosts in the site file"
        changes = scope["type"] == "websocket" or scope["method"] not in SAFE_METHODS
        if changes and not is_own_origin(headers.get("origin"), host):
            return 403, "a page from another origin may not do this; open the panel at this service's own address"
        if "transfer-encoding" in headers:
            return 411, "say how long the request body is (Content-Length)"
        length = headers.get("content-length", "0")
        if not length.isdecimal() or int(length) > BODY_LIMIT_BYTES:
            return 413, f"a request body may have at most {BODY_LIMIT_BYTES} bytes"
        return None


def _with_headers(send: Send) -> Send:
    async def send_with_headers(message: Message) -> None:
        if message["type"] == "http.response.start":
            message["headers"] = [*message.get("headers", []), *SECURITY_HEADERS]
        await send(message)

    return send_with_headers
