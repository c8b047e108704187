"""The command `nightstoke sound`: its player, its memory, and its questions to a service."""

import json
import ssl
import subprocess
import sys
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any

import pytest

from monitor.exits import CommandError
from monitor.sound import Asker, remember, was_armed
from tests.certificates import write_pair

ANSWER: dict[str, Any] = {"beats": 7, "sounding": 1, "louder": True, "silenced": False, "stuck": None, "armed": True}


@pytest.fixture
def service() -> Iterator[tuple[str, list[Any], dict[str, Any]]]:
    """Serve one answer that the test may change, and note what was asked."""
    asked: list[Any] = []
    answer = dict(ANSWER)

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            asked.append((self.path, json.loads(self.rfile.read(int(self.headers["Content-Length"])))))
            self.send_response(200)
            self.end_headers()
            self.wfile.write(json.dumps(answer).encode())

        def log_message(self, *_: object) -> None:
            """Say nothing."""

    server = HTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}/", asked, answer
    server.shutdown()
    server.server_close()
    thread.join()


def test_it_asks_under_its_name(service: tuple[str, list[Any], dict[str, Any]]) -> None:
    """And says what is wrong with it."""
    url, asked, _ = service
    word = Asker(url, "shed", None).ask("no card")

    assert asked == [("/api/voice", {"name": "shed", "error": "no card"})]
    assert (word.beats, word.sounding, word.louder, word.stuck, word.armed) == (7, 1, True, None, True)


@pytest.mark.parametrize("broken", [{"sounding": 4}, {"sounding": "1"}, {"beats": None}, {"beats": "x"}])
def test_an_answer_that_is_none_is_no_good_one(
    service: tuple[str, list[Any], dict[str, Any]], broken: dict[str, Any]
) -> None:
    """It is refused, not guessed at."""
    url, _, answer = service
    answer.update(broken)

    with pytest.raises((ValueError, TypeError)):
        Asker(url, "shed", None).ask(None)


def test_whether_a_firing_is_open_is_remembered(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Never known counts as none and is said; what cannot be written is said too."""
    memory = tmp_path / "sound"
    assert not was_armed(memory)
    assert "taken for none" in capsys.readouterr().err
    for armed in (True, False):
        assert remember(memory, armed=armed)
        assert was_armed(memory) is armed
    assert capsys.readouterr().err == ""
    assert not remember(tmp_path / "nowhere" / "sound", armed=True)
    assert "cannot be written" in capsys.readouterr().err


@pytest.mark.parametrize("text", ["", "arm", "\0\0"])
def test_a_damaged_memory_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str) -> None:
    """It is not taken for an answer."""
    (tmp_path / "sound").write_text(text, encoding="ascii")

    assert not was_armed(tmp_path / "sound")
    assert "does not say" in capsys.readouterr().err


def test_the_process_is_a_small_one() -> None:
    """What serves and judges is not loaded: neither its weight nor its faults."""
    words = "import sys, monitor.cli, monitor.sound; print(*sys.modules)"
    loaded = subprocess.run([sys.executable, "-c", words], capture_output=True, text=True, check=True).stdout.split()

    assert not {"numpy", "pydantic", "fastapi", "uvicorn", "msgspec", "asyncio"} & set(loaded)


def test_a_service_is_reached_under_any_name(tmp_path: Path) -> None:
    """Its own certificate is trusted for what it is, as by the other commands, whatever name it was asked by."""
    certificate, key = write_pair(tmp_path)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificate, key)

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            self.rfile.read(int(self.headers["Content-Length"]))
            self.send_response(200)
            self.end_headers()
            self.wfile.write(json.dumps(ANSWER).encode())

        def log_message(self, *_: object) -> None:
            """Say nothing."""

    server = HTTPServer(("127.0.0.1", 0), Handler)
    server.socket = context.wrap_socket(server.socket, server_side=True)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    urls = [f"https://{name}:{server.server_port}" for name in ("127.0.0.1", "localhost")]
    words = [Asker(url, "shed", str(certificate)).ask(None) for url in urls]
    server.shutdown()
    server.server_close()

    assert [word.beats for word in words] == [7, 7]


def test_a_certificate_that_cannot_be_read_is_told(tmp_path: Path) -> None:
    """Before anything is asked."""
    with pytest.raises(CommandError, match="--certificate"):
        Asker("https://127.0.0.1:1/", "shed", str(tmp_path / "nothing.pem"))
