"""The ways in and out: who is told what on which line, what is counted, and what a broker hears."""

import asyncio
import json
from collections.abc import Callable, Iterable
from pathlib import Path

import aiomqtt
import pytest

from monitor import ways as module
from monitor.exits import CommandError
from monitor.model import Arrival, Tick
from monitor.site_file import BrokerPart, Site
from monitor.sources.serial_line import SerialSource
from monitor.sources.source import Deliver, SourceState
from monitor.supervise import Supervisor
from monitor.ways import ServiceWays, read_password
from monitor.wire.pack import write_pack
from monitor.wire.topics import alarm_topic, finding_topic, scan_topic, state_topic, temperature_topic
from tests.made_up import (
    BEGIN,
    SetClock,
    at_work,
    deliver,
    falling_events,
    made_up_site,
    serial_line,
    shed_1,
    shed_2,
    until,
)  # fmt: skip
from tests.peers import Mosquitto, PtyNode

TWO_PORTS = '[[source]]\nkind = "serial"\ndevice = "/dev/one"\n[[source]]\nkind = "serial"\ndevice = "/dev/two"\n'


class NotedSource:
    """A source that delivers what a test gives it, and notes what it is told."""

    def __init__(self, name: str) -> None:
        self.state = SourceState(name, "serial")
        self.alive: list[tuple[str | None, str | None, int]] = []
        self.rested = False

    async def run(self, deliver: Deliver) -> None:  # noqa: ARG002 - a source's own words
        """Wait for ever."""
        await asyncio.Event().wait()

    def send_alive(self, node: str | None, boot: str | None, seq: int) -> None:
        """Note a heartbeat."""
        self.alive.append((node, boot, seq))

    async def send_rest(self) -> None:
        """Note the orderly stop."""
        self.rested = True


def noted(ways: ServiceWays) -> tuple[NotedSource, NotedSource]:
    """Put two noted sources in the place of the ports."""
    pair = NotedSource("one"), NotedSource("two")
    ways._sources = list(pair)
    return pair


def nodes_in(payload: bytes) -> frozenset[str]:
    """Return the node of a pack, as the service does."""
    return frozenset({json.loads(payload)[0]["bn"].rstrip("/")})


def test_each_node_is_told_on_the_line_it_was_last_heard_on() -> None:
    """A node that moves to another port is told there; a line on which nobody spoke hears that the host lives."""
    ways = ServiceWays(made_up_site(TWO_PORTS), nodes_in)
    one, two = noted(ways)
    known = {"shed-1": ("b1", 7), "shed-2": (None, 3), "shed-9": ("b9", 1)}
    ways.send_alive(known)
    ways._take(one, write_pack(shed_1(7, BEGIN)), "one")
    ways.send_alive(known)
    ways._take(one, write_pack(shed_2(3, BEGIN)), "one")
    ways._take(two, write_pack(shed_1(8, BEGIN + 1)), "two")
    ways.send_alive(known)

    assert one.alive == [(None, None, 0), ("shed-1", "b1", 7), ("shed-2", None, 3)]
    assert two.alive == [(None, None, 0), (None, None, 0), ("shed-1", "b1", 7)]


async def test_an_orderly_stop_is_told_on_every_line() -> None:
    """So that no node sounds its buzzer."""
    ways = ServiceWays(made_up_site(TWO_PORTS), nodes_in)
    pair = noted(ways)
    await ways.rest()

    assert [source.rested for source in pair] == [True, True]


