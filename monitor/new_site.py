"""`nightstoke new-site`: a site file by warming one probe at a time, so that no input is guessed."""

import argparse
import asyncio
import json
import logging
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from monitor.clock import host_seconds, wall_seconds
from monitor.exits import BAD_ARGUMENTS, DONE, NOT_AVAILABLE, CommandError
from monitor.listen import Heard, listening
from monitor.model import Reading
from monitor.site_file import Place, parse_site

RISE_C = 5.0
"""A probe in a hand rises by more within seconds; noise and drifting cold junctions stay below."""
LEAST_SLOPE = 6e-6
"""Volts a degree of types R and S near room temperature (IEC 60584-1): no letter gives less, but B, which gives none
there and is warmed over a flame."""
WARM_LIMIT_S = 120.0
LONGEST_NAME = 80
PLAN_HINT = """\
# [plan]  # hours from lighting, degC at the guiding sensor
# points = [[0, 20], [48, 300], [96, 1280]]
"""
LETTERS = ("B", "E", "J", "K", "N", "R", "S", "T")


@dataclass(frozen=True, slots=True)
class Probe:
    """One probe as the person told it."""

    input: str
    place: Place
    letter: str | None


def run(options: argparse.Namespace) -> int:
    """Ask, listen, and write the site file."""
    logging.basicConfig(level=logging.ERROR)  # what a source would log is told in the dialogue
    out = Path(options.out)
    if out.exists():
        raise CommandError(BAD_ARGUMENTS, f"{out} is there already; name another file or move it away")
    if not out.absolute().parent.is_dir():
        raise CommandError(BAD_ARGUMENTS, f"{out}: cannot be written; name a file in a folder that exists")
    name, probes = asyncio.run(_interview(options.device, options.listen))
    text = site_text(name, options.device, probes, wall_seconds())
    parse_site(text, str(out))
    try:
        out.write_text(text, encoding="utf-8")
    except OSError as error:
        print(text)
        raise CommandError(BAD_ARGUMENTS, f"{out}: cannot be written: {error.strerror}; its text is above") from error
    print(f"{out} written. Look it over, then: nightstoke check --site {out}")
    return DONE


async def _interview(device: str, listen_s: float) -> tuple[str, list[Probe]]:
    async with listening(device) as (source, heard):
        print(f"Listening to {device} ...", flush=True)
        await asyncio.sleep(listen_s)
        if source.state.error is not None:
            raise CommandError(NOT_AVAILABLE, source.state.error)
        if not heard.newest:
            raise CommandError(NOT_AVAILABLE, f"{device}: nothing came within {listen_s:g} s; is the probe box on?")
        print(f"It delivers {', '.join(sorted(heard.newest))}.")
        name = await _ask("What is the kiln called? ")
        while len(name) > LONGEST_NAME:
            name = await _ask(f"That is longer than {LONGEST_NAME} letters. What is it called for short? ")
        probes = await _warm_all(heard)
    if not probes:
        raise CommandError(BAD_ARGUMENTS, "no probe was named, so nothing was written")
    return name or "Our kiln", probes


async def _warm_all(heard: Heard) -> list[Probe]:
    probes: list[Probe] = []
    while left := sorted(set(heard.newest) - {p.input for p in probes}):
        print(f"Not named yet: {', '.join(left)}.")
        if await _ask("Warm ONE probe in your hand and press Enter at once (or type 'done'): ") == "done":
            break
        moved = await _moved(heard, left)
        if moved is None:
            print("Nothing rose. Is that probe connected, and the right way round? Try again, or another one.")
            continue
        print(f"That is {moved}.")
        places = ", ".join(Place)
        place = Place(await _choose(f"Where does it stand ({places})? ", tuple(str(p) for p in Place)))
        letter = None
        if heard.newest[moved].temperature_c is None:
            letter = await _choose(f"Which type letter is on it ({', '.join(LETTERS)})? ", LETTERS)
        probes.append(Probe(moved, place, letter))
    return probes


async def _moved(heard: Heard, inputs: Iterable[str]) -> str | None:
    """Return the input that rises most, once it rose clearly; None where none does."""
    before = {name: heard.newest[name] for name in inputs}
    end = host_seconds() + WARM_LIMIT_S
    while host_seconds() < end:
        await asyncio.sleep(0.2)
        rises = {name: rise_c(old, heard.newest[name]) for name, old in before.items()}
        best = max(rises, key=lambda name: rises[name])
        others = max((rise for name, rise in rises.items() if name != best), default=0.0)
        if rises[best] >= RISE_C and rises[best] >= 2.0 * others:
            return best
    return None


def rise_c(before: Reading, after: Reading) -> float:
    """Return by how many degC an input rose, roughly: its type is not known yet, so the least slope counts a volt."""
    if before.temperature_c is not None and after.temperature_c is not None:
        return after.temperature_c - before.temperature_c
    if before.emf_volts is None or after.emf_volts is None:
        return 0.0
    return (after.emf_volts - before.emf_volts) / LEAST_SLOPE


async def _ask(question: str) -> str:
    print(question, end="", flush=True)
    if sys.stdin.isatty():
        # A thread that waits for a person would outlive Ctrl-C; a terminal is read once it has a whole line.
        await _until_readable(sys.stdin.fileno())
        line = sys.stdin.readline()
    else:
        line = await asyncio.to_thread(sys.stdin.readline)
    if not line:
        raise CommandError(BAD_ARGUMENTS, "the answers ended before the site file was made; nothing was written")
    return line.strip()


async def _until_readable(descriptor: int) -> None:
    loop = asyncio.get_running_loop()
    readable = asyncio.Event()
    loop.add_reader(descriptor, readable.set)
    try:
        await readable.wait()
    finally:
        loop.remove_reader(descriptor)


async def _choose(question: str, allowed: tuple[str, ...]) -> str:
    while True:
        answer = await _ask(question)
        for word in allowed:
            if word.lower() == answer.lower():
                return word
        print(f"{answer!r} is none of {', '.join(allowed)}.")


def site_text(name: str, device: str, probes: list[Probe], now: float) -> str:
    """Return a commented site file, made at epoch seconds `now`."""
    day = datetime.fromtimestamp(now, UTC).strftime("%Y-%m-%d")
    parts = [
        f"# Made by 'nightstoke new-site' on {day}. Every key is explained in DEVELOPERS.md.",
        f'[kiln]\nname = {_quoted(name)}\ntime_zone = "UTC"  # an IANA name such as "Europe/Lisbon"\n',
        f'[[source]]\nkind = "serial"\ndevice = {_quoted(device)}  # best a name under /dev/serial/by-id/\n',
    ]
    used: dict[str, int] = {}
    for probe in probes:
        used[probe.place] = used.get(probe.place, 0) + 1
        number = "" if used[probe.place] == 1 else f"-{used[probe.place]}"
        letter = "" if probe.letter is None else f'type = "{probe.letter}"\n'
        parts.append(
            f'[[sensor]]\nid = "{probe.place}{number}"\ninput = "{probe.input}"\n{letter}place = "{probe.place}"\n'
            "# correction = [[0.0, 0.0], [1000.0, -3.0]]  # degC read, degC to add\n"
        )
    parts.append(PLAN_HINT)
    return "\n".join(parts)


def _quoted(text: str) -> str:
    """Return `text` as a basic string of TOML, whose escapes are those of JSON."""
    return json.dumps(text, ensure_ascii=False)
