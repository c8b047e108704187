"""The line to a simulated kiln that a person may fire: orders of panels go out, answers and the kiln's present come in.

Only the demo has one. It passes on and decides nothing; when this service goes, the simulator's watch has the kiln
again by itself.
"""

import asyncio
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from itertools import count
from pathlib import Path
from typing import NoReturn

from msgspec.structs import replace

from monitor.wire.practice import (
    MAX_LINE_BYTES,
    Answer,
    Order,
    Practice,
    PracticeLineError,
    read_from_kiln,
    write_practice_line,
)

PAUSE_S = 0.5
"""Between two tries to reach the kiln."""
ANSWER_LIMIT_S = 3.0


class PracticeLine:
    """The kiln behind the socket at `path`; `on_present` is told each new present, `counts` what could not be read."""

    def __init__(self, path: Path, on_present: Callable[[Practice], None], counts: Counter[str]) -> None:
        self._path = path
        self._on_present = on_present
        self._counts = counts
        self._numbers = count(1)
        self._waiting: dict[int, asyncio.Future[Answer]] = {}
        self._writer: asyncio.StreamWriter | None = None

    async def run(self) -> NoReturn:
        """Stay connected until cancelled."""
        while True:
            with suppress(OSError):
                await self._talk()
            await asyncio.sleep(PAUSE_S)

    async def order(self, order: Order) -> Answer | None:
        """Pass an order on, numbered here; return the kiln's answer, None where it gives none."""
        if self._writer is None:
            return None
        number = next(self._numbers)
        answer: asyncio.Future[Answer] = asyncio.get_running_loop().create_future()
        self._waiting[number] = answer
        try:
            self._writer.write(write_practice_line(replace(order, number=number)))
            async with asyncio.timeout(ANSWER_LIMIT_S):
                await self._writer.drain()
                return await answer
        except (TimeoutError, OSError):
            return None
        finally:
            del self._waiting[number]

    async def _talk(self) -> None:
        reader, writer = await asyncio.open_unix_connection(self._path, limit=MAX_LINE_BYTES)
        self._writer = writer
        try:
            while line := await reader.readline():
                self._hear(line)
        finally:
            self._writer = None
            for answer in [each for each in self._waiting.values() if not each.done()]:
                answer.set_exception(ConnectionResetError("the kiln is gone"))
            writer.close()
            with suppress(OSError):
                await writer.wait_closed()

    def _hear(self, line: bytes) -> None:
        try:
            said = read_from_kiln(line)
        except PracticeLineError:
            self._counts["practice_lines_broken"] += 1
            return
        if isinstance(said, Practice):
            self._on_present(said)
        elif (answer := self._waiting.get(said.number)) is not None and not answer.done():
            answer.set_result(said)
