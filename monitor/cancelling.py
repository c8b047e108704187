"""Being told to end, and heeding it where a library loses the word.

In Python 3.11 `asyncio.wait_for` drops a cancellation that comes in the moment its own work is done (python/cpython
issue 86296), and libraries wait with it. A loop around such a library asks here, or it would go on for ever. Ask only
in a task in which no TaskGroup has failed before: there, the same Python leaves the mark of a cancellation behind.
"""

import asyncio


def heed_cancellation() -> None:
    """Raise CancelledError if this task was cancelled, even if the exception itself got lost on the way."""
    task = asyncio.current_task()
    if task is not None and task.cancelling():
        raise asyncio.CancelledError
