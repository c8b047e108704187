"""`nightstoke check`: is everything ready for tonight? Says what is wrong and what to do, and leaves nothing behind."""

import argparse
import asyncio
import errno
import logging
import os
import shutil
import socket
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from monitor.clock import host_seconds, wall_seconds
from monitor.exits import DONE, NOT_AVAILABLE
from monitor.listen import Heard, listening
from monitor.site_file import Site
from monitor.site_reader import read_site
from monitor.sounder.players import play_tone
from monitor.store.connection import FILE_NAME
from monitor.store.errors import StoreError
from monitor.store.opening import open_reader

LEAST_FREE_BYTES = 500_000_000
SLOW_SYNC_S = 1.0
BROKER_LIMIT_S = 3.0
EARLIEST_NOW = 1_780_000_000.0
"""28 May 2026, before this program was: a clock before this was never set."""
SYNCED_FILE = Path("/run/systemd/timesync/synchronized")
TIME_SERVICE_FOLDER = SYNCED_FILE.parent
ADDRESS_REMEDIES = {
    errno.EADDRINUSE: "is the service running already? If not, choose another --port",
    errno.EACCES: "choose a --port from 1024 on",
}
SCREEN_WORDS = {True: "ok   ", False: "WRONG"}


@dataclass(frozen=True, slots=True)
class Verdict:
    """One thing looked at: whether it is well, and words that say what to do if not."""

    is_well: bool
    words: str


def run(options: argparse.Namespace) -> int:
    """Look at everything and tell it line by line; exit code 4 if anything is wrong."""
    logging.basicConfig(level=logging.ERROR)  # what a source would log is told as a verdict
    path = Path(options.site)
    site = read_site(path)
    verdicts = [Verdict(is_well=True, words=f"site file {path}: {site.kiln.name}, {len(site.sensor)} sensors")]
    _tell(verdicts[0])
    for verdict in _looks(site, options):
        verdicts.append(verdict)
        _tell(verdict)
    return DONE if all(v.is_well for v in verdicts) else NOT_AVAILABLE


def _tell(verdict: Verdict) -> None:
    print(f"{SCREEN_WORDS[verdict.is_well]} {verdict.words}", flush=True)


def _looks(site: Site, options: argparse.Namespace) -> Iterator[Verdict]:
    yield from _look_at_sources(site, options.listen)
    yield look_at_disk(Path(options.data))
    yield look_at_store(Path(options.data))
    yield look_at_clock(Path(options.data))
    yield look_at_address(options.host, options.port)
    if not options.no_tone:
        yield look_at_sound()


def _look_at_sources(site: Site, listen_s: float) -> Iterator[Verdict]:
    heard: set[str] = set()
    for number, source in enumerate(site.source, start=1):
        if source.device is not None:
            verdict, inputs = asyncio.run(look_at_port(site, source.device, listen_s))
            heard |= inputs
            yield verdict
        elif source.kind == "mqtt":
            assert site.broker is not None
            yield look_at_broker(site.broker.host, site.broker.port)
        else:
            words = f"source[{number}]: {source.kind!r} is not served by this version yet; use 'serial' or 'mqtt'"
            yield Verdict(is_well=False, words=words)
    if not site.source:
        yield Verdict(is_well=False, words="the site file names no [[source]]: nothing would be measured; add one")
    elif heard and all(source.kind == "serial" for source in site.source):
        yield from _unheard(site, heard)


def _unheard(site: Site, heard: set[str]) -> Iterator[Verdict]:
    """Name the sensors whose node was on no port at all; a port that was silent told its own."""
    nodes = {name.partition("/")[0] for name in heard}
    unheard = [f"{s.id} ({s.input})" for s in site.sensor if s.input.partition("/")[0] not in nodes]
    if unheard:
        words = f"no port delivers {', '.join(unheard)}: is that probe box on? Correct input or add its [[source]]"
        yield Verdict(is_well=False, words=words)


def look_at_broker(host: str, port: int) -> Verdict:
    """Connect to the broker and leave again; user and password are not tried."""
    try:
        socket.create_connection((host, port), BROKER_LIMIT_S).close()
    except OSError as error:
        words = f"broker {host}:{port}: {error.strerror or error}; is it running, and its address right?"
        return Verdict(is_well=False, words=words)
    return Verdict(is_well=True, words=f"broker {host}:{port}: answers (user and password were not tried)")


async def look_at_port(site: Site, device: str, listen_s: float) -> tuple[Verdict, set[str]]:
    """Listen to a serial port, compare what comes with the site's inputs, and return what came."""
    async with listening(device) as (source, heard):
        end = host_seconds() + listen_s
        while host_seconds() < end and not _is_complete(site, set(heard.newest)):  # noqa: ASYNC110 - nobody tells us
            await asyncio.sleep(0.05)
        error = source.state.error
        dropped = source.lines.counts.no_crc + source.lines.counts.bad_crc + source.lines.counts.too_long
    if error is not None:
        return Verdict(is_well=False, words=error), set()
    if not heard.newest:
        reason = _what_came(dropped, heard)
        words = f"port {device}: {reason} came within {listen_s:g} s; is the probe box on, and this its port?"
        return Verdict(is_well=False, words=words), set()
    return _compare(site, device, sorted(heard.newest)), set(heard.newest)


