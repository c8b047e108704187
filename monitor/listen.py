"""Listening to a serial port for a while, for the commands that look before the service runs."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field

from monitor.model import Reading, Scan
from monitor.sources.serial_line import SerialPort, SerialSource
from monitor.wire.fields import PackError
from monitor.wire.pack import parse_pack


@dataclass(slots=True)
class Heard:
    """What came over a port: scans in order, packs that were none by kind, and the newest reading of each input."""

    scans: list[Scan] = field(default_factory=list)
    broken: dict[str, int] = field(default_factory=dict)
    newest: dict[str, Reading] = field(default_factory=dict)

    def take(self, payload: bytes, _name: str) -> None:
        """Take in one pack."""
        try:
            scans = parse_pack(payload)
        except PackError as error:
            self.broken[error.reason.value] = self.broken.get(error.reason.value, 0) + 1
            return
        for scan in scans:
            self.scans.append(scan)
            self.newest.update({reading.input: reading for reading in scan.readings})


@asynccontextmanager
async def listening(device: str) -> AsyncIterator[tuple[SerialSource, Heard]]:
    """Listen to `device` in the background, through the source that the service uses."""
    source, heard = SerialSource(SerialPort(device)), Heard()
    task = asyncio.create_task(source.run(heard.take), name=f"listen {device}")
    try:
        yield source, heard
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)
