"""What a person may get wrong on the command line: every message names the place and the remedy, with its exit code."""

import signal
import socket
from collections.abc import Callable
from pathlib import Path

from tests.peers import PtyNode
from tests.system.running import Running, command, until
from tests.system.scans import site_text

WRONG_SITE = """
[kiln]
name = "Night kiln"
colour = "red"
[[source]]
kind = "serial"
device = "/dev/serial/by-id/usb-node"
[[sensor]]
id = "front"
input = "shed-1/t1"
type = "Q"
place = "front"
[[sensor]]
id = "back"
input = "shed-1/t1"
type = "K"
place = "attic"
[oven]
"""


def serve_once(tmp_path: Path, site: str, *arguments: str | Path, data: Path | None = None) -> tuple[int, str]:
    """Serve a site that must be refused; return exit code and stderr."""
    file = tmp_path / "kiln.toml"
    file.write_text(site, "utf-8")
    done = command("serve", "--site", file, "--data", data or tmp_path / "data", "--port", "0", *arguments, limit_s=20)
    assert done.stdout == ""
    assert "Traceback" not in done.stderr
    return done.returncode, done.stderr


def test_all_that_is_wrong_with_a_site_file_is_told_at_once(tmp_path: Path) -> None:
    """Unknown keys, an unknown letter and place and an input used twice: one line each, exit code 2, nothing begun."""
    code, words = serve_once(tmp_path, WRONG_SITE)

    assert code == 2
    file = tmp_path / "kiln.toml"
    assert all(text.startswith(f"nightstoke: {file}: ") for text in words.splitlines())
    assert f"{file}: kiln.colour: unknown key; allowed here: name, id, time_zone" in words
    allowed = "kiln, source, sensor, contact, button, plan, broker, panel, agreed, crew, emergency, alarms"
    assert f"{file}: oven: unknown key; allowed here: {allowed}" in words
    assert "sensor[1].type: Input should be 'B', 'E', 'J', 'K', 'N', 'R', 'S', 'T' or 'zirconia' (found 'Q')" in words
    assert "sensor[2].place: Input should be 'firebox', 'front', 'middle', 'back', 'flue' or 'timber'" in words
    assert "sensor[2].input: 'shed-1/t1' is used by sensor[1] too; each input feeds one sensor" in words
    assert not (tmp_path / "data").exists()


def test_a_site_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    """No site file, or none that is TOML: exit code 2 with its name and the way to one."""
    missing = command("serve", "--site", tmp_path / "none.toml", "--data", tmp_path / "data")
    code, words = serve_once(tmp_path, "[kiln\n")

    assert missing.returncode == code == 2
    assert f"{tmp_path / 'none.toml'}: cannot be read: No such file" in missing.stderr
    assert "'nightstoke new-site'" in missing.stderr
    assert "not readable as TOML" in words


def test_sources_of_a_later_version_are_refused(tmp_path: Path) -> None:
    """A kind of source that this version does not serve: exit code 2, not silence."""
    site = site_text(None, more='[[source]]\nkind = "modbus"\n')

    code, words = serve_once(tmp_path, site)

    assert code == 2
    assert "source[1].kind: 'modbus' is not served by this version yet; use 'serial' or 'mqtt'" in words


def test_a_password_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    """A broker's password file that cannot be read: exit code 2 with its name."""
    site = site_text(tmp_path / "node", more=f'[broker]\nhost = "127.0.0.1"\npassword_file = "{tmp_path}/none"\n')

    code, words = serve_once(tmp_path, site)

    assert code == 2
    assert f"broker.password_file: {tmp_path}/none: No such file or directory" in words


def test_arguments_that_make_no_sense_are_refused(tmp_path: Path) -> None:
    """A port beyond 65535, a speed of nought, a command that is none: exit code 2."""
    for arguments in (("serve", "--port", "99999"), ("demo", "--speed", "0"), ("tend",), ()):
        done = command(*arguments)

        assert done.returncode == 2
        assert "usage: nightstoke" in done.stderr


