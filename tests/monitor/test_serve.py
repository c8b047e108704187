"""What the wiring decides before and around a running service; the running service itself is tested in tests/system."""

import argparse
import asyncio
import socket
from pathlib import Path

import pytest

from monitor.exits import NOT_AVAILABLE, CommandError
from monitor.problems import ProblemsError
from monitor.serve import Request, run, serve
from monitor.site_file import parse_site
from tests.made_up import tables

SITE = '[kiln]\nname = "Quiet Hill"\n[[sensor]]\nid = "middle"\ninput = "shed-1/t1"\ntype = "K"\nplace = "middle"\n'


def request(tmp_path: Path, *, host: str = "127.0.0.1", port: int = 0) -> Request:
    """Return a request to serve a kiln without sources."""
    return Request(parse_site(SITE, "kiln.toml"), SITE, tables(), tmp_path / "data", host, port)


async def at_once() -> None:
    """End as soon as the service runs."""


@pytest.mark.parametrize("kind", ["modbus", "spi"])
def test_source_of_a_later_version_is_refused_by_name(tmp_path: Path, kind: str) -> None:
    """A kind that the site file may name but nothing serves yet is told, not silently left out."""
    site = tmp_path / "kiln.toml"
    site.write_text(f'{SITE}[[source]]\nkind = "{kind}"\n', encoding="utf-8")

    with pytest.raises(ProblemsError, match=rf"source\[1\]\.kind: '{kind}' is not served"):
        run(argparse.Namespace(site=str(site), data=str(tmp_path), host="127.0.0.1", port=0))


async def test_one_line_with_the_address_is_printed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One line on stdout once requests are answered, nothing on stderr for this machine alone."""
    code = await serve(request(tmp_path), beside=at_once)

    said = capsys.readouterr()
    assert code == 0
    assert said.out.startswith("Nightstoke watches Quiet Hill at http://127.0.0.1:")
    assert said.out.count("\n") == 1
    assert said.err == ""


async def test_other_addresses_are_told_with_a_warning(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Whoever lets the network in hears that there are no roles yet."""
    await serve(request(tmp_path, host="0.0.0.0"), beside=at_once)

    said = capsys.readouterr()
    assert "no roles yet" in said.err
    assert "In this network: http://" in said.err
    assert "http://127.0.0.1:" in said.out


async def test_taken_port_is_told_with_what_to_do(tmp_path: Path) -> None:
    """Two services cannot listen at one address."""
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        with pytest.raises(CommandError, match="choose another with --port") as caught:
            await serve(request(tmp_path, port=port), beside=at_once)

    assert caught.value.code == NOT_AVAILABLE


async def test_unknown_host_name_is_told(tmp_path: Path) -> None:
    """An address that is none of this machine's."""
    with pytest.raises(CommandError, match=r"192\.0\.2\.1") as caught:
        await serve(request(tmp_path, host="192.0.2.1"), beside=at_once)

    assert caught.value.code == NOT_AVAILABLE


async def test_failure_beside_the_service_ends_it_and_is_seen(tmp_path: Path) -> None:
    """A fault of ours beside the service neither leaves it running nor goes unseen."""

    async def broken() -> None:
        raise RuntimeError("no kiln")

    with pytest.raises(RuntimeError, match="no kiln"):
        await asyncio.wait_for(serve(request(tmp_path), beside=broken), 10.0)
