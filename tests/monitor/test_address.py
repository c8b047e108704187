"""The note of where a service answers comes and goes with the service."""

from pathlib import Path

from monitor.address import FILE_NAME, noted_address, read_address


def test_address_is_there_while_the_service_runs(tmp_path: Path) -> None:
    """Commands find it, and find nothing afterwards."""
    with noted_address(tmp_path, "http://127.0.0.1:8642/") as trouble:
        found = read_address(tmp_path)

    assert trouble is None
    assert found == "http://127.0.0.1:8642/"
    assert read_address(tmp_path) is None


def test_unwritable_directory_is_told_and_survived(tmp_path: Path) -> None:
    """On a full or missing disk the service runs on, only not to be found."""
    with noted_address(tmp_path / "missing", "http://127.0.0.1:8642/") as trouble:
        pass

    assert trouble is not None
    assert str(tmp_path / "missing" / FILE_NAME) in trouble


def test_unreadable_note_is_no_address(tmp_path: Path) -> None:
    """What is no address leads nowhere."""
    (tmp_path / FILE_NAME).write_bytes(b"\xff\xfe")

    assert read_address(tmp_path) is None
