"""A certificate and its key, files that the person brings: checked before anything starts, trusted by our commands."""

import ssl
from dataclasses import dataclass
from pathlib import Path

from monitor.exits import BAD_ARGUMENTS, CommandError


@dataclass(frozen=True, slots=True)
class KeyPair:
    """A certificate (with its chain, PEM) and the private key that belongs to it (PEM, without a password)."""

    certificate: Path
    key: Path


def checked_pair(certificate: str | None, key: str | None) -> KeyPair | None:
    """Return the pair that two options name, None where neither is given.

    Raises:
        CommandError: only one is given, a file cannot be read, or the two do not belong together.
    """
    if certificate is None and key is None:
        return None
    if certificate is None or key is None:
        missing = "--certificate" if certificate is None else "--key"
        raise CommandError(BAD_ARGUMENTS, f"{missing} is missing: https needs a certificate and its key")
    pair = KeyPair(Path(certificate).absolute(), Path(key).absolute())
    for path in (pair.certificate, pair.key):
        try:
            path.read_bytes()
        except OSError as error:
            raise CommandError(BAD_ARGUMENTS, f"{path}: cannot be read: {error.strerror}") from error
    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(pair.certificate, pair.key, password="")
    except ssl.SSLError as error:
        raise CommandError(
            BAD_ARGUMENTS,
            f"{pair.certificate} and {pair.key} are no certificate and key that belong together "
            f"({error.reason or error}); both must be PEM, the key without a password",
        ) from error
    return pair


def trust_of(certificate: Path) -> ssl.SSLContext:
    """Return what trusts that very certificate, under whatever name it is reached.

    Raises:
        OSError: the certificate cannot be read (`ssl.SSLError` is one).
    """
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    context.check_hostname = False
    context.verify_flags |= ssl.VERIFY_X509_PARTIAL_CHAIN
    context.load_verify_locations(certificate)
    return context
