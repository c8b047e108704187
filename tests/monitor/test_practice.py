"""The service's line to a kiln to practise on, with a scripted kiln on the other end of a real socket."""

import asyncio
import json
from collections import Counter
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress
from pathlib import Path

import msgspec
import pytest

from monitor import practice as module
from monitor.practice import PracticeLine
from monitor.wire.practice import Answer, Order, Practice, read_order, write_practice_line
from tests.made_up import until

GOLDEN = Path(__file__).parents[1] / "golden" / "messages"
PRESENT = msgspec.convert(json.loads((GOLDEN / "snapshot.json").read_text())["practice"], Practice)

Reply = Callable[[Order], bytes]


class ScriptedKiln:
    """Answers orders as the test wants, and notes them."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.orders: list[Order] = []
        self.reply: Reply = lambda order: write_practice_line(Answer(order.number, done=True))
        self.callers: list[asyncio.StreamWriter] = []
        self._server: asyncio.Server | None = None

    async def open(self) -> None:
        """Listen."""
        self._server = await asyncio.start_unix_server(self._serve, self.path)

    async def close(self) -> None:
        """Hang up on every caller and listen no more."""
        for caller in self.callers:
            caller.close()
        self.callers.clear()
        if self._server is not None:
            self._server.close()
            await self._server.wait_closed()

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self.callers.append(writer)
        writer.write(write_practice_line(PRESENT))
        while line := await reader.readline():
            order = read_order(line)
            self.orders.append(order)
            writer.write(self.reply(order))
        writer.close()


@asynccontextmanager
async def connected(
    path: Path, counts: Counter[str] | None = None
) -> AsyncIterator[tuple[PracticeLine, ScriptedKiln, list[Practice]]]:
    """Give a line that has heard the kiln's present."""
    kiln, told = ScriptedKiln(path), list[Practice]()
    line = PracticeLine(path, told.append, Counter() if counts is None else counts)
    await kiln.open()
    task = asyncio.create_task(line.run())
    try:
        await until(lambda: bool(told))
        yield line, kiln, told
    finally:
        task.cancel()
        with suppress(asyncio.CancelledError):
            await task
        await kiln.close()


async def test_the_present_is_passed_on(tmp_path: Path) -> None:
    """As the kiln tells it."""
    async with connected(tmp_path / "kiln") as (_, _, told):
        pass

    assert told == [PRESENT]


async def test_each_order_gets_its_own_answer(tmp_path: Path) -> None:
    """Two at once, answered each by its number, whatever number the caller gave."""
    async with connected(tmp_path / "kiln") as (line, kiln, _):
        kiln.reply = lambda o: write_practice_line(Answer(o.number, done=o.what == "rake", why=o.zone))
        rake, side = await asyncio.gather(line.order(Order(0, "rake")), line.order(Order(0, "side-stoke", zone="x")))

    assert rake is not None
    assert side is not None
    assert (rake.done, side.done, side.why) == (True, False, "x")
    assert rake.number != side.number
    assert [order.what for order in kiln.orders] == ["rake", "side-stoke"]


async def test_a_kiln_that_does_not_answer_is_not_waited_for_long(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No answer after the limit; a late one to it disturbs nobody."""
    monkeypatch.setattr(module, "ANSWER_LIMIT_S", 0.05)
    async with connected(tmp_path / "kiln") as (line, kiln, _):
        kiln.reply = lambda _: b""
        silent = await line.order(Order(0, "look"))
        kiln.reply = lambda o: b"".join(write_practice_line(Answer(n, done=True)) for n in (o.number - 1, o.number))
        heard = await line.order(Order(0, "look"))

    assert silent is None
    assert heard is not None
    assert heard.done


async def test_a_kiln_that_goes_leaves_nobody_waiting(tmp_path: Path) -> None:
    """Who waits is told at once; once the kiln is there again, so is the line."""
    async with connected(tmp_path / "kiln") as (line, kiln, told):
        kiln.reply = lambda _: b""
        order = asyncio.create_task(line.order(Order(0, "rake")))
        await until(lambda: bool(kiln.orders))
        await kiln.close()
        (tmp_path / "kiln").unlink(missing_ok=True)
        assert await order is None
        assert await line.order(Order(0, "rake")) is None
        kiln.reply = lambda o: write_practice_line(Answer(o.number, done=True))
        await kiln.open()
        await until(lambda: len(told) == 2)
        answer = await line.order(Order(0, "rake"))

    assert answer is not None


async def test_a_broken_line_is_counted_and_passed_over(tmp_path: Path) -> None:
    """What follows it is heard."""
    counts = Counter[str]()
    async with connected(tmp_path / "kiln", counts) as (_, kiln, told):
        kiln.callers[0].write(b'{"kind":"song"}\n' + write_practice_line(PRESENT))
        await until(lambda: len(told) == 2)

    assert counts == {"practice_lines_broken": 1}
