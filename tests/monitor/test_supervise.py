"""Tasks that fail are told, tried again with growing waits, and do not take each other down."""

import asyncio
import logging

import pytest

from monitor import supervise
from monitor.supervise import Supervisor
from tests.made_up import until


@pytest.fixture(autouse=True)
def short_waits(monkeypatch: pytest.MonkeyPatch) -> None:
    """Wait 20 ms in place of half a second, 80 ms in place of ten seconds."""
    monkeypatch.setattr(supervise, "FIRST_WAIT_S", 0.02)
    monkeypatch.setattr(supervise, "LONGEST_WAIT_S", 0.08)


class Task:
    """A task that notes its starts and fails as long as it should."""

    def __init__(self, failures: int, *, runs_for_s: float = 0.0) -> None:
        self.starts: list[float] = []
        self._failures = failures
        self._runs_for_s = runs_for_s

    async def work(self) -> None:
        """Fail, or go on for ever."""
        self.starts.append(asyncio.get_running_loop().time())
        await asyncio.sleep(self._runs_for_s)
        if len(self.starts) <= self._failures:
            raise OSError("the port is gone")
        await asyncio.Event().wait()


async def test_a_failed_task_is_started_again_and_its_error_is_seen_meanwhile(
    caplog: pytest.LogCaptureFixture,
) -> None:
    """While it is down there is an error with its kind and words; while it runs there is none."""
    supervisor, task = Supervisor(), Task(failures=1)
    supervisor.start("source", task.work)
    with caplog.at_level(logging.ERROR):
        await until(lambda: supervisor.errors.get("source") == "OSError: the port is gone")
    await until(lambda: len(task.starts) == 2 and not supervisor.errors)
    await supervisor.stop()

    assert supervisor.restarts == {"source": 1}
    assert "source failed; trying again in 0.0 s" in caplog.text
    assert "the port is gone" in caplog.text


async def test_waits_grow_up_to_a_limit() -> None:
    """20, 40, 80, 80 ms: a fault that lasts does not keep the machine busy."""
    supervisor, task = Supervisor(), Task(failures=4)
    supervisor.start("source", task.work)
    await until(lambda: len(task.starts) == 5)
    await supervisor.stop()
    waits = [later - earlier for earlier, later in zip(task.starts, task.starts[1:], strict=False)]

    assert all(wait >= least for wait, least in zip(waits, (0.02, 0.04, 0.08, 0.08), strict=True))
    assert waits[3] < 0.16  # no third doubling
    assert supervisor.restarts == {"source": 4}


async def test_a_task_that_ran_for_long_is_started_again_soon() -> None:
    """After a long good run the next failure waits the first, short while again."""
    supervisor, task = Supervisor(), Task(failures=3, runs_for_s=0.1)
    supervisor.start("source", task.work)
    await until(lambda: len(task.starts) == 4)
    await supervisor.stop()
    waits = [later - earlier - 0.1 for earlier, later in zip(task.starts, task.starts[1:], strict=False)]

    assert max(waits) < 0.07


async def test_an_endless_task_that_ends_is_a_fault() -> None:
    """Nothing that should run for ever may end without a word."""

    async def ends() -> None:
        return

    supervisor = Supervisor()
    supervisor.start("seconds", ends)
    await until(lambda: supervisor.errors.get("seconds") == "ended by itself")
    await supervisor.stop()

    assert supervisor.restarts["seconds"] >= 1


async def test_one_failing_task_leaves_the_others_alone() -> None:
    """The healthy one was started once."""
    supervisor, ill, well = Supervisor(), Task(failures=100), Task(failures=0)
    supervisor.start("ill", ill.work)
    supervisor.start("well", well.work)
    await until(lambda: len(ill.starts) >= 3)
    await supervisor.stop()

    assert len(well.starts) == 1
    assert supervisor.restarts["well"] == 0


async def test_stopping_ends_all_tasks_and_waits_for_them() -> None:
    """Whatever a task has to put away is put away when `stop` returns."""
    put_away: list[str] = []

    async def careful() -> None:
        try:
            await asyncio.Event().wait()
        finally:
            await asyncio.sleep(0.01)
            put_away.append("done")

    supervisor, waiting = Supervisor(), Task(failures=100)
    supervisor.start("careful", careful)
    supervisor.start("waiting", waiting.work)
    await until(lambda: bool(waiting.starts))
    await supervisor.stop()

    assert put_away == ["done"]
    assert [t.get_name() for t in asyncio.all_tasks() if t.get_name() in {"careful", "waiting"}] == []
