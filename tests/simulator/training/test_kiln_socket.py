"""The socket of a practice: orders in, answers and the present out, the kiln back to the watch when the caller goes."""

import json
import socket
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from simulator.firing import Firing, scripted_watch
from simulator.script.scenarios import find_scenario
from simulator.spec.kiln_file import load_kiln
from simulator.training.kiln_socket import SharedTrainee, TrainingSocket
from simulator.training.trainee import Trainee

SPEC = load_kiln("demo")
LIT = 1_764_000_000


class Caller:
    """The other end: says lines, hears lines."""

    def __init__(self, path: Path) -> None:
        self._line = socket.socket(socket.AF_UNIX)
        self._line.settimeout(5.0)
        self._line.connect(str(path))
        self._file = self._line.makefile("rb")

    def say(self, words: object) -> None:
        """Say one line."""
        line = words if isinstance(words, bytes) else json.dumps(words).encode()
        self._line.sendall(line + b"\n")

    def hear(self, kind: str) -> dict[str, Any]:
        """Return the next line of a kind."""
        while line := self._file.readline():
            told: dict[str, Any] = json.loads(line)
            if told["kind"] == kind:
                return told
        raise EOFError

    def order(self, number: int, what: str, **more: object) -> dict[str, Any]:
        """Give an order and return its answer."""
        self.say({"kind": "order", "number": number, "what": what, **more})
        return self.hear("answer")

    def hang_up(self) -> None:
        """Go."""
        self._file.close()
        self._line.close()


Call = Callable[[], Caller]


class Practice:
    """A firing with a trainee behind a socket."""

    def __init__(self, path: Path) -> None:
        self.path = path
        watch = scripted_watch(SPEC, (), seed=1, lit=LIT)
        self.crew = SharedTrainee(Trainee(SPEC, watch, lit=LIT))
        self.firing = Firing(SPEC, find_scenario("steady"), seed=1, lit=LIT, crew=self.crew)

    def run(self, minutes: int) -> None:
        """Let the kiln go on."""
        self.crew.keep(self.firing.run(12 * minutes))


@pytest.fixture
def practice(tmp_path: Path) -> Iterator[Practice]:
    """Serve a kiln that was lit two minutes ago."""
    practice = Practice(tmp_path / "training")
    practice.run(2)
    with TrainingSocket(practice.path, practice.crew):
        yield practice
    assert not practice.path.exists()


@pytest.fixture
def call(practice: Practice) -> Iterator[Call]:
    """Return a function that calls; every caller hangs up in the end."""
    callers: list[Caller] = []

    def one() -> Caller:
        callers.append(Caller(practice.path))
        return callers[-1]

    yield one
    for caller in callers:
        caller.hang_up()


def until(is_so: Callable[[], bool]) -> None:
    """Wait until something is so."""
    deadline = time.monotonic() + 5.0
    while not is_so():
        assert time.monotonic() < deadline
        time.sleep(0.01)


def test_the_present_comes_first(call: Call) -> None:
    """Before anything is asked."""
    told = call().hear("practice")

    assert told["version"] == 1
    assert told["in_hand"] is False
    assert told["settings"].keys() == {"damper", "primary", "secondary"}


def test_an_order_is_answered_done_or_why_not(call: Call, practice: Practice) -> None:
    """By its number; the present follows at once and again when the kiln has gone on."""
    caller = call()
    assert caller.order(7, "stoke", armful="usual") == {
        "kind": "answer", "number": 7, "done": False, "why": "watch-has-it", "version": 1,
    }  # fmt: skip
    assert caller.order(8, "take-over")["done"] is True
    assert caller.hear("practice")["in_hand"] is True
    assert caller.order(9, "stoke", armful="usual") == {
        "kind": "answer", "number": 9, "done": True, "why": None, "version": 1,
    }  # fmt: skip
    assert caller.hear("practice")["last"]["what"] == "stoke"
    practice.run(1)

    assert caller.hear("practice")["stokes"] == 1


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (b"wood, please", "malformed"),
        ({"kind": "order", "number": 3, "what": "explode"}, "Invalid enum value"),
        ({"kind": "order", "number": 3, "what": "look", "version": 2}, "version 2 is not known here"),
        ({"kind": "order", "number": 3, "what": "damper", "to": "wide"}, "Expected `float"),
        (b"\xff\xff", "malformed"),
        (b"", "truncated"),
    ],
)
def test_what_is_no_order_is_answered_why_and_the_line_goes_on(call: Call, words: object, why: str) -> None:
    """Whatever the bytes."""
    caller = call()
    caller.say(words)
    told = caller.hear("answer")

    assert told["done"] is False
    assert why in told["why"]
    assert caller.order(4, "take-over")["done"] is True


