"""Where the running service answers: one line in its data directory, for commands that ask it something."""

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

FILE_NAME = "address"


@contextmanager
def noted_address(directory: Path, address: str) -> Iterator[str | None]:
    """Leave `address` in the data directory for the body's time; gives why that cannot be done, or None."""
    file = directory / FILE_NAME
    trouble = None
    try:
        file.write_text(address + "\n", encoding="ascii")
    except OSError as error:
        trouble = f"{file}: {error.strerror}"
    try:
        yield trouble
    finally:
        with suppress(OSError):
            file.unlink(missing_ok=True)


def read_address(directory: Path) -> str | None:
    """Return the address noted in the data directory, None where no service left one."""
    try:
        return (directory / FILE_NAME).read_text(encoding="ascii").strip()
    except (OSError, UnicodeDecodeError):
        return None
