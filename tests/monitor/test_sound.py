"""The command `nightstoke sound`: its player, its memory, and its questions to a service."""

import json
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any

import pytest

from monitor.exits import BAD_ARGUMENTS, CommandError
from monitor.sound import Asker, player_command, remember, was_armed

ANSWER: dict[str, Any] = {"beats": 7, "sounding": 1, "louder": True, "stuck": None, "armed": True}


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
        remember(memory, armed=armed)
        assert was_armed(memory) is armed
    remember(tmp_path / "nowhere" / "sound", armed=True)
    assert "cannot be written" in capsys.readouterr().err


def test_a_named_player_counts(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """With its options; one that is not there, or none at all, is told with what to install."""
    assert player_command("sh -c true") == ["sh", "-c", "true"]
    monkeypatch.setenv("PATH", str(tmp_path))
    for named in ("nonsense", None):
        with pytest.raises(CommandError, match="alsa-utils") as caught:
            player_command(named)
        assert caught.value.code == BAD_ARGUMENTS


def test_a_certificate_that_cannot_be_read_is_told(tmp_path: Path) -> None:
    """Before anything is asked."""
    with pytest.raises(CommandError, match="--certificate"):
        Asker("https://127.0.0.1:1/", "shed", str(tmp_path / "nothing.pem"))
