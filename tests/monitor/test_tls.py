"""Certificates that people bring: a good pair passes, everything else is told before anything starts."""

import socket
import ssl
import threading
from pathlib import Path

import pytest

from monitor.exits import BAD_ARGUMENTS, CommandError
from monitor.tls import KeyPair, checked_pair, trust_of
from tests.certificates import write_pair


def refused(certificate: str | None, key: str | None) -> str:
    """Return why a pair is refused."""
    with pytest.raises(CommandError) as caught:
        checked_pair(certificate, key)
    assert caught.value.code == BAD_ARGUMENTS
    return str(caught.value)


def test_neither_option_is_plain_http() -> None:
    """Nothing named, nothing checked."""
    assert checked_pair(None, None) is None


def test_good_pair_passes(tmp_path: Path) -> None:
    """Files that belong together."""
    certificate, key = write_pair(tmp_path)

    assert checked_pair(str(certificate), str(key)) == KeyPair(certificate, key)


def test_each_mistake_is_told(tmp_path: Path) -> None:
    """One option alone, a missing file, a key of another certificate, a file that is none."""
    certificate, key = map(str, write_pair(tmp_path))
    _, other = map(str, write_pair(tmp_path, "other"))
    (tmp_path / "photo").write_bytes(b"\xff\xd8\xff")

    assert "--key is missing" in refused(certificate, None)
    assert "--certificate is missing" in refused(None, key)
    assert f"{tmp_path}/none: cannot be read: No such file" in refused(str(tmp_path / "none"), key)
    assert "belong together" in refused(certificate, other)
    assert "both must be PEM" in refused(str(tmp_path / "photo"), key)


def connected(server_pair: tuple[Path, Path], trusted: Path) -> bool:
    """Return whether a client that trusts `trusted` accepts a server that shows `server_pair`."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(*server_pair)
    near, far = socket.socketpair()

    def serve() -> None:
        try:
            context.wrap_socket(far, server_side=True).close()
        except OSError:
            far.close()

    server = threading.Thread(target=serve)
    server.start()
    try:
        trust_of(trusted).wrap_socket(near).close()
    except ssl.SSLError:
        return False
    finally:
        near.close()
        server.join()
    return True


def test_that_very_certificate_is_trusted_and_no_other(tmp_path: Path) -> None:
    """Our own commands reach the service by its certificate alone, whatever name it bears."""
    mine, other = write_pair(tmp_path), write_pair(tmp_path, "other")

    assert connected(mine, mine[0])
    assert not connected(other, mine[0])
