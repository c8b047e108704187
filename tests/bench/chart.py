"""Measure the panel on a long firing: `python tests/bench/chart.py`.

A store is filled with four days of twelve inputs at 1 Hz (`store.py` makes them), the service starts on it, and
Chromium opens the panel on the curves of the whole firing. Told are the start of the service, which judges all of
it anew since no state was kept, the answer to `/api/history`, and the time from opening the page to the drawn
curves, beside the time to the first message of the same page as the reference. Goal: the curves stand in under a
second.
"""

import json
import re
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

from playwright.sync_api import sync_playwright
from store import NAMES, fill_and_seal

HOURS = 96
TIMES = 5
GOAL_S = 1.0
CHOICES = json.dumps(json.dumps({"sheet": "curves", "span": "firing"}))
CHROMIUM = ("--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage")
FIRST_WORD = "document.querySelector('h2') !== null"
DRAWN = "document.querySelectorAll('tbody tr').length > 0 && document.querySelector('canvas') !== null"
SINCE_OPENED = "new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => done(performance.now()))))"


def main() -> int:
    """Print the figures; return 1 where the goal is missed."""
    with tempfile.TemporaryDirectory() as folder:
        directory = Path(folder) / "data"
        fill_and_seal(directory, HOURS)
        site = Path(folder) / "kiln.toml"
        site.write_text(_site_text(), encoding="utf-8")
        command = [
            sys.executable,
            "-m",
            "monitor",
            "serve",
            "--site",
            str(site),
            "--data",
            str(directory),
            "--port",
            "0",
        ]
        begun = time.perf_counter()
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as service:
            try:
                assert service.stdout is not None
                address = re.search(r"http://\S+", service.stdout.readline())
                assert address is not None
                print(f"start, {HOURS} h judged anew      {time.perf_counter() - begun:6.1f} s")
                return _report(address[0])
            finally:
                service.terminate()


def _site_text() -> str:
    letters = ["K"] * 10 + ["S"] * 2
    sensors = [
        f'[[sensor]]\nid = "probe-{i}"\ninput = "{name}"\ntype = "{letter}"\nplace = "middle"\n'
        for i, (name, letter) in enumerate(zip(NAMES, letters, strict=True), start=1)
    ]
    return '[kiln]\nname = "Bench kiln"\n' + "".join(sensors)


def _report(address: str) -> int:
    answers = []
    size = 0
    for _ in range(TIMES):
        asked = time.perf_counter()
        with urllib.request.urlopen(f"{address}api/history?columns=2000") as answer:
            size = len(answer.read())
        answers.append(time.perf_counter() - asked)
    print(f"history, first and best of {TIMES}   {answers[0] * 1e3:6.1f} ms, {min(answers) * 1e3:.1f} ms, {size} bytes")
    opened = [_open(address) for _ in range(TIMES)]
    words, drawn = (sorted(times)[TIMES // 2] for times in zip(*opened, strict=True))
    print(f"page opened to first word    {words:6.2f} s (median of {TIMES})")
    print(f"page opened to drawn curves  {drawn:6.2f} s (median of {TIMES}, most {max(d for _, d in opened):.2f} s)")
    is_met = drawn < GOAL_S
    print(f"{'met' if is_met else 'MISSED'}    four days of twelve inputs drawn in under {GOAL_S:g} s")
    return 0 if is_met else 1


def _open(address: str) -> tuple[float, float]:
    """Open the page in a new browser; return seconds to its first word and to the drawn curves."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=list(CHROMIUM))
        page = browser.new_page(viewport={"width": 1280, "height": 800}, bypass_csp=True)
        page.add_init_script(f"localStorage.setItem('nightstoke.choices', {CHOICES})")
        page.goto(address, wait_until="commit")
        page.wait_for_function(FIRST_WORD, polling=10)
        words = page.evaluate(SINCE_OPENED)
        page.wait_for_function(DRAWN, polling=10)
        drawn = page.evaluate(SINCE_OPENED)
        browser.close()
    return words / 1e3, drawn / 1e3


if __name__ == "__main__":
    sys.exit(main())
