"""The Unix socket by which a person fires the simulated kiln: orders in, answers and the present out.

One caller at a time, the service that shows the panel; another one waits. When it goes, the watch has the kiln again.
A thread of its own serves it, so the kiln is shared under a lock. The lines are those of `monitor.wire.practice`.
"""

import os
import select
import socket
import threading
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Self

from monitor.wire.practice import (
    MAX_LINE_BYTES,
    Answer,
    Order,
    Practice,
    PracticeLineError,
    read_order,
    write_practice_line,
)
from simulator.crew.deeds import Deed
from simulator.firing import Trace
from simulator.kiln import Hands, Kiln
from simulator.training.person import Refusal
from simulator.training.trainee import Trainee

TELL_EVERY_S = 0.5
"""Least time between two tellings of the present that no order asked for."""
SEND_LIMIT_S = 2.0
"""A caller that takes nothing for so long is let go."""


class SharedTrainee:
    """A crew that two threads may use: the one that runs the kiln and the one that talks to a person."""

    def __init__(self, trainee: Trainee) -> None:
        self.deeds: list[Deed] = trainee.deeds
        self._trainee = trainee
        self._lock = threading.Lock()

    def tend(self, kiln: Kiln, *, hour: float, step_s: float, guide_c: float, outside_c: float) -> Hands:
        """Act for one step, as any crew."""
        with self._lock:
            return self._trainee.tend(kiln, hour=hour, step_s=step_s, guide_c=guide_c, outside_c=outside_c)

    def keep(self, trace: Trace) -> None:
        """Take in what truly happened."""
        with self._lock:
            self._trainee.keep(trace)

    def take(self, order: Order) -> Refusal | None:
        """Take an order of the person."""
        with self._lock:
            return self._trainee.take(order)

    def present(self) -> Practice:
        """Return the present as the person may know it."""
        with self._lock:
            return self._trainee.present()


class TrainingSocket:
    """Serves `crew` at `path` while it is entered."""

    def __init__(self, path: Path, crew: SharedTrainee) -> None:
        self._path = path
        self._crew = crew
        self._listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self._wake, self._waker = os.pipe()
        self._thread = threading.Thread(target=self._serve, name="training", daemon=True)

    def __enter__(self) -> Self:
        try:
            if self._path.is_socket():
                self._path.unlink()  # of a run before
            self._listener.bind(str(self._path))
            self._path.chmod(0o600)
            self._listener.listen(1)
        except OSError as error:
            self._shut()
            raise OSError(error.errno, error.strerror, str(self._path)) from error
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        os.write(self._waker, b".")
        self._thread.join()
        self._shut()
        self._path.unlink(missing_ok=True)

    def _shut(self) -> None:
        self._listener.close()
        os.close(self._wake)
        os.close(self._waker)

    def _serve(self) -> None:
        while True:
            if self._wake in _readable(self._listener, self._wake, None):
                return
            caller, _ = self._listener.accept()
            with caller:
                Talk(caller, self._crew).go_on(self._wake)


class Talk:
    """One connection, from its first line to its end."""

    def __init__(self, caller: socket.socket, crew: SharedTrainee) -> None:
        self._caller = caller
        self._crew = crew
        self._partial = b""
        self._told: Practice | None = None
        caller.settimeout(SEND_LIMIT_S)

    def go_on(self, wake: int) -> None:
        """Answer until the caller is gone or `wake` can be read; then give the kiln back to the watch."""
        with suppress(OSError):
            self._tell()
            while wake not in (readable := _readable(self._caller, wake, TELL_EVERY_S)):
                if self._caller in readable and not self._hear():
                    break
                self._tell()
        self._crew.take(Order(0, "give-back"))

    def _hear(self) -> bool:
        """Do what was heard; return False once the caller is gone or says no lines."""
        block = self._caller.recv(65_536)
        *lines, self._partial = (self._partial + block).split(b"\n")
        for line in lines:
            self._caller.sendall(write_practice_line(self._answer(line)))
        return bool(block) and len(self._partial) <= MAX_LINE_BYTES

    def _answer(self, line: bytes) -> Answer:
        try:
            order = read_order(line)
        except PracticeLineError as error:
            return Answer(0, done=False, why=str(error))
        refusal = self._crew.take(order)
        return Answer(order.number, done=refusal is None, why=refusal)

    def _tell(self) -> None:
        present = self._crew.present()
        if present != self._told:
            self._told = present
            self._caller.sendall(write_practice_line(present))


def _readable(line: socket.socket, wake: int, limit_s: float | None) -> list[socket.socket | int]:
    """Wait for either, `limit_s` at most, and return what can be read."""
    both: list[socket.socket | int] = [line, wake]
    return select.select(both, [], [], limit_s)[0]
