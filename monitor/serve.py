"""`nightstoke serve`: the running service wired together, from sources to panels, until a signal."""

import argparse
import asyncio
import logging
import signal
import socket
import sys
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from contextlib import asynccontextmanager, contextmanager, suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from importlib.metadata import version
from importlib.resources import files
from pathlib import Path

import uvicorn

from monitor.address import Address, noted_address
from monitor.clock import FollowingClock, HostClock, RecordClock, wall_seconds
from monitor.desk import SECONDS, Desk
from monitor.exits import DONE, NOT_AVAILABLE, CommandError
from monitor.host_facts import HostFacts
from monitor.live import Live
from monitor.pipeline import Pipeline, conversions_of
from monitor.practice import PracticeLine
from monitor.problems import ProblemsError
from monitor.publish.http_api import build_app
from monitor.publish.websocket import Hub
from monitor.recorder import Recorder
from monitor.resuming import resume, retry
from monitor.site_file import Site
from monitor.site_reader import read_site
from monitor.store.records import SiteConversion
from monitor.supervise import Supervisor
from monitor.surroundings import Occasion
from monitor.tables import read_tables
from monitor.thermocouple.convert import convert_block
from monitor.tls import KeyPair, checked_pair
from monitor.watch import Tables
from monitor.ways import ServiceWays

CONVERSION_VERSION = 1
GRACE_S = 1
BACKLOG = 64
EVERY_ADDRESS = frozenset({"0.0.0.0", "::"})  # noqa: S104 - told apart, not bound


@dataclass(frozen=True, slots=True)
class Request:
    """What to serve: a site, its text and what it tells people, where to keep firings and to listen, and how.

    `training` is the socket of a simulated kiln that a person may fire.
    """

    site: Site
    site_text: str
    tables: Tables
    data: Path
    host: str
    port: int
    occasion: Occasion = field(default_factory=Occasion)
    pair: KeyPair | None = None
    training: Path | None = None


def run(options: argparse.Namespace) -> int:
    """Serve the kiln of a site file until a signal comes."""
    path = Path(options.site)
    site = read_site(path)
    if problems := _unserved(site, path):
        raise ProblemsError(problems)
    pair = checked_pair(options.certificate, options.key)
    tables = read_tables(site, path.parent)
    text, data = path.read_text(encoding="utf-8"), Path(options.data)
    return asyncio.run(serve(Request(site, text, tables, data, options.host, options.port, pair=pair)))


def _unserved(site: Site, path: Path) -> list[str]:
    return [
        f"{path}: source[{number}].kind: {source.kind!r} is not served by this version yet; use 'serial' or 'mqtt'"
        for number, source in enumerate(site.source, start=1)
        if source.kind in {"modbus", "spi"}
    ]


async def serve(request: Request, *, beside: Callable[[], Awaitable[None]] | None = None) -> int:
    """Run the service until a signal comes, or until `beside`, which runs along, ends; return the exit code."""
    logging.basicConfig(level=logging.WARNING, format="%(asctime)s %(levelname)s %(message)s", stream=sys.stderr)
    stop = asyncio.Event()
    with _listening(request.host, request.port) as listener, _stopped_by_signals(stop):
        async with _running(request, listener) as address, _running_beside(beside, stop):
            print(f"Nightstoke watches {request.site.kiln.name} at {address}", flush=True)
            _warn_of_network(request, listener)
            await stop.wait()
    return DONE


@asynccontextmanager
async def _running(request: Request, listener: socket.socket) -> AsyncIterator[str]:
    """Wire everything, answer requests meanwhile, and put it all away in order."""
    recorder = Recorder(
        request.data, kiln=request.site.kiln.id, site_text=request.site_text, conversion=_conversion(request.site)
    )
    recorder.open(_stamp())
    live = Live(
        request.site,
        request.tables,
        _clock(request.occasion, recorder.newest_clock),
        make_pipeline=lambda: Pipeline(request.site, request.tables, guard_clock=request.occasion.test is None),
        occasion=request.occasion,
        look_at_host=HostFacts(request.data).look,
    )
    line = None if request.training is None else PracticeLine(request.training, live.show_practice, live.counts)
    ways = ServiceWays(request.site, live.deliver)
    live.ways = ways
    recorder.on_commit = live.committed
    supervisor = Supervisor()
    try:
        resume(live, recorder)
        _start_tasks(supervisor, live, ways)
        if line is not None:
            supervisor.start("practice", line.run)
        desk = Desk(live, supervisor, version("nightstoke"), line)
        async with _answering(desk, live.hub, request, listener) as address:
            yield address
    finally:
        await ways.rest()
        await supervisor.stop()
        live.keep_state()
        if lost := recorder.close():
            print(f"nightstoke: {lost} records could not be stored: {recorder.error}", file=sys.stderr)