def _what_came(dropped: int, heard: Heard) -> str:
    if heard.scans:
        return "scans without any input"
    if heard.broken:
        kinds = ", ".join(f"{number} {kind}" for kind, number in sorted(heard.broken.items()))
        return f"only packs that are refused ({kinds})"
    return f"only {dropped} broken lines" if dropped else "nothing"


def _is_complete(site: Site, inputs: set[str]) -> bool:
    return {sensor.input for sensor in site.sensor} <= inputs


def _compare(site: Site, device: str, inputs: list[str]) -> Verdict:
    nodes = {name.partition("/")[0] for name in inputs}
    wanted = [s for s in site.sensor if s.input.partition("/")[0] in nodes]
    silent = [f"{s.id} ({s.input})" for s in wanted if s.input not in inputs]
    if not wanted:
        return Verdict(
            is_well=False,
            words=f"port {device}: delivers {', '.join(inputs)}, which no sensor of the site file uses; correct input",
        )
    if silent:
        return Verdict(
            is_well=False, words=f"port {device}: nothing for {', '.join(silent)}; it delivers {', '.join(inputs)}"
        )
    return Verdict(is_well=True, words=f"port {device}: delivers {', '.join(inputs)}")


def look_at_disk(directory: Path) -> Verdict:
    """Measure free space and one synced write where firings are stored."""
    existing = next(p for p in (directory, *directory.absolute().parents) if p.is_dir())
    free = shutil.disk_usage(existing).free
    if free < LEAST_FREE_BYTES:
        return Verdict(
            is_well=False, words=f"disk of {directory}: {free / 1e6:.0f} MB free; free some, 500 MB are a good reserve"
        )
    try:
        sync_s = _time_synced_write(existing)
    except OSError as error:
        return Verdict(
            is_well=False, words=f"data directory {directory}: {error.strerror}; choose another or its permissions"
        )
    if sync_s > SLOW_SYNC_S:
        return Verdict(
            is_well=False, words=f"disk of {directory}: a synced write took {sync_s:.1f} s; use a faster one"
        )
    return Verdict(
        is_well=True, words=f"disk of {directory}: {free / 1e9:.1f} GB free, a synced write takes {sync_s * 1e3:.0f} ms"
    )


def _time_synced_write(directory: Path) -> float:
    began = time.perf_counter()
    with tempfile.TemporaryFile(dir=directory) as file:
        file.write(b"\0" * 4096)
        file.flush()
        os.fsync(file.fileno())
    return time.perf_counter() - began


def look_at_store(directory: Path) -> Verdict:
    """Read the list of firings, if there is a store yet."""
    if not directory.exists():
        return Verdict(is_well=True, words=f"data directory {directory}: not there yet; the service will make it")
    if not (directory / FILE_NAME).exists():
        return Verdict(is_well=True, words=f"data directory {directory}: no firing yet")
    try:
        reader = open_reader(directory)
        try:
            firings = reader.firings()
        finally:
            reader.close()
    except StoreError as error:
        return Verdict(is_well=False, words=str(error))
    open_ones = [firing.id for firing in firings if firing.ended is None]
    going_on = f", {open_ones[-1]} is open and would go on" if open_ones else ""
    return Verdict(is_well=True, words=f"data directory {directory}: {len(firings)} firings{going_on}")


def look_at_clock(directory: Path) -> Verdict:
    """Judge the machine's clock by the calendar, the newest record and the time service."""
    now = wall_seconds()
    shown = datetime.fromtimestamp(now, UTC).strftime("%Y-%m-%d %H:%M:%S UTC")
    if now < EARLIEST_NOW:
        return Verdict(is_well=False, words=f"clock: says {shown}, so it was never set; set it, or give it a battery")
    newest = _newest_file_time(directory)
    if newest > now + 60.0:
        return Verdict(is_well=False, words=f"clock: says {shown}, before the newest record; set it")
    if TIME_SERVICE_FOLDER.exists() and not SYNCED_FILE.exists():
        return Verdict(is_well=False, words=f"clock: says {shown}, not yet set by the time service; wait or set it")
    kept = "kept by the time service" if SYNCED_FILE.exists() else "no time service seen: compare it with a watch"
    return Verdict(is_well=True, words=f"clock: {shown}, {kept}")


def _newest_file_time(directory: Path) -> float:
    if not directory.is_dir():
        return 0.0
    return max((path.stat().st_mtime for path in directory.iterdir()), default=0.0)


def look_at_address(host: str, port: int) -> Verdict:
    """Try to take the address the service would listen at."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as error:
            remedy = ADDRESS_REMEDIES.get(error.errno or 0, "use 127.0.0.1 or an address of this machine")
            return Verdict(is_well=False, words=f"address {host}:{port}: {error.strerror}; {remedy}")
    return Verdict(is_well=True, words=f"address {host}:{port}: free")


def look_at_sound() -> Verdict:
    """Play the test tone."""
    trouble = play_tone()
    if trouble is not None:
        return Verdict(is_well=False, words=f"sound of this machine: {trouble} (or leave it out with --no-tone)")
    return Verdict(is_well=True, words="sound of this machine: the urgent sound was played for 10 s; did you hear it?")
