"""Tasks that must not take each other down: a failed one is told, restarted after a while, and counted."""

import asyncio
import logging
from collections.abc import Awaitable, Callable

FIRST_WAIT_S = 0.5
LONGEST_WAIT_S = 10.0

log = logging.getLogger("nightstoke")


class Supervisor:
    """Runs named endless tasks; `errors` holds the reason of each that is down, `restarts` counts them."""

    def __init__(self) -> None:
        self.errors: dict[str, str] = {}
        self.restarts: dict[str, int] = {}
        self._tasks: list[asyncio.Task[None]] = []

    def start(self, name: str, work: Callable[[], Awaitable[None]]) -> None:
        """Run `work` under `name` until `stop`, again after each failure with growing waits."""
        self.restarts[name] = 0
        self._tasks.append(asyncio.create_task(self._keep(name, work), name=name))

    async def stop(self) -> None:
        """Cancel all tasks and wait for their ends."""
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)
        self._tasks.clear()

    async def _keep(self, name: str, work: Callable[[], Awaitable[None]]) -> None:
        wait_s = FIRST_WAIT_S
        while True:
            started = asyncio.get_running_loop().time()
            try:
                await work()
                self.errors[name] = "ended by itself"
            except Exception as error:
                log.exception("%s failed; trying again in %.1f s", name, wait_s)
                self.errors[name] = f"{type(error).__name__}: {error}"
            if asyncio.get_running_loop().time() - started > LONGEST_WAIT_S:
                wait_s = FIRST_WAIT_S
            self.restarts[name] += 1
            await asyncio.sleep(wait_s)
            wait_s = min(wait_s * 2, LONGEST_WAIT_S)
            self.errors.pop(name, None)
