"""Where an MQTT broker is, out of one URL; pure."""

from dataclasses import dataclass, field
from urllib.parse import parse_qs, unquote, urlsplit

PLAIN_PORT, TLS_PORT = 1883, 8883
ALLOWED = "give mqtt://[user:password@]host[:port], or mqtts:// with ?ca_file=PATH for an authority of your own"


class BrokerAddressError(ValueError):
    """A URL that names no broker; says what is allowed."""


@dataclass(frozen=True, slots=True)
class BrokerAddress:
    """A broker and who we are to it; with `is_tls` it is checked against `ca_file`, or the system's authorities."""

    host: str
    port: int
    user: str | None = None
    password: str | None = field(default=None, repr=False)
    is_tls: bool = False
    ca_file: str | None = None

    def __str__(self) -> str:
        """Return the address without the password."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{'mqtts' if self.is_tls else 'mqtt'}://{host}:{self.port}"


def parse_broker_url(url: str) -> BrokerAddress:
    """Return the broker that `url` names.

    Raises:
        BrokerAddressError: the URL has another form.
    """
    try:
        parts = urlsplit(url)
        port = parts.port
        options = parse_qs(parts.query, strict_parsing=True) if parts.query else {}
    except ValueError as error:
        raise BrokerAddressError(f"{error}; {ALLOWED}") from error
    is_tls = parts.scheme == "mqtts"
    if parts.scheme not in ("mqtt", "mqtts") or not parts.hostname or parts.path.strip("/") or parts.fragment:
        raise BrokerAddressError(ALLOWED)
    if set(options) - ({"ca_file"} if is_tls else set()):
        raise BrokerAddressError(ALLOWED)
    return BrokerAddress(
        host=parts.hostname,
        port=port or (TLS_PORT if is_tls else PLAIN_PORT),
        user=None if parts.username is None else unquote(parts.username),
        password=None if parts.password is None else unquote(parts.password),
        is_tls=is_tls,
        ca_file=options.get("ca_file", [None])[0],
    )
