"""Listening to a port for a while, through the source that the service uses."""

from monitor.listen import Heard, listening
from monitor.wire.line import frame_line
from monitor.wire.pack import write_pack
from tests.made_up import BEGIN, serial_line, shed_1, shed_2, until
from tests.peers import PtyNode


async def test_what_comes_over_a_line_is_kept(pty_node: PtyNode) -> None:
    """Scans in order, the newest reading of each input, and packs that are none by kind."""
    async with listening(str(pty_node.link)) as (source, heard):
        await until(lambda: source.state.connected)
        sent = [shed_1(0, BEGIN), shed_2(0, BEGIN), shed_1(1, BEGIN + 1, middle_c=950.0)]
        lines = [*map(serial_line, sent), frame_line(b"{}"), frame_line(b"nonsense"), frame_line(b"more nonsense")]
        await pty_node.write(b"".join(lines))
        await until(lambda: sum(heard.broken.values()) == 3)

    assert heard.scans == sent
    assert heard.broken == {"wrong-type": 1, "not-json": 2}
    assert sorted(heard.newest) == ["shed-1/t1", "shed-1/t2", "shed-2/t1"]
    assert heard.newest["shed-1/t2"].temperature_c == 950.0


async def test_a_port_is_let_go_afterwards(pty_node: PtyNode) -> None:
    """The service, or the next look, can open it at once: it is exclusive."""
    for _ in range(2):
        async with listening(str(pty_node.link)) as (source, _heard):
            await until(lambda source=source: source.state.connected)  # type: ignore[misc]

    assert pty_node.do("lock") == "locked"


async def test_a_port_that_is_not_there_is_told_and_raises_nothing(tmp_path: object) -> None:
    """The source says why, as in the service."""
    async with listening(f"{tmp_path}/nothing") as (source, heard):
        await until(lambda: "is not there" in (source.state.error or ""))

    assert heard.newest == {}


def test_a_later_scan_replaces_only_what_it_names() -> None:
    """An input that a scan leaves out keeps its newest reading."""
    heard = Heard()
    heard.take(write_pack(shed_1(0, BEGIN)), "port")
    heard.take(write_pack(shed_2(0, BEGIN + 1)), "port")

    assert len(heard.newest) == 3
