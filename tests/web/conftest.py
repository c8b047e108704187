"""What the panel's browser tests share: the built panel, a service that says what the test wants, and open pages."""

import importlib.util
import json
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserType, Page

from tests.web import scenes
from tests.web.fake_service import PANEL, FakeService

HOOK = Path(__file__).parents[2] / "web" / "build_hook.py"
CHOICES_KEY = "nightstoke.choices"

Open = Callable[..., Page]


@pytest.fixture(scope="session")
def built_panel() -> Path:
    """Build the panel where its sources have changed since it was built."""
    spec = importlib.util.spec_from_file_location("build_hook", HOOK)
    assert spec is not None
    assert spec.loader is not None
    hook = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(hook)
    if hook.is_stale():
        subprocess.run([sys.executable, str(HOOK)], check=True, capture_output=True)
    return PANEL


@pytest.fixture
def service(built_panel: Path) -> Iterator[FakeService]:
    """Serve a calm moment of the climb; a test changes what it needs before a page is opened."""
    fake = FakeService(scenes.quiet())
    fake.start()
    yield fake
    fake.stop()


@pytest.fixture
def open_panel(browser: Browser, service: FakeService) -> Iterator[Open]:
    """Open pages of the panel; a page that reports an error of script fails its test."""
    contexts = []
    errors: list[str] = []

    def open_one(
        size: tuple[int, int] = (1280, 800),
        *,
        address: str | None = None,
        prepare: Callable[[Page], None] | None = None,
        within: Browser | None = None,
        **choices: Any,
    ) -> Page:
        width, height = size
        context = (within or browser).new_context(viewport={"width": width, "height": height})
        contexts.append(context)
        kept = json.dumps(json.dumps(choices))
        key = json.dumps(CHOICES_KEY)
        context.add_init_script(f"localStorage.getItem({key}) ?? localStorage.setItem({key}, {kept})")
        page = context.new_page()
        page.on("pageerror", lambda error: errors.append(str(error)))
        if prepare is not None:
            prepare(page)
        page.goto(address or service.address)
        return page

    yield open_one
    for context in contexts:
        context.close()
    assert errors == []


@pytest.fixture(scope="session")
def touch_first_browser(browser_type: BrowserType, browser_type_launch_args: dict[str, Any]) -> Iterator[Browser]:
    """Start a browser that, like a real tablet, lets no sound out before a touch, and that knows `kiln.test`."""
    args = [arg for arg in browser_type_launch_args.get("args", []) if not arg.startswith("--autoplay-policy")]
    args.append("--host-resolver-rules=MAP kiln.test 127.0.0.1")
    browser = browser_type.launch(**{**browser_type_launch_args, "args": args})
    yield browser
    browser.close()


def wait_for(is_so: Callable[[], bool], limit_s: float = 5.0, page: Page | None = None) -> None:
    """Wait until something is so, letting the page's events through; fail after the limit."""
    until = time.monotonic() + limit_s
    while not is_so():
        assert time.monotonic() < until, "it did not come true in time"
        if page is None:
            time.sleep(0.02)
        else:
            page.wait_for_timeout(20)
