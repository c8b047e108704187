"""`nightstoke firing`: what it asks the running service, and what it says when there is none or it refuses."""

import json
import re
import socket
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest

from monitor.address import FILE_NAME
from monitor.cli import main
from monitor.model import Arrival
from tests.made_up import BEGIN, SetClock, at_work, deliver, shed_1
from tests.peers import free_port


class Service:
    """Something on loopback that answers a request as a test wishes, and notes what was asked."""

    def __init__(self) -> None:
        self.status, self.body = 200, b"{}"
        self.asked: list[tuple[str, str, bytes]] = []
        service = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                sent = self.rfile.read(int(self.headers.get("Content-Length", 0)))
                service.asked.append((self.command, self.path, sent))
                self.send_response(service.status)
                self.end_headers()
                self.wfile.write(service.body)

            def log_message(self, *_: object) -> None:
                """Say nothing."""

        self._server = HTTPServer(("127.0.0.1", 0), Handler)
        self.address = f"http://127.0.0.1:{self._server.server_port}/"
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.01,))
        self._thread.start()

    def end(self) -> None:
        """Stop answering."""
        self._server.shutdown()
        self._thread.join()
        self._server.server_close()


@pytest.fixture
def service(tmp_path: Path) -> Iterator[Service]:
    """Return a service whose address stands in the test's folder."""
    running = Service()
    (tmp_path / FILE_NAME).write_text(running.address + "\n", "ascii")
    yield running
    running.end()


@pytest.mark.parametrize(("action", "word"), [("start", "begun"), ("end", "ended")])
def test_the_running_service_begins_and_ends_firings(
    tmp_path: Path, service: Service, capsys: pytest.CaptureFixture[str], action: str, word: str
) -> None:
    """By one request to the address that the service noted; the answer's id is told."""
    service.body = json.dumps({"id": "20251124T1600Z", "begun": BEGIN, "ended": None}).encode()
    code = main(["firing", action, "--data", str(tmp_path)])

    assert code == 0
    assert service.asked == [("POST", f"/api/firing/{action}", b"")]
    assert capsys.readouterr().out == f"firing 20251124T1600Z {word}\n"


def test_a_proxy_of_the_machine_is_passed_by(tmp_path: Path, service: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    """The service is on this machine; whatever the environment says, nobody else is asked."""
    monkeypatch.setenv("http_proxy", f"http://127.0.0.1:{free_port()}")
    monkeypatch.delenv("no_proxy", raising=False)
    service.body = b'{"id": "20251124T1600Z"}'

    assert main(["firing", "end", "--data", str(tmp_path)]) == 0
    assert len(service.asked) == 1


@pytest.mark.parametrize(
    ("status", "body", "reason"),
    [
        (409, b'{"detail": "no firing is open"}', "no firing is open"),
        (503, b'{"detail": "nothing can be stored now; see /healthz"}', "nothing can be stored now; see /healthz"),
        (500, b"Internal Server Error", "Internal Server Error"),
        (403, b"[]", "Forbidden"),
    ],
)
def test_a_refusal_is_told_with_its_reason(
    tmp_path: Path, service: Service, capsys: pytest.CaptureFixture[str], status: int, body: bytes, reason: str
) -> None:
    """Exit code 4; an answer that is no JSON is told by its status."""
    service.status, service.body = status, body
    code = main(["firing", "end", "--data", str(tmp_path)])

    assert code == 4
    assert capsys.readouterr().err == f"nightstoke: the service at {service.address} refused: {reason}\n"


@pytest.mark.parametrize("body", [b"hello", b"[]", b'{"name": "another program"}'])
def test_another_program_at_the_address_is_no_service(
    tmp_path: Path, service: Service, capsys: pytest.CaptureFixture[str], body: bytes
) -> None:
    """An address left by a service that was killed may be somebody else's by now."""
    service.body = body
    code = main(["firing", "end", "--data", str(tmp_path)])

    assert code == 4
    assert "does not answer; is it running?" in capsys.readouterr().err


def test_a_program_that_speaks_no_http_is_no_service(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Whatever else took the port."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        (tmp_path / FILE_NAME).write_text(f"http://127.0.0.1:{server.getsockname()[1]}/", "ascii")

        def mumble() -> None:
            connection, _ = server.accept()
            with connection:
                connection.recv(65536)
                connection.sendall(b"220 mail ready\r\n")

        thread = threading.Thread(target=mumble)
        thread.start()
        code = main(["firing", "start", "--data", str(tmp_path)])
        thread.join()

    assert code == 4
    assert "does not answer; is it running?" in capsys.readouterr().err


def test_a_service_that_is_gone_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 4, with the way to start it."""
    (tmp_path / FILE_NAME).write_text(f"http://127.0.0.1:{free_port()}/\n", "ascii")
    code = main(["firing", "start", "--data", str(tmp_path)])

    assert code == 4
    assert "does not answer; is it running? 'nightstoke serve' starts it" in capsys.readouterr().err


def test_without_a_service_the_way_to_start_it_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No service noted an address in this directory."""
    code = main(["firing", "end", "--data", str(tmp_path)])

    assert code == 4
    assert capsys.readouterr().err == (
        f"nightstoke: no service runs on {tmp_path}; start it with 'nightstoke serve --data {tmp_path}'\n"
    )


async def test_firings_are_listed_from_the_store_alone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], quick_commits: None
) -> None:
    """No service is needed: id, begin, end or open, and how many scans."""
    clock = SetClock()
    async with at_work(tmp_path, clock=clock) as (live, _):
        nothing = main(["firing", "list", "--data", str(tmp_path)])
        first = capsys.readouterr()
        for i in range(3):
            deliver(live, clock, Arrival(shed_1(i, BEGIN + i), BEGIN + i))
        clock.at = BEGIN + 7200
        await live.end_firing()
        deliver(live, clock, Arrival(shed_1(9000, BEGIN + 9000), BEGIN + 9000))
        assert await live.recorder.kept()
        code = main(["firing", "list", "--data", str(tmp_path)])
    told = capsys.readouterr().out

    assert (nothing, code) == (0, 0)
    assert first == ("", f"no firing in {tmp_path} yet\n")
    assert re.sub(" +", " ", told).splitlines() == [
        "20251124T1600Z 2025-11-24 16:00 UTC to 2025-11-24 18:00 UTC 3 scans",
        "20251124T1830Z 2025-11-24 18:30 UTC open 1 scans",
    ]


def test_listing_a_directory_without_a_store_ends_with_4(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The message says which directory is meant."""
    code = main(["firing", "list", "--data", str(tmp_path)])

    assert code == 4
    assert "name the data directory that the service writes to" in capsys.readouterr().err
