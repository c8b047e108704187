"""Why a serial port does not open, in words that name the port and what to do."""

import errno
import grp
from collections.abc import Iterable
from pathlib import Path
from typing import Final

GONE: Final = frozenset({errno.ENOENT, errno.ENODEV, errno.ENXIO, errno.EIO, errno.ENOTDIR})
FORBIDDEN: Final = frozenset({errno.EACCES, errno.EPERM})
IN_USE: Final = frozenset({errno.EAGAIN, errno.EBUSY})
NO_TTY: Final = frozenset({errno.ENOTTY, errno.EINVAL, errno.EISDIR})
PLACES: Final = ("/dev/serial/by-id/*", "/dev/ttyACM*", "/dev/ttyUSB*")
"""Where Linux shows serial ports; the first names them so that they keep their name."""


def explain_open_error(device: str, error: BaseException) -> str:
    """Return what keeps `device` from opening and what to do about it."""
    number = _errno_of(error)
    if number in GONE:
        return f"serial port {device} is not there: plug the node in, or correct `device` in kiln.toml ({_present()})"
    if number in FORBIDDEN:
        group = _group_of(device)
        return (
            f"no permission to open serial port {device}: add the user that runs this service to the group {group!r} "
            f"(sudo usermod -a -G {group} USER) and log in again"
        )
    if number in IN_USE:
        return (
            f"serial port {device} is in use by another program: stop that one (`fuser -v {device}` shows it); "
            "this service then goes on by itself"
        )
    if number in NO_TTY:
        return f"{device} is no serial port: correct `device` in kiln.toml ({_present()})"
    return f"serial port {device} does not open: {error}"


def serial_ports(places: Iterable[str] = PLACES) -> list[str]:
    """Return the serial ports that are there now, those with a lasting name first."""
    return [str(port) for place in places for port in sorted(Path("/").glob(place.lstrip("/")))]


def _present() -> str:
    ports = serial_ports()
    return f"present now: {', '.join(ports)}" if ports else "no serial port is present now"


def _errno_of(error: BaseException) -> int | None:
    """Return the system's number of an error; pyserial keeps that of a failed setting only in the cause."""
    cause: BaseException | None = error
    while cause is not None:
        number = cause.errno if isinstance(cause, OSError) else next(iter(cause.args), None)
        if isinstance(number, int):
            return number
        cause = cause.__cause__ or cause.__context__
    return None


def _group_of(device: str) -> str:
    """Return the group that may open `device`; "dialout" is what Debian gives serial ports."""
    try:
        return grp.getgrgid(Path(device).stat().st_gid).gr_name
    except (OSError, KeyError):
        return "dialout"