def test_sources_tell_their_errors_and_counts_by_name() -> None:
    """What two ports count is added up; each way of losing a line has its own kind."""
    ways = ServiceWays(made_up_site(TWO_PORTS), nodes_in)
    for source, bad in zip(ways._sources, (b"no crc\n", b"x 00000000\ncut"), strict=True):
        assert isinstance(source, SerialSource)
        source.lines.feed(bad)
        source.lines.drop_partial()
        source.state.counts["connections"] += 1
    counts = ways.counts()

    assert ways.source_errors() == {"/dev/one": "not started yet", "/dev/two": "not started yet"}
    assert (counts["line_no_crc"], counts["line_bad_crc"], counts["line_cut"], counts["line_too_long"]) == (1, 1, 1, 0)
    assert counts["serial_connections"] == 2
    assert (ways.broker_connected, ways.broker_error) == (None, None)


def test_the_tasks_are_named_after_what_they_do(tmp_path: Path) -> None:
    """One for each source, and one for the broker where there is one."""
    broker = '[[source]]\nkind = "mqtt"\n[broker]\nhost = "127.0.0.1"\nport = 1\n'
    names = [name for name, _ in ServiceWays(made_up_site(TWO_PORTS + broker), nodes_in).tasks()]

    assert names[:2] == ["source /dev/one", "source /dev/two"]
    assert len(names) == 4
    assert names[3] == "broker"


async def test_packs_come_in_over_a_real_line_and_the_node_is_told(pty_node: PtyNode) -> None:
    """Through the very source that reads hardware, under the supervisor; what is no good line is counted."""
    got: list[bytes] = []

    def take(payload: bytes) -> frozenset[str]:
        got.append(payload)
        return nodes_in(payload)

    ways = ServiceWays(made_up_site(f'[[source]]\nkind = "serial"\ndevice = "{pty_node.link}"\n'), take)
    supervisor = Supervisor()
    for name, work in ways.tasks():
        supervisor.start(name, work)
    await until(lambda: ways.source_errors() == {str(pty_node.link): None})
    await pty_node.write(b"garbage\n" + serial_line(shed_1(4, BEGIN)))
    await until(lambda: bool(got))
    ways.send_alive({"shed-1": ("b1", 4)})
    alive = await pty_node.ask("read")
    await ways.rest()
    rest = await pty_node.ask("read")
    await supervisor.stop()

    assert got == [write_pack(shed_1(4, BEGIN))]
    assert (alive, rest) == ("alive b1 4\n", "rest\n")
    assert ways.counts()["line_no_crc"] == 1


