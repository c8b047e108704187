"""Fixtures that more than one room's tests use: a broker, a node on a pseudo-terminal, no loose ends."""

import asyncio
import signal
from collections.abc import AsyncIterator, Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import pytest_asyncio

from tests.peers import Mosquitto, PtyNode

BROKERS = frozenset({"mosquitto", "house_broker"})
SYSTEM = Path(__file__).parent / "system"
CHROMIUM_ARGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--autoplay-policy=no-user-gesture-required",
]


def pytest_configure() -> None:
    """Take Ctrl-C as on a terminal: a shell that starts the tests in the background has all its children ignore it."""
    signal.signal(signal.SIGINT, signal.default_int_handler)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Run browser tests last, mark what runs alone, and let no asynchronous test leave a task behind.

    Whole services, brokers and browsers are watched in real time and look at the machine's processes: beside other
    tests they would fail for want of time. The synchronous browser fixtures keep a loop running in the main thread, in
    which later asyncio tests cannot start theirs (microsoft/playwright-pytest issue 167).
    """
    items.sort(key=_needs_browser)
    for item in items:
        if _runs_alone(item):
            item.add_marker(pytest.mark.alone)
        if pytest_asyncio.is_async_test(item):
            item.fixturenames.insert(0, "no_task_left")


def _needs_browser(item: pytest.Item) -> bool:
    names = getattr(item, "fixturenames", ())
    return "page" in names or "browser" in names


def _runs_alone(item: pytest.Item) -> bool:
    return bool(_needs_browser(item) or BROKERS & set(getattr(item, "fixturenames", ())) or SYSTEM in item.path.parents)


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    """Start the system's Chromium, allowed to make sound without a touch."""
    return {**browser_type_launch_args, "executable_path": "/usr/bin/chromium", "args": CHROMIUM_ARGS}


@pytest_asyncio.fixture
async def no_task_left() -> AsyncIterator[None]:
    """Fail a test that ends with a task still running."""
    yield
    left = asyncio.all_tasks() - {asyncio.current_task()}
    for task in left:
        task.cancel()
    assert not left, f"tasks left running: {sorted(str(task.get_coro()) for task in left)}"


@pytest.fixture
def mosquitto(tmp_path: Path) -> Iterator[Callable[..., Mosquitto]]:
    """Return a function that starts a broker with further lines of its configuration."""
    brokers: list[Mosquitto] = []

    def started(*settings: str) -> Mosquitto:
        folder = tmp_path / f"broker-{len(brokers)}"
        folder.mkdir()
        brokers.append(Mosquitto(folder, *settings))
        brokers[-1].start()
        return brokers[-1]

    yield started
    for broker in brokers:
        broker.stop(signal.SIGKILL)


@pytest.fixture
def pty_node(tmp_path: Path) -> Iterator[PtyNode]:
    """Return a node on a pseudo-terminal behind the link `node` in the test's folder."""
    node = PtyNode(tmp_path / "node")
    yield node
    node.end()
