"""Take the README's pictures from a running demo: `python tests/pictures/take.py [--all FOLDER]`.

Starts `nightstoke demo`, opens the panel in Chromium at the size of a tablet, by day while the kiln climbs and by night
once the watch has dozed off. With `--all FOLDER` it also takes phone, small tablet and desktop, both looks.
"""

import argparse
import json
import re
import subprocess
import sys
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright

HERE = Path(__file__).resolve().parent
TABLET = {"width": 1280, "height": 800}
SIZES = {"tablet": TABLET, "small": {"width": 800, "height": 480}, "phone": {"width": 390, "height": 844}}
SIZES["desktop"] = {"width": 1600, "height": 1000}
ALARM_LIMIT_MS = 180_000
CHROMIUM = ("--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--autoplay-policy=no-user-gesture-required")


def main() -> None:
    """Run the demo and take the pictures."""
    parser = argparse.ArgumentParser(description="Take the README's pictures from a running demo.")
    parser.add_argument("--all", type=Path, help="also every size and look, into this folder")
    options = parser.parse_args()
    command = [sys.executable, "-m", "monitor", "demo", "--port", "0", "--speed", "60"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as demo, sync_playwright() as playwright:
        try:
            assert demo.stdout is not None
            address = re.search(r"http://\S+", demo.stdout.readline())
            assert address is not None
            browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=list(CHROMIUM))
            _take(browser, address[0], options.all)
        finally:
            demo.terminate()


def _take(browser: Browser, address: str, everything: Path | None) -> None:
    page = _open(browser, address, "day", "tablet")
    page.wait_for_timeout(25_000)
    page.screenshot(path=HERE / "panel-day.png")
    _sweep(browser, address, everything, "quiet")
    page.get_by_role("button", name="larger").click()
    page.get_by_role("button", name="Heat work").click()
    page.get_by_text("about cone").first.wait_for(timeout=ALARM_LIMIT_MS)
    page.screenshot(path=HERE / "panel-heat.png")
    page.close()
    page = _open(browser, address, "night", "tablet")
    page.get_by_text("Temperature falling").first.wait_for(timeout=ALARM_LIMIT_MS)
    page.wait_for_timeout(4_000)
    page.screenshot(path=HERE / "panel-night-alarm.png")
    _sweep(browser, address, everything, "alarm")


def _open(browser: Browser, address: str, look: str, size: str) -> Page:
    width, height = SIZES[size]["width"], SIZES[size]["height"]
    context = browser.new_context(viewport={"width": width, "height": height}, reduced_motion="reduce")
    choices = json.dumps(json.dumps({"look": look}))
    context.add_init_script(f"localStorage.setItem('nightstoke.choices', {choices})")
    page = context.new_page()
    page.goto(address)
    page.wait_for_timeout(1_500)
    return page


def _sweep(browser: Browser, address: str, folder: Path | None, state: str) -> None:
    if folder is None:
        return
    folder.mkdir(parents=True, exist_ok=True)
    for look in ("day", "night"):
        for size in SIZES:
            page = _open(browser, address, look, size)
            page.screenshot(path=folder / f"{size}-{look}-{state}.png", full_page=True)
            page.context.close()


if __name__ == "__main__":
    main()
