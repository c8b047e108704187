"""The system's players: which one there is, how it is given a sound, and one sound to try it by.

A sound goes to the player in memory (`memfd_create`, Linux), under a path of `/proc`: a full disk silences nothing.
"""

import os
import shlex
import shutil
import subprocess
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from monitor.exits import BAD_ARGUMENTS, CommandError
from monitor.sounder.pattern import Pattern, wav_of

PLAYERS = (("pw-play",), ("paplay",), ("aplay", "-q"))
PLAY_LIMIT_S = 15.0


def find_player(named: str | None) -> Sequence[str]:
    """Return the player that was named, with its options, else the first that the system has.

    Raises:
        CommandError: there is none.
    """
    found = shlex.split(named) if named else next((p for p in PLAYERS if shutil.which(p[0])), None)
    if not found or shutil.which(found[0]) is None:
        names = ", ".join(p[0] for p in PLAYERS)
        told = f"{named}: no such player" if named else f"no sound player found (looked for {names})"
        raise CommandError(BAD_ARGUMENTS, f"{told}; on Debian: apt-get install alsa-utils")
    return found


@contextmanager
def held_in_memory(sound: bytes) -> Iterator[tuple[str, int]]:
    """Hold a sound in memory; give the path under which a player reads it, and the descriptor that it must inherit."""
    descriptor = os.memfd_create("nightstoke-sound")
    try:
        with os.fdopen(descriptor, "wb", closefd=False) as out:
            out.write(sound)
        yield f"/proc/self/fd/{descriptor}", descriptor
    finally:
        os.close(descriptor)


def play_tone() -> str | None:
    """Play the pattern of the first priority once; return what went wrong and what to do, or None."""
    try:
        player = find_player(None)
    except CommandError as error:
        return str(error)
    with held_in_memory(wav_of(Pattern.FIRST, louder=False)) as (path, descriptor):
        try:
            done = subprocess.run(  # noqa: S603 - a fixed list of programs
                [*player, path], capture_output=True, text=True, timeout=PLAY_LIMIT_S, check=False,
                pass_fds=(descriptor,),
            )  # fmt: skip
        except subprocess.TimeoutExpired:
            return f"{player[0]} did not end within {PLAY_LIMIT_S:.0f} s; is the sound device in use?"
    if done.returncode != 0:
        reason = done.stderr.strip().splitlines()
        return f"{player[0]} failed: {reason[-1] if reason else done.returncode}; plug in a speaker or USB sound card"
    return None
