"""A practice on the running demo: two tablets, one kiln, its fire in a person's hands and back with the watch."""

import os
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.system.running import Running, until

SPEED = 240
"""Kiln seconds in a second: an hour of the fire in a quarter of a minute."""
UP_LIMIT_MS = 60_000


@pytest.fixture
def demo(started: Callable[..., Running], tmp_path: Path) -> Running:
    """Start a demo in its climb, where wood shows soon."""
    (tmp_path / "tmp").mkdir()
    environment = {**os.environ, "TMPDIR": str(tmp_path / "tmp")}
    arguments = ("--port", "0", "--speed", SPEED, "--from", "climb", "--scenario", "steady", "--lead-in", "0.5")
    return started("demo", *map(str, arguments), environment=environment).ready()


def practice(demo: Running) -> Any:
    """Return what a person at the kiln is told."""
    return demo.ask("/api/practice").told


def guide_c(demo: Running) -> float:
    """Return the guide's newest temperature; waits where the kiln can be had in hand before its first scan."""

    def heard() -> float | None:
        snapshot = demo.ask("/api/snapshot").told
        return next(v["celsius"] for v in snapshot["values"] if v["sensor"] == snapshot["guide"])

    return float(until(heard, 30.0, what="the guide's temperature"))


def open_practice(browser: Browser, demo: Running, size: tuple[int, int]) -> Page:
    """Open a tablet on the practice."""
    page = browser.new_page(viewport={"width": size[0], "height": size[1]})
    page.goto(demo.address)
    page.get_by_role("button", name="Practise").click(timeout=UP_LIMIT_MS)
    return page


def stoke_for(page: Page, demo: Running, kiln_min: float, key: str) -> None:
    """Stoke in the lead's rhythm for so long."""
    end = demo.ask("/api/snapshot").told["clock"] + 60.0 * kiln_min
    while demo.ask("/api/snapshot").told["clock"] < end:
        page.get_by_role("button", name=key).click()
        page.wait_for_timeout(1000 * 60 * practice(demo)["lead"]["interval_min"] / SPEED)


def test_a_person_fires_the_kiln_from_two_tablets(demo: Running, browser: Browser) -> None:
    """Takes over, starves it until it falls, feeds it until it climbs, gives it back; both tablets tell the same."""
    tablet, phone = (open_practice(browser, demo, size) for size in ((1280, 800), (390, 844)))
    tablet.get_by_role("button", name="Take over").click()
    for page in (tablet, phone):
        expect(page.get_by_role("button", name="Give back")).to_be_visible()
    begun_c = guide_c(demo)
    until(lambda: guide_c(demo) < begun_c - 15.0, 60.0, what="the fire burning down")
    starved_c = guide_c(demo)
    phone.get_by_role("button", name=re.compile("^Close damper to 80 %")).click()
    until(lambda: practice(demo)["settings"]["damper"] == 0.8)
    expect(tablet.get_by_role("button", name="Open damper to 100 %")).to_be_visible()
    tablet.get_by_role("button", name="Open damper to 100 %").click()
    stoke_for(tablet, demo, 60.0, "Stoke big")
    fed_c = guide_c(demo)
    told = practice(demo)
    expect(phone.get_by_role("status")).to_contain_text("Stoked")
    phone.get_by_role("button", name="Give back").click()
    for page in (tablet, phone):
        expect(page.get_by_role("button", name="Take over")).to_be_visible()
        expect(page.locator(".practice")).to_contain_text("Longest gap")
    report = practice(demo)["report"]
    given_back_stoke = practice(demo)["last_stoke"]
    until(lambda: practice(demo)["last_stoke"] > given_back_stoke, 30.0, what="the watch stoking again")
    for page in (tablet, phone):
        page.close()

    assert fed_c > starved_c + 10.0
    assert told["stokes"] >= 4
    assert told["wood_kg"] > 4 * 0.3 * told["lead"]["usual_kg"]
    assert report["stokes"] >= told["stokes"]
    assert report["falls"] >= 1
    assert report["lowest_c"] <= starved_c + 1.0
    assert demo.is_well()


def test_a_foreign_page_gets_no_hand_on_the_kiln(demo: Running) -> None:
    """403 for another origin, before the kiln hears of it; the service's own page may."""
    until(lambda: demo.ask("/api/practice").status == 200, 60.0, what="the kiln")
    take = {"what": "take-over"}
    own = {"Origin": demo.address.rstrip("/")}

    assert demo.ask("/api/practice", "POST", take, Origin="http://elsewhere.example").status == 403
    assert demo.ask("/api/practice", "POST", take, Origin="null").status == 403
    assert demo.ask("/api/practice", "POST", take, Host="elsewhere.example").status == 421
    assert practice(demo)["in_hand"] is False
    assert demo.ask("/api/practice", "POST", take, **own).status == 200
    assert demo.ask("/api/practice", "POST", take, **own).told == {"detail": "in-hand"}
    assert demo.ask("/api/practice", "POST", {"what": "damper"}, **own).told == {"detail": "no-setting"}
    until(lambda: practice(demo)["in_hand"])
