"""The log: one tap tells what was done, once, also through a cut link; closing up asks first."""

import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from monitor.publish.messages import EntryLine
from tests.web import scenes
from tests.web.conftest import Open, wait_for
from tests.web.fake_service import FakeService
from tests.web.test_screen import SCREENS

LEAST_MM = 20.0
"""Side of a key for a bare hand (Ergonomics 2004 47(13), as for the other keys)."""


def open_log(page: Page) -> None:
    """Go to the sheet as a person does."""
    page.locator(".rail").get_by_role("button", name="Log").click()
    expect(page.get_by_role("heading", name="Log: what was done at the kiln")).to_be_visible()


def told(service: FakeService) -> list[tuple[str, str | None]]:
    """Return what was told, without repeats of one tap."""
    entries: dict[str, Any] = {body["id"]: body for path, body in service.posts if path == "/api/entries"}
    return [(body["what"], body["door"]) for body in entries.values()]


def test_one_tap_tells_one_stoke(service: FakeService, open_panel: Open) -> None:
    """Which door, how long ago; a glove that bounces is one tap; the service's own list shows it."""
    service.post_status = 201
    page = open_panel()
    open_log(page)
    expect(page.locator(".sheet")).to_contain_text("Nothing was entered or seen in this firing yet.")
    page.get_by_role("button", name="Stoked at the front").dblclick()
    wait_for(lambda: bool(service.posts), page=page)
    page.wait_for_timeout(300)
    ((_, body),) = service.posts
    service.frame(entries=[EntryLine(body["id"], scenes.CLOCK, "stoked", "front", None)], closed_up=False)
    row = page.locator(".sheet li")
    expect(row).to_have_count(1)
    expect(row).to_contain_text(re.compile(r"\d\d:\d\d\s*Stoked at the front"))

    assert (body["what"], body["door"]) == ("stoked", "front")
    assert 0.0 <= body["ago_s"] < 2.0
    assert re.fullmatch(r"[0-9a-f]{16}", body["id"])


def test_what_the_host_did_not_take_is_told_again_and_counts_once(service: FakeService, open_panel: Open) -> None:
    """Not yet stored, says the screen; the same tap goes again under its id, with its age, when the host answers."""
    service.post_status = 503
    page = open_panel()
    open_log(page)
    page.get_by_role("button", name="Stoked at the side").click()
    expect(page.locator(".sheet li")).to_contain_text("not yet stored")
    expect(page.locator(".sheet").get_by_role("status")).to_contain_text("The host has not said that it is stored")
    service.post_status = 201
    wait_for(lambda: len(service.posts) > 1, 8, page)
    expect(page.locator(".sheet")).not_to_contain_text("not yet stored")
    first, *_, last = [body for _, body in service.posts]

    assert first["id"] == last["id"]
    assert last["ago_s"] > first["ago_s"] + 2.0
    assert told(service) == [("stoked", "side")]


def test_a_tap_that_will_never_be_taken_is_let_go(service: FakeService, open_panel: Open) -> None:
    """409: no firing is open any more. It says so and does not try for ever."""
    service.post_status = 409
    page = open_panel()
    open_log(page)
    page.get_by_role("button", name="Stoked at the front").click()
    expect(page.locator(".sheet").get_by_role("status")).to_contain_text("no firing is open")
    page.wait_for_timeout(3500)

    assert len(service.posts) == 1


def test_closing_up_asks_first_and_can_be_taken_back(service: FakeService, open_panel: Open) -> None:
    """A stray tap changes nothing; closed up is on the screen's head, with the way back in the log."""
    service.post_status = 201
    page = open_panel()
    open_log(page)
    page.get_by_role("button", name="Kiln closed up").click()
    expect(page.locator(".sheet")).to_contain_text("Falling and standing temperatures call nobody from then on.")
    page.get_by_role("button", name="No, still firing").click()
    stray = list(service.posts)
    page.get_by_role("button", name="Kiln closed up").click()
    page.get_by_role("button", name="Yes, closed up").click()
    wait_for(lambda: bool(service.posts), page=page)
    service.frame(entries=[EntryLine("a", scenes.CLOCK - 600, "closed-up", None, "Ines")], closed_up=True)
    expect(page.locator(".head")).to_contain_text("Closed up for 10 min")
    expect(page.locator(".sheet")).to_contain_text("Ines")
    page.get_by_role("button", name="We fire on").click()
    wait_for(lambda: len(service.posts) == 2, page=page)
    service.frame(entries=[EntryLine("b", scenes.CLOCK, "fired-on", None, None)], closed_up=False)
    expect(page.locator(".head")).to_contain_text("Firing for")

    assert stray == []
    assert told(service) == [("closed-up", None), ("fired-on", None)]
    expect(page.get_by_role("button", name="Stoked at the front")).to_be_visible()


def test_without_an_open_firing_there_is_nothing_to_tap(service: FakeService, open_panel: Open) -> None:
    """It says what begins one."""
    service.snapshot = scenes.quiet(firing=None)
    page = open_panel()
    open_log(page)

    expect(page.locator(".sheet")).to_contain_text("No firing is open")
    expect(page.locator(".sheet").get_by_role("button")).to_have_count(0)


@pytest.mark.parametrize("size", SCREENS)
def test_its_keys_are_large_enough_and_in_sight(size: tuple[int, int], open_panel: Open) -> None:
    """20 mm high on tablets, 48 CSS px and the page's width on a telephone; no key lies below the fold."""
    page = open_panel(size)
    open_log(page)
    boxes = [key.bounding_box() for key in page.locator(".deeds button").all()]

    assert len(boxes) == 3
    for box in boxes:
        assert box is not None
        assert box["y"] + box["height"] <= size[1]
        if size[0] >= 700:
            assert min(box["width"], box["height"]) * SCREENS[size] >= LEAST_MM
        else:
            assert box["height"] >= 48
            assert box["width"] > 0.8 * size[0]
