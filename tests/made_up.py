"""Made-up kilns, scans and firings that the tests of the wiring share."""

import asyncio
import random
import threading
from collections import Counter
from collections.abc import AsyncIterator, Callable, Iterator, Sequence
from contextlib import asynccontextmanager
from itertools import count
from pathlib import Path

from monitor.live import Live
from monitor.model import Arrival, InputFault, Reading, Scan, Tick
from monitor.pipeline import Outcome, Pipeline, conversions_of
from monitor.publish.messages import Frame, Report, decode_to_panel
from monitor.publish.websocket import Client
from monitor.recorder import Recorder
from monitor.resuming import resume
from monitor.site_file import Site, parse_site
from monitor.store.records import SiteConversion
from monitor.surroundings import Occasion
from monitor.tables import read_tables
from monitor.thermocouple.convert import convert_block
from monitor.watch import Tables
from monitor.wire.line import frame_line
from monitor.wire.pack import write_pack, write_tick
from tests.peers import PtyNode

BEGIN = 1_764_000_000.0
"""2025-11-24T16:00:00Z, a multiple of every grid in use."""

K_VOLTS_AT_500_C = 0.020644
"""Type K at 500 degC against 0 degC, printed in IEC 60584-1 as 20,644 mV."""

SITE_TEXT = """
[kiln]
name = "Made-up kiln"
[[sensor]]
id = "firebox"
input = "shed-1/t1"
type = "K"
place = "firebox"
[[sensor]]
id = "middle"
input = "shed-1/t2"
place = "middle"
[[sensor]]
id = "back"
input = "shed-2/t1"
place = "back"
"""

Events = list[Arrival | Tick]


def made_up_site(more: str = "") -> Site:
    """Return a kiln with two nodes: a type K firebox and two finished temperatures."""
    return parse_site(SITE_TEXT + more, "kiln.toml")


def tables() -> Tables:
    """Return what the service tells people where a site brings nothing of its own."""
    return read_tables(made_up_site(), Path())


def shed_1(seq: int, time: float, middle_c: float = 900.0, **more: object) -> Scan:
    """Return a scan of the node with two inputs; the firebox stands at 500 degC, unless it is open.

    Every third scan is a microvolt higher, 0.02 degC: an emf that never moves would be that of a stuck converter.
    """
    fault = InputFault.OPEN if more.pop("is_open", False) else None
    emf_volts = K_VOLTS_AT_500_C + (1e-6 if seq % 3 == 1 else 0.0)
    firebox = Reading("shed-1/t1", None if fault else emf_volts, cold_junction_c=0.0, fault=fault)
    readings = (firebox, Reading("shed-1/t2", temperature_c=middle_c))
    return Scan("shed-1", time, readings, **{"boot": "b1", "seq": seq, **more})  # type: ignore[arg-type]


def shed_2(seq: int, time: float, back_c: float = 800.0) -> Scan:
    """Return a scan of the other node, which numbers its scans but names no boot."""
    return Scan("shed-2", time, (Reading("shed-2/t1", temperature_c=back_c),), seq=seq)