def test_a_port_number_that_is_taken_is_told(tmp_path: Path) -> None:
    """Somebody listens there already: exit code 4, the address, and two ways out."""
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = str(taken.getsockname()[1])

        code, words = serve_once(tmp_path, site_text(tmp_path / "node"), "--port", port)

    assert code == 4
    assert f"127.0.0.1:{port}: Address already in use; choose another with --port, or stop what uses it" in words


def test_an_address_that_is_not_ours_is_told(tmp_path: Path) -> None:
    """An address of no interface here, or no address at all: exit code 4 with the address."""
    code, words = serve_once(tmp_path, site_text(tmp_path / "node"), "--host", "192.0.2.7")
    no_code, no_words = serve_once(tmp_path, site_text(tmp_path / "node"), "--host", "no-such-host.invalid")

    assert code == no_code == 4
    assert "192.0.2.7:0: Cannot assign requested address" in words
    assert "no-such-host.invalid:0: " in no_words


def test_a_data_directory_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    """A folder below a plain file, which not even root can make: exit code 4 with its name and a remedy."""
    (tmp_path / "file").write_text("no folder")

    code, words = serve_once(tmp_path, site_text(tmp_path / "node"), data=tmp_path / "file" / "data")

    assert code == 4
    assert f"data directory {tmp_path / 'file' / 'data'} cannot be written: Not a directory; choose another" in words


def test_a_data_directory_in_use_is_told(serve: Callable[..., Running], tmp_path: Path) -> None:
    """A second service on the same data: exit code 4 naming the first, which goes on undisturbed."""
    site = site_text(tmp_path / "node")
    first = serve(site)

    code, words = serve_once(tmp_path, site)

    assert code == 4
    assert f"data directory {tmp_path / 'data'} is in use by process {first.process.pid}; stop that one" in words
    assert first.process.poll() is None
    assert (tmp_path / "data" / "address").read_text().strip() == first.address
    assert first.end(signal.SIGINT) == 0


def test_a_file_that_is_no_database_is_moved_aside(
    serve: Callable[..., Running], pty_node: PtyNode, tmp_path: Path
) -> None:
    """A damaged database does not keep the kiln unwatched: it is moved away, a new one begins, and that is told."""
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "nightstoke.sqlite3").write_bytes(b"no database " * 1000)

    service = serve(site_text(pty_node.link))
    until(service.is_well)
    _, words = service.health()

    moved = Path(words["damaged_database_moved_to"])
    assert moved.parent == tmp_path / "data"
    assert (moved / "nightstoke.sqlite3").read_bytes().startswith(b"no database")


def test_exporting_and_replaying_nothing_is_told(tmp_path: Path) -> None:
    """No data, no firing of that name, no recording: the exit codes of the contract, no traceback."""
    out = tmp_path / "out.senml.jsonl"
    (tmp_path / "kiln.toml").write_text(site_text(None), "utf-8")
    (tmp_path / "bad.senml.jsonl").write_text("not one line\n")
    replay = ("replay", "--site", tmp_path / "kiln.toml", "--findings", tmp_path / "findings.jsonl")

    exported = command("export", "--data", tmp_path / "none", out)
    misnamed = command("export", "--data", tmp_path / "none", tmp_path / "out.txt")
    empty = command(*replay, tmp_path / "bad.senml.jsonl")
    missing = command(*replay, tmp_path / "none.senml.jsonl")
    listed = command("firing", "list", "--data", tmp_path / "none")
    begun = command("firing", "start", "--data", tmp_path / "none")

    codes = [done.returncode for done in (exported, misnamed, empty, missing, listed, begun)]
    assert codes == [4, 2, 3, 3, 4, 4]
    assert not any("Traceback" in done.stderr for done in (exported, misnamed, empty, missing, listed, begun))
    assert "name the data directory that the service writes to" in exported.stderr
    assert f"{tmp_path / 'bad.senml.jsonl'}: no valid line among 1" in empty.stderr
    assert "start it with 'nightstoke serve" in begun.stderr