@pytest.mark.usefixtures("quick_commits")
async def test_a_broker_hears_values_states_findings_and_alarms(
    mosquitto: Callable[..., Mosquitto], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Packs come in by it, what follows goes out by it, and nothing is published where nothing happened."""
    monkeypatch.setattr(module, "TELL_BROKER_EVERY_S", 0.0)
    broker = mosquitto()
    site = made_up_site(f'[[source]]\nkind = "mqtt"\n[broker]\nhost = "127.0.0.1"\nport = {broker.port}\n')
    clock, heard = SetClock(), {}
    async with at_work(tmp_path / "data", site=site, clock=clock) as (live, _):
        ways = ServiceWays(site, live.deliver)
        unsure = ways.broker_connected
        live.ways = ways
        supervisor = Supervisor()
        for name, work in ways.tasks():
            supervisor.start(name, work)
        await until(lambda: bool(ways.broker_connected) and not any(ways.source_errors().values()))
        async with aiomqtt.Client("127.0.0.1", broker.port) as client:
            await client.subscribe("#")
            events = list(falling_events())
            await client.publish(scan_topic(site.kiln.id, "shed-1"), write_pack(events[0].scan), qos=1)
            await until(lambda: live.counts["packs"] == 1)
            for event in events[1:]:
                deliver(live, clock, event)
            wanted = {
                topic(site.kiln.id) for topic in (finding_topic, alarm_topic, state_topic)
            } | {temperature_topic(site.kiln.id, "middle")}  # fmt: skip
            async with asyncio.timeout(5.0):
                async for message in client.messages:
                    heard[str(message.topic)] = message.payload
                    if wanted <= set(heard):
                        break
        counts, error = ways.counts(), ways.broker_error
        await ways.rest()
        await supervisor.stop()
    alarm = json.loads(heard[alarm_topic(site.kiln.id)])

    assert unsure is False
    assert error is None
    assert counts["broker_sent"] > 0
    assert (alarm["key"], alarm["change"], alarm["title"]) == ("fall", "began", "Temperature falling")
    assert json.loads(heard[finding_topic(site.kiln.id)])["kind"] == "fall"
    assert json.loads(heard[temperature_topic(site.kiln.id, "middle")])["celsius"] < 900.5


def told_states(ways: ServiceWays, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Return a list that fills with what the publisher is given."""
    told: list[str] = []
    for name in ("publish_values", "publish_state", "publish_finding", "publish_alarm"):
        monkeypatch.setattr(ways._publisher, name, lambda *_, name=name: told.append(name))
    return told


@pytest.mark.usefixtures("quick_commits")
async def test_the_broker_gets_a_state_every_five_seconds_and_at_each_change(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not with each scan: a kiln with twelve inputs is no flood."""
    seconds = [1000.0]
    monkeypatch.setattr(module, "host_seconds", lambda: seconds[0])
    alone = "[crew]\nsign_of_life = false\n"  # nobody is there in the hour between
    site, clock = made_up_site('[broker]\nhost = "127.0.0.1"\n' + alone), SetClock()
    async with at_work(tmp_path, site=site, clock=clock) as (live, _):
        ways = ServiceWays(site, live.deliver)
        told = told_states(ways, monkeypatch)
        states: list[int] = []
        for i in range(12):
            seconds[0] += 1.0
            ways.tell(live.pipeline.feed([Arrival(shed_1(i, BEGIN + i), BEGIN + i)]), live)
            states.append(told.count("publish_state"))
        before = told.count("publish_alarm")
        live.pipeline.begin_firing()
        feed_through(ways, live, falling_events(), seconds)

    assert states == [1] * 5 + [2] * 5 + [3] * 2
    assert before == 0
    assert told.count("publish_alarm") == told.count("publish_finding") == 1


def feed_through(ways: ServiceWays, live: object, events: Iterable[Arrival | Tick], seconds: list[float]) -> None:
    """Feed events an hour later than they are made, without host time passing."""
    for event in events:
        assert isinstance(event, Arrival)
        scan = event.scan
        later = type(scan)(scan.node, scan.time + 3600, scan.readings, "b2", scan.seq)
        outcome = live.pipeline.feed([Arrival(later, event.clock + 3600)])  # type: ignore[attr-defined]
        ways.tell(outcome, live)  # type: ignore[arg-type]


def test_without_a_broker_nothing_is_told() -> None:
    """And nothing needed for one is loaded."""
    ways = ServiceWays(made_up_site(TWO_PORTS), nodes_in)

    assert ways.tell(None, None) is None  # type: ignore[func-returns-value, arg-type]


def test_a_password_is_read_from_its_file(tmp_path: Path) -> None:
    """Without the newline that editors leave; no file, no password."""
    file = tmp_path / "password"
    file.write_text("s3cret\n", "utf-8")

    assert read_password(BrokerPart(host="h", password_file=str(file))) == "s3cret"
    assert read_password(BrokerPart(host="h")) is None


@pytest.mark.parametrize(("content", "words"), [(None, "No such file or directory"), (b"\xff", "not UTF-8 text")])
def test_a_password_that_cannot_be_read_is_told_by_key_and_file(
    tmp_path: Path, content: bytes | None, words: str
) -> None:
    """Exit code 2: it is a fault of the site file."""
    file = tmp_path / "password"
    if content is not None:
        file.write_bytes(content)
    site: Site = made_up_site(f'[broker]\nhost = "h"\npassword_file = "{file}"\n')
    with pytest.raises(CommandError, match=f"broker.password_file: {file}: {words}") as caught:
        ServiceWays(site, nodes_in)

    assert caught.value.code == 2
