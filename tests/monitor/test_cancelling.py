"""A cancellation that a library swallowed is heeded at the next look."""

import asyncio
from contextlib import suppress

import pytest

from monitor.cancelling import heed_cancellation


async def test_swallowed_cancellation_is_raised_again() -> None:
    """A loop around a library that loses the word ends all the same."""
    turns = 0

    async def loop() -> None:
        nonlocal turns
        while True:
            with suppress(asyncio.CancelledError):
                await asyncio.sleep(3600.0)
            turns += 1
            heed_cancellation()

    task = asyncio.create_task(loop())
    await asyncio.sleep(0.0)
    task.cancel()

    with pytest.raises(asyncio.CancelledError):
        await asyncio.wait_for(task, 1.0)
    assert turns == 1


async def test_task_that_was_not_cancelled_goes_on() -> None:
    """Nobody is ended by looking."""
    heed_cancellation()


def test_outside_a_task_nothing_is_raised() -> None:
    """A call from a callback of the loop belongs to no task."""
    loop = asyncio.new_event_loop()
    try:
        loop.call_soon(heed_cancellation)
        loop.call_soon(loop.stop)
        loop.run_forever()
        assert not loop.is_running()
    finally:
        loop.close()