def uneven_events() -> Events:
    """Return four minutes of two nodes with all that goes wrong on a line: a gap, repeats, late scans, a broken lead.

    Scan 20 of shed-1 comes 4 s late (waited for), scan 40 comes 30 s late (not judged), 60 never; 70 comes twice. The
    firebox is open from scan 80 on. The middle is silent from scan 110 to 150 although its node is not.
    """
    events: Events = []
    for i in range(240):
        time = BEGIN + i
        if i not in {20, 40, 60}:
            events.append(Arrival(_with_silent_middle(i, shed_1(i, time, is_open=80 <= i < 120)), time + 0.1))
        if i == 70:
            events.append(Arrival(shed_1(70, time), time + 0.2))
        if i in {24, 70}:
            missed = {24: 20, 70: 40}[i]
            events.append(Arrival(shed_1(missed, BEGIN + missed), time + 0.3))
        if i % 2 == 0 and not 130 <= i < 180:
            events.append(Arrival(shed_2(i // 2, time + 0.4), time + 0.5))
        if i % 7 == 0:
            events.append(Tick(time + 0.6))
    events.append(Tick(BEGIN + 300.0))
    return events


def _with_silent_middle(i: int, scan: Scan) -> Scan:
    if not 110 <= i < 150:
        return scan
    return Scan(scan.node, scan.time, scan.readings[:1], scan.boot, scan.seq)


def falling_events(every_s: float = 5.0, minutes: float = 19.0) -> Iterator[Arrival]:
    """Yield 19 minutes in which middle and back stand still and, from minute 10 on, fall by 4 degrees a minute."""
    noise = random.Random(7)
    for i in range(int(minutes * 60 / every_s)):
        time = BEGIN + i * every_s
        dropped_c = max(0.0, i * every_s / 60.0 - 10.0) * 4.0
        middle_c, back_c = (round(c - dropped_c + noise.gauss(0.0, 0.3), 3) for c in (900.0, 800.0))
        yield Arrival(shed_1(i, time, middle_c), time + 0.1)
        yield Arrival(shed_2(i, time, back_c), time + 0.2)


def recording_lines(events: Sequence[Arrival | Tick]) -> bytes:
    """Return events as a recording with host lines."""
    lines = []
    for event in events:
        lines.append(write_tick(event.clock))
        if isinstance(event, Arrival):
            lines.append(write_pack(event.scan))
    return b"\n".join(lines) + b"\n"


def serial_line(scan: Scan) -> bytes:
    """Return a scan as a node writes it on its line."""
    return frame_line(write_pack(scan))


async def until(is_true: Callable[[], bool], limit_s: float = 5.0) -> None:
    """Wait until something is so."""
    async with asyncio.timeout(limit_s):
        for _ in count():
            if is_true():
                return
            await asyncio.sleep(0.005)


class SetClock:
    """A record clock that a test sets."""

    def __init__(self, at: float = BEGIN) -> None:
        self.at = at
        self.behind_s = 0.0

    def now(self) -> float:
        """Return what was set."""
        return self.at

    def follow(self, scan_time: float) -> None:
        """Lead, as the host's clock does."""


class NoWays:
    """Ways in and out that lead nowhere and note what they were asked."""

    def __init__(self) -> None:
        self.broker_connected: bool | None = None
        self.broker_error: str | None = None
        self.errors: dict[str, str | None] = {}
        self.counted: Counter[str] = Counter()
        self.alive: list[dict[str, tuple[str | None, int]]] = []
        self.told: list[Outcome] = []

    def source_errors(self) -> dict[str, str | None]:
        """Return what was set."""
        return self.errors

    def counts(self) -> Counter[str]:
        """Return what was set."""
        return self.counted

    def send_alive(self, known: dict[str, tuple[str | None, int]]) -> None:
        """Note what would be told to the nodes."""
        self.alive.append(dict(known))

    def tell(self, outcome: Outcome, live: Live) -> None:  # noqa: ARG002 - the ways' own words
        """Note what would be told to a broker."""
        self.told.append(outcome)


def conversion_of(site: Site) -> SiteConversion:
    """Return how the stored scans of a site become temperatures."""
    conversions = conversions_of(site)
    return SiteConversion(
        repr(conversions), tuple(s.input for s in site.sensor), lambda block: convert_block(block, conversions)
    )


def make_recorder(directory: Path, site: Site) -> Recorder:
    """Return a recorder that is not open yet; call it in a running loop."""
    return Recorder(directory, kiln=site.kiln.id, site_text=SITE_TEXT, conversion=conversion_of(site))


def listening_panel() -> Client:
    """Return a panel with its sound on, so that somebody hears; it reads nothing of what waits for it."""
    return Client(report=Report("running", visible=True))


@asynccontextmanager
async def at_work(
    directory: Path, *, site: Site | None = None, clock: SetClock | None = None, occasion: Occasion | None = None
) -> AsyncIterator[tuple[Live, NoWays]]:
    """Run the service between sources and panels on a data directory, without any source or panel."""
    site = made_up_site() if site is None else site
    told, ways = tables(), NoWays()
    recorder = make_recorder(directory, site)
    recorder.open("20251124T160000Z")
    live = Live(
        site,
        told,
        clock or SetClock(),
        make_pipeline=lambda: Pipeline(site, told),
        occasion=occasion or Occasion(),
    )
    live.ways = ways
    live.hub.clients.add(listening_panel())
    recorder.on_commit = live.committed
    try:
        resume(live, recorder)
        yield live, ways
    finally:
        recorder.close()


def deliver(live: Live, clock: SetClock, arrival: Arrival) -> None:
    """Let a scan arrive when it arrives."""
    clock.at = arrival.clock
    live.deliver(write_pack(arrival.scan))


class BusyNode:
    """A node that writes what `line` returns every 30 ms to its end of a pseudo-terminal, for the body's time."""

    def __init__(self, terminal: PtyNode, line: Callable[[int], bytes]) -> None:
        self._terminal = terminal
        self._line = line
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._write)

    def __enter__(self) -> "BusyNode":
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._thread.join()

    def _write(self) -> None:
        for number in count():
            if self._stop.wait(0.03):
                return
            self._terminal.do("write", hex=self._line(number).hex())


class Ears(Client):
    """A connection that never drops a backlog."""

    def push(self, message: bytes) -> None:
        """Keep every message."""
        self.queue.append(message)


class Panel:
    """A panel that hears all that is published."""

    def __init__(self, live: Live) -> None:
        self.client = Ears()
        live.hub.clients.add(self.client)

    def frames(self) -> list[Frame]:
        """Return what came since the last question."""
        messages = [decode_to_panel(message) for message in self.client.queue]
        self.client.queue.clear()
        return [message for message in messages if isinstance(message, Frame)]


def at(i: int, **more: object) -> Arrival:
    """Return scan `i` of shed-1 as it arrives."""
    return Arrival(shed_1(i, BEGIN + i, **more), BEGIN + i + 0.1)  # type: ignore[arg-type]
