"""`nightstoke sound`: the voice of the host, a small process of its own that also sounds when the service is dead.

It asks the service every two seconds what should be heard, and needs nothing else of it, so that what kills the one
leaves the other alive; the init system starts it again if it ends.
"""

import argparse
import json
import signal
import sys
import time
import urllib.error
import urllib.request
from http.client import HTTPException
from pathlib import Path
from threading import Event
from typing import Any

from monitor.exits import BAD_ARGUMENTS, DONE, CommandError
from monitor.sounder.player import Player
from monitor.sounder.players import find_player
from monitor.sounder.vigil import Vigil, Word
from monitor.tls import trust_of

ASK_EVERY_S = 2.0
ANSWER_LIMIT_S = 2.0
LOOK_EVERY_S = 0.2
ARMED, AT_REST = "armed", "at rest"
_STATES = frozenset({ARMED, AT_REST})


def run(options: argparse.Namespace) -> int:
    """Ask and sound until a signal comes."""
    memory = Path(options.memory)
    vigil = Vigil(time.monotonic(), armed=was_armed(memory))
    stop = Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: stop.set())
    signal.signal(signal.SIGUSR1, lambda *_: vigil.hush(time.monotonic()))
    asker = Asker(options.service, options.name, options.certificate)
    with Player(find_player(options.player)) as player:
        print(f"nightstoke sound asks {options.service}; SIGUSR1 makes it quiet for a minute", flush=True)
        _keep(vigil, asker, player, memory, stop)
    return DONE


def _keep(vigil: Vigil, asker: "Asker", player: Player, memory: Path, stop: Event) -> None:
    asked_s, told, remembered = float("-inf"), "", vigil.armed
    while not stop.wait(LOOK_EVERY_S):
        now_s = time.monotonic()
        if now_s - asked_s >= ASK_EVERY_S:
            asked_s = now_s
            try:
                vigil.hear(asker.ask(player.error), time.monotonic())
            except (OSError, HTTPException, ValueError, KeyError, TypeError) as error:
                vigil.miss(f"the service gives no answer: {error}")
            if vigil.armed is not remembered and remember(memory, armed=vigil.armed):
                remembered = vigil.armed
        player.play(vigil.wanted(time.monotonic()), time.monotonic())
        words = "; ".join(word for word in (vigil.trouble, player.error) if word)
        if words != told:
            told = words
            print(f"nightstoke sound: {words or 'all is well'}", file=sys.stderr, flush=True)


class Asker:
    """Asks one service under a name; no proxy on the way, and its own certificate trusted where one is given."""

    def __init__(self, service: str, name: str, certificate: str | None) -> None:
        self._url = f"{service.rstrip('/')}/api/voice"
        self._name = name
        handlers: list[urllib.request.BaseHandler] = [urllib.request.ProxyHandler({})]
        if certificate is not None:
            try:
                handlers.append(urllib.request.HTTPSHandler(context=trust_of(Path(certificate))))
            except OSError as error:
                raise CommandError(BAD_ARGUMENTS, f"--certificate {certificate}: {error}") from error
        self._opener = urllib.request.build_opener(*handlers)

    def ask(self, error: str | None) -> Word:
        """Tell the service that this voice is there, and what is wrong with it; return its word.

        Raises:
            OSError, HTTPException, ValueError, KeyError, TypeError: where no good answer came.
        """
        body = json.dumps({"name": self._name, "error": error}).encode()
        request = urllib.request.Request(self._url, body, {"Content-Type": "application/json"})  # noqa: S310
        with self._opener.open(request, timeout=ANSWER_LIMIT_S) as answer:
            told: dict[str, Any] = json.load(answer)
        sounding = told["sounding"]
        if sounding not in {None, 1, 2, 3}:
            raise ValueError(f"priority {sounding!r}")
        flags = {name: bool(told[name]) for name in ("louder", "silenced", "armed")}
        return Word(int(told["beats"]), sounding, stuck=told["stuck"], **flags)


def was_armed(memory: Path) -> bool:
    """Return whether a firing was open when this was last known; what does not say so counts as none, and is told."""
    try:
        word = memory.read_text(encoding="ascii").strip()
    except (OSError, UnicodeDecodeError):
        word = ""
    if word not in _STATES:
        print(f"nightstoke sound: {memory} does not say whether a firing is open; taken for none", file=sys.stderr)
    return word == ARMED


def remember(memory: Path, *, armed: bool) -> bool:
    """Keep whether a firing is open; where that cannot be kept it is said, and tried again by whoever sees False."""
    new = memory.with_suffix(".new")
    try:
        new.write_text(f"{ARMED if armed else AT_REST}\n", encoding="ascii")
        new.replace(memory)
    except OSError as error:
        print(f"nightstoke sound: {memory} cannot be written: {error.strerror}", file=sys.stderr, flush=True)
        return False
    return True
