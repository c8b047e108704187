"""https with a certificate the person brings: everything that works on http works on it."""

import json
import ssl
import time
import urllib.request
from collections.abc import Callable
from pathlib import Path
from urllib.parse import urlsplit

from websockets.sync.client import connect

from tests.certificates import write_pair
from tests.peers import PtyNode
from tests.system.running import Running, command, until
from tests.system.scans import scan_line, site_text


def test_panel_and_commands_reach_the_service_by_https(
    serve: Callable[..., Running], pty_node: PtyNode, tmp_path: Path
) -> None:
    """Address line, health, live link and firing commands, all encrypted; plain http is no answer."""
    certificate, key = write_pair(tmp_path)
    trusted = ssl.create_default_context(cafile=str(certificate))
    service = serve(site_text(pty_node.link), "--certificate", certificate, "--key", key)
    place = urlsplit(service.address)

    def health() -> int:
        with urllib.request.urlopen(f"{service.address}healthz", context=trusted) as answer:
            return int(answer.status)

    until(lambda: health() == 200)
    pty_node.do("write", hex=scan_line(0, int(time.time())).hex())
    with connect(f"wss://{place.netloc}/live", ssl=trusted, close_timeout=2) as panel:
        panel.send(json.dumps({"kind": "hello"}))
        first = json.loads(panel.recv(5))
    until(lambda: command("firing", "end", "--data", tmp_path / "data").returncode == 0)

    assert place.scheme == "https"
    assert first["kind"] == "snapshot"
    assert service.end() == 0


def test_certificate_without_its_key_starts_nothing(tmp_path: Path) -> None:
    """Exit code 2 with the option that is missing."""
    certificate, _ = write_pair(tmp_path)
    site = tmp_path / "kiln.toml"
    site.write_text(site_text(tmp_path / "node"), "utf-8")

    done = command("serve", "--site", site, "--data", tmp_path / "data", "--certificate", certificate)

    assert done.returncode == 2
    assert "--key is missing" in done.stderr
    assert not (tmp_path / "data").exists()
