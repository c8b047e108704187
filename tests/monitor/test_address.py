"""The note of where a service answers comes and goes with the service."""

from pathlib import Path

from monitor.address import FILE_NAME, Address, noted_address, read_address

PLAIN = Address("http://127.0.0.1:8642/")


def test_address_is_there_while_the_service_runs(tmp_path: Path) -> None:
    """Commands find it, and find nothing afterwards."""
    with noted_address(tmp_path, PLAIN) as trouble:
        found = read_address(tmp_path)

    assert trouble is None
    assert found == PLAIN
    assert read_address(tmp_path) is None


def test_unwritable_directory_is_told_and_survived(tmp_path: Path) -> None:
    """On a full or missing disk the service runs on, only not to be found."""
    with noted_address(tmp_path / "missing", PLAIN) as trouble:
        pass

    assert trouble is not None
    assert str(tmp_path / "missing" / FILE_NAME) in trouble


def test_certificate_is_noted_beside_an_https_address(tmp_path: Path) -> None:
    """Commands know what to trust."""
    address = Address("https://127.0.0.1:8642/", tmp_path / "house.pem")
    with noted_address(tmp_path, address):
        found = read_address(tmp_path)

    assert found == address


def test_empty_note_is_no_address(tmp_path: Path) -> None:
    """A note cut short by a full disk leads nowhere."""
    (tmp_path / FILE_NAME).write_text("")

    assert read_address(tmp_path) is None


def test_unreadable_note_is_no_address(tmp_path: Path) -> None:
    """What is no address leads nowhere."""
    (tmp_path / FILE_NAME).write_bytes(b"\xff\xfe")

    assert read_address(tmp_path) is None
