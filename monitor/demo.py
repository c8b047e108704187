"""`nightstoke demo`: the whole service on a simulated kiln, through the very serial source that reads hardware.

The simulator runs as a process of its own and speaks on a real pseudo-terminal. The service takes its clock from it.
"""

import argparse
import asyncio
import os
import subprocess
import sys
import tempfile
from collections.abc import Awaitable, Callable
from pathlib import Path

from monitor.exits import OUR_FAULT, CommandError
from monitor.serve import Request, serve
from monitor.site_file import parse_site
from monitor.surroundings import Occasion
from monitor.tables import read_tables

READY_LIMIT_S = 30.0
END_LIMIT_S = 2.0
SOCKET_PATH_BYTES = 104
"""Room for the name of a Unix socket, with its end, where it is smallest."""
SIMULATOR = (sys.executable, "-m", "simulator")


def run(options: argparse.Namespace) -> int:
    """Run simulator and service until a signal comes or the simulated firing ends."""
    with tempfile.TemporaryDirectory(prefix="nightstoke-demo-") as folder:
        return asyncio.run(_demo(options, Path(folder)))


async def _demo(options: argparse.Namespace, folder: Path) -> int:
    training = _training(folder)
    course = ["--pty", str(folder / "kiln-line"), "--scenario", options.scenario, "--from", options.stage]
    text = _site_text(course)
    site = parse_site(text, "the demo's site file")
    tables = read_tables(site, folder)
    assert site.plan is not None
    assert site.plan.lit is not None
    command = [
        *SIMULATOR, *course,
        "--start", str(int(site.plan.lit.timestamp())),
        "--seed", str(options.seed),
        "--speed", str(options.speed),
        "--lead-in", str(options.lead_in),
        *([] if training is None else ["--training", str(training)]),
        "--after-alive",
        "--until-stdin-closes",
    ]  # fmt: skip
    simulator = await asyncio.create_subprocess_exec(
        *command, stdin=asyncio.subprocess.PIPE, stdout=asyncio.subprocess.PIPE
    )
    try:
        await _ready(simulator)
        data = folder / "data" if options.data is None else Path(options.data)
        occasion = Occasion("simulator", options.speed)
        request = Request(site, text, tables, data, options.host, options.port, occasion, training=training)
        print(
            f"This is a TEST on a simulated kiln, {options.speed:g} times as fast as life. Ctrl-C ends it.",
            file=sys.stderr,
        )
        return await serve(request, beside=_until_end(simulator))
    finally:
        await _end(simulator)


def _training(folder: Path) -> Path | None:
    """Return the socket by which the kiln may be fired, None where a path in `folder` is too long for one."""
    path = folder / "training"
    if len(os.fsencode(path)) < SOCKET_PATH_BYTES:
        return path
    print(f"nightstoke: {path} is too long a name for a socket: there is nothing to practise on", file=sys.stderr)
    return None


def _site_text(course: list[str]) -> str:
    done = subprocess.run(  # noqa: S603 - our own simulator
        [*SIMULATOR, *course, "--print-site"], capture_output=True, text=True, check=False
    )
    if done.returncode != 0:
        raise CommandError(done.returncode, done.stderr.strip() or "the simulator ended without a word")
    return done.stdout


async def _ready(simulator: asyncio.subprocess.Process) -> None:
    assert simulator.stdout is not None
    try:
        async with asyncio.timeout(READY_LIMIT_S):
            line = await simulator.stdout.readline()
    except TimeoutError:
        line = b""
    if not line.startswith(b"ready"):
        raise CommandError(OUR_FAULT, "the simulator did not start; see its words above")


def _until_end(simulator: asyncio.subprocess.Process) -> Callable[[], Awaitable[None]]:
    async def until_end() -> None:
        code = await simulator.wait()
        print(f"The simulated firing has ended (code {code}).", file=sys.stderr)

    return until_end


async def _end(simulator: asyncio.subprocess.Process) -> None:
    """Close the simulator's stdin, which it takes as the end; be firm if it does not."""
    if simulator.stdin is not None:
        simulator.stdin.close()
    try:
        async with asyncio.timeout(END_LIMIT_S):
            await simulator.wait()
    except TimeoutError:
        simulator.kill()
        await simulator.wait()
