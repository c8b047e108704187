"""Where the running service answers: a note in its data directory, for commands that ask it something.

One line with the address, and with https a second one with the file of the certificate to trust.
"""

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

FILE_NAME = "address"


@dataclass(frozen=True, slots=True)
class Address:
    """A service's address, and the certificate it shows with https."""

    url: str
    certificate: Path | None = None


@contextmanager
def noted_address(directory: Path, address: Address) -> Iterator[str | None]:
    """Leave `address` in the data directory for the body's time; gives why that cannot be done, or None."""
    file = directory / FILE_NAME
    trouble = None
    try:
        lines = [address.url] if address.certificate is None else [address.url, str(address.certificate)]
        file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    except OSError as error:
        trouble = f"{file}: {error.strerror}"
    try:
        yield trouble
    finally:
        with suppress(OSError):
            file.unlink(missing_ok=True)


def read_address(directory: Path) -> Address | None:
    """Return the address noted in the data directory, None where no service left one."""
    try:
        lines = (directory / FILE_NAME).read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError):
        return None
    if not lines:
        return None
    return Address(lines[0], Path(lines[1]) if len(lines) > 1 else None)
