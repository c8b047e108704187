"""Plays a pattern again and again through a player; one that fails or hangs is told and tried again."""

import contextlib
import subprocess
from collections.abc import Sequence
from types import TracebackType
from typing import Self

from monitor.sounder.pattern import PERIOD_S, Pattern, wav_of
from monitor.sounder.players import held_in_memory

HANGS_AFTER_S = 15.0
"""No pattern is longer: a player that still runs then holds the sound up."""

Wanted = tuple[Pattern, bool]
"""A pattern, and whether it is to be louder."""


class Player:
    """One player program, given the path of a WAV as its last argument; `error` says what is wrong with it."""

    def __init__(self, command: Sequence[str]) -> None:
        self._command = tuple(command)
        self._held = contextlib.ExitStack()
        self._sounds: dict[Wanted, tuple[str, int]] = {
            (pattern, louder): self._held.enter_context(held_in_memory(wav_of(pattern, louder=louder)))
            for pattern in Pattern
            for louder in (False, True)
        }
        self._playing: Wanted | None = None
        self._process: subprocess.Popen[bytes] | None = None
        self._begun_s = float("-inf")
        self.error: str | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self._stop()
        self._held.close()

    def play(self, wanted: Wanted | None, now_s: float) -> None:
        """Let `wanted` sound from now on, or nothing; call it several times a second."""
        if wanted != self._playing:
            self._stop()
            self._playing = wanted
        if wanted is None:
            return
        self._look(now_s)
        if self._process is None and now_s - self._begun_s >= PERIOD_S[wanted[0]]:
            self._begin(wanted, now_s)

    def _begin(self, wanted: Wanted, now_s: float) -> None:
        self._begun_s = now_s
        path, descriptor = self._sounds[wanted]
        try:
            self._process = subprocess.Popen(  # noqa: S603 - the program that the person named, or the system's
                [*self._command, path], stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, pass_fds=(descriptor,)
            )
        except OSError as error:
            self.error = f"{self._command[0]}: {error.strerror or error}"

    def _look(self, now_s: float) -> None:
        if self._process is None:
            return
        code = self._process.poll()
        if code is None:
            if now_s - self._begun_s >= HANGS_AFTER_S:
                self.error = f"{self._command[0]} hangs; is the sound device in use?"
                self._stop()
            return
        self._process = None
        self.error = None if code == 0 else f"{self._command[0]} failed with {code}; is a speaker connected?"

    def _stop(self) -> None:
        if self._process is not None:
            self._process.kill()
            with contextlib.suppress(subprocess.TimeoutExpired):
                self._process.wait(timeout=1.0)
        self._process = None
        self._begun_s = float("-inf")
