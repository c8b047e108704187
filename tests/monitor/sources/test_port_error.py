"""What a person is told when a port does not open."""

import errno
import grp
import os
from pathlib import Path

import pytest
import serial

from monitor.sources.port_error import explain_open_error, serial_ports
from monitor.sources.serial_line import SerialPort, open_port


def told(device: str) -> str:
    """Return the text for what really happens on opening `device`."""
    with pytest.raises(OSError, match="port") as caught:
        open_port(SerialPort(device))
    return explain_open_error(device, caught.value)


def test_missing_port_is_named_with_what_is_there(tmp_path: Path) -> None:
    """A port that is not there: plug in, or correct the site file."""
    text = told(f"{tmp_path}/node")

    assert text.startswith(
        f"serial port {tmp_path}/node is not there: plug the node in, or correct `device` in kiln.toml"
    )
    assert "present now" in text


@pytest.mark.parametrize("device", ["/dev/null", "file", "."])
def test_what_is_no_terminal_is_said_to_be_none(device: str, tmp_path: Path) -> None:
    """A file, a folder or another device is no serial port."""
    (tmp_path / "file").touch()
    path = device if device.startswith("/") else str(tmp_path / device)

    assert told(path).startswith(f"{path} is no serial port: correct `device` in kiln.toml")


def test_missing_right_names_the_group(tmp_path: Path) -> None:
    """The group is the one that the port has; the error is made here, since root is refused nothing."""
    port = tmp_path / "node"
    port.touch()
    group = grp.getgrgid(os.getgid()).gr_name
    text = explain_open_error(str(port), serial.SerialException(errno.EACCES, "could not open port"))

    assert text == (
        f"no permission to open serial port {port}: add the user that runs this service to the group '{group}' "
        f"(sudo usermod -a -G {group} USER) and log in again"
    )


def test_missing_right_to_look_names_the_usual_group(tmp_path: Path) -> None:
    """Where the port's group cannot be read the usual one is named."""
    text = explain_open_error(f"{tmp_path}/none", PermissionError(errno.EPERM, "no"))

    assert "group 'dialout'" in text


@pytest.mark.parametrize("number", [errno.EAGAIN, errno.EBUSY])
def test_port_in_use_names_how_to_find_the_other(number: int) -> None:
    """Both kinds of lock say that another program has the port."""
    text = explain_open_error("/dev/ttyACM0", OSError(number, "busy"))

    assert text.startswith(
        "serial port /dev/ttyACM0 is in use by another program: stop that one (`fuser -v /dev/ttyACM0`"
    )


@pytest.mark.parametrize("error", [OSError(errno.ENOMEM, "no memory"), ValueError("Not a valid baudrate: 5")])
def test_other_errors_are_told_as_they_are(error: Exception) -> None:
    """What we do not know is passed on with the port's name."""
    assert explain_open_error("/dev/ttyACM0", error) == f"serial port /dev/ttyACM0 does not open: {error}"


def test_ports_are_listed_in_order(tmp_path: Path) -> None:
    """Names that last come first, each place in order."""
    for name in ("ttyACM1", "ttyACM0", "by-id-x"):
        (tmp_path / name).touch()

    assert serial_ports([f"{tmp_path}/by-id*", f"{tmp_path}/ttyACM*"]) == [
        f"{tmp_path}/by-id-x",
        f"{tmp_path}/ttyACM0",
        f"{tmp_path}/ttyACM1",
    ]


def test_present_ports_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where there are ports, the text lists them."""
    monkeypatch.setattr("monitor.sources.port_error.serial_ports", lambda: ["/dev/serial/by-id/x"])

    assert "(present now: /dev/serial/by-id/x)" in explain_open_error("/dev/y", FileNotFoundError(errno.ENOENT, ""))