def test_orders_may_come_in_pieces_and_in_a_bunch(call: Call) -> None:
    """A line is a line, however the bytes are cut."""
    caller = call()
    lines = b"".join(
        json.dumps({"kind": "order", "number": n, "what": what}).encode() + b"\n"
        for n, what in ((1, "take-over"), (2, "rake"), (3, "look"))
    )
    for begin in range(0, len(lines), 17):
        caller._line.sendall(lines[begin : begin + 17])

    assert [caller.hear("answer")["number"] for _ in range(3)] == [1, 2, 3]


def test_a_caller_that_goes_gives_the_kiln_back(call: Call, practice: Practice) -> None:
    """And the next one finds it with the watch."""
    caller = call()
    caller.order(1, "take-over")
    assert practice.crew.present().in_hand
    caller.hang_up()
    until(lambda: not practice.crew.present().in_hand)

    assert call().hear("practice")["in_hand"] is False


def test_a_second_caller_waits_for_the_first_to_go(call: Call) -> None:
    """One panel's service at a time has the kiln."""
    first, second = call(), call()
    first.hear("practice")
    heard = threading.Event()
    listener = threading.Thread(target=lambda: (second.hear("practice"), heard.set()))
    listener.start()
    assert not heard.wait(0.7)
    first.hang_up()
    listener.join(5.0)

    assert heard.is_set()


def test_a_caller_without_an_end_of_line_is_let_go(call: Call) -> None:
    """Memory stays bounded."""
    caller = call()
    for _ in range(20):
        try:
            caller._line.sendall(b"x" * 16_384)
        except BrokenPipeError:
            break
    with pytest.raises((EOFError, ConnectionResetError)):
        caller.hear("answer")


def test_nothing_new_is_not_told_again(call: Call, practice: Practice) -> None:
    """A kiln that stands still says nothing; one that goes on does."""
    caller = call()
    first = caller.hear("practice")
    time.sleep(1.2)
    practice.run(20)
    second = caller.hear("practice")

    assert second != first


def test_a_socket_left_over_is_taken_and_a_file_is_not(tmp_path: Path, practice: Practice) -> None:
    """Of a run that was killed; anything else there is left alone and named."""
    left, file = tmp_path / "left", tmp_path / "file"
    with socket.socket(socket.AF_UNIX) as line:
        line.bind(str(left))
    file.write_text("mine")
    with TrainingSocket(left, practice.crew):
        Caller(left).hang_up()
    with pytest.raises(OSError, match="file") as caught, TrainingSocket(file, practice.crew):
        pass

    assert caught.value.filename == str(file)
    assert file.read_text() == "mine"


def test_only_its_owner_may_call(practice: Practice) -> None:
    """Mode 600."""
    assert practice.path.stat().st_mode & 0o777 == 0o600


def test_the_end_does_not_wait_for_a_caller(tmp_path: Path) -> None:
    """Who is still there is hung up on, and the kiln is the watch's again."""
    practice = Practice(tmp_path / "short")
    practice.run(1)
    with TrainingSocket(practice.path, practice.crew):
        caller = Caller(practice.path)
        caller.order(1, "take-over")
        begun = time.monotonic()
    took_s = time.monotonic() - begun
    caller.hang_up()

    assert took_s < 1.0
    assert not practice.crew.present().in_hand