def _start_tasks(supervisor: Supervisor, live: Live, ways: ServiceWays) -> None:
    async def seconds() -> None:
        while True:
            await asyncio.sleep(1.0)
            live.second()
            retry(live, _stamp())

    supervisor.start(SECONDS, seconds)
    supervisor.start("signs of life", live.hub.beat)
    for name, work in ways.tasks():
        supervisor.start(name, work)


@asynccontextmanager
async def _answering(desk: Desk, hub: Hub, request: Request, listener: socket.socket) -> AsyncIterator[str]:
    """Answer requests on `listener`; gives the address once it does."""
    names = frozenset(
        {*request.site.panel.hosts, socket.gethostname().lower(), f"{socket.gethostname().lower()}.local"}
    )
    panel = Path(str(files("monitor") / "panel"))
    app = build_app(
        desk,
        hub,
        names=names,
        panel=panel if (panel / "index.html").exists() else None,
        version=version("nightstoke"),
    )
    server = _Server(
        uvicorn.Config(
            app,
            log_level="warning",
            access_log=False,
            lifespan="off",
            ws_per_message_deflate=False,
            ws_max_size=64 * 1024,
            timeout_graceful_shutdown=GRACE_S,
            server_header=False,
            ssl_certfile=None if request.pair is None else request.pair.certificate,
            ssl_keyfile=None if request.pair is None else request.pair.key,
        )
    )
    task = asyncio.create_task(server.serve([listener]), name="http")
    address = _address(request, listener)
    try:
        await _started(server, task)
        with noted_address(request.data, address) as trouble:
            if trouble is not None:
                print(f"nightstoke: {trouble}; 'nightstoke firing' will not find this service", file=sys.stderr)
            yield address.url
    finally:
        server.should_exit = True
        await task


class _Server(uvicorn.Server):
    """A server that leaves signals to the service."""

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Capture none."""
        yield


async def _started(server: uvicorn.Server, task: "asyncio.Task[None]") -> None:
    while not server.started:
        if task.done():
            await task
            raise RuntimeError("the server ended before it began")
        await asyncio.sleep(0.01)


@contextmanager
def _listening(host: str, port: int) -> Iterator[socket.socket]:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    # Only where the protocol is named does asyncio send small frames at once; else they wait 40 ms for each other.
    with socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP) as listener:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((host, port))
        except OSError as error:
            remedy = "choose another with --port, or stop what uses it"
            raise CommandError(NOT_AVAILABLE, f"{host}:{port}: {error.strerror}; {remedy}") from error
        listener.listen(BACKLOG)
        listener.setblocking(False)  # noqa: FBT003 - the only way to say it
        yield listener


def _address(request: Request, listener: socket.socket) -> Address:
    shown = "127.0.0.1" if request.host in EVERY_ADDRESS else request.host
    name = f"[{shown}]" if ":" in shown else shown
    port = listener.getsockname()[1]
    if request.pair is None:
        return Address(f"http://{name}:{port}/")
    return Address(f"https://{name}:{port}/", request.pair.certificate)


def _warn_of_network(request: Request, listener: socket.socket) -> None:
    """Say on stderr how a tablet reaches the service, and that whoever does may do everything."""
    if request.host in {"127.0.0.1", "::1", "localhost"}:
        return
    seen = _lan_address() if request.host in EVERY_ADDRESS else request.host
    scheme = "http" if request.pair is None else "https"
    print(
        f"In this network: {scheme}://{seen}:{listener.getsockname()[1]}/ - there are no roles yet: "
        "whoever opens this address may silence and acknowledge alarms.",
        file=sys.stderr,
    )


def _lan_address() -> str:
    """Return the address by which this machine is reached; nothing is sent to find it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # RFC 5737 documentation address
        except OSError:
            return socket.gethostname()
        return str(probe.getsockname()[0])


@contextmanager
def _stopped_by_signals(stop: asyncio.Event) -> Iterator[None]:
    loop = asyncio.get_running_loop()
    for number in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(number, stop.set)
    try:
        yield
    finally:
        for number in (signal.SIGTERM, signal.SIGINT):
            loop.remove_signal_handler(number)


@asynccontextmanager
async def _running_beside(beside: Callable[[], Awaitable[None]] | None, stop: asyncio.Event) -> AsyncIterator[None]:
    async def along() -> None:
        if beside is not None:
            try:
                await beside()
            finally:
                stop.set()

    task = asyncio.create_task(along(), name="beside")
    try:
        yield
    finally:
        task.cancel()
        with suppress(asyncio.CancelledError):
            await task


def _clock(occasion: Occasion, floor: float) -> RecordClock:
    return HostClock(floor) if occasion.test is None else FollowingClock(floor)


def _conversion(site: Site) -> SiteConversion:
    conversions = conversions_of(site)
    inputs = tuple(sensor.input for sensor in site.sensor)
    key = repr((CONVERSION_VERSION, inputs, conversions))
    return SiteConversion(key, inputs, lambda block: convert_block(block, conversions))


def _stamp() -> str:
    return datetime.fromtimestamp(wall_seconds(), UTC).strftime("%Y%m%dT%H%M%SZ")
