"""What is expected of people: a strip on the first screen, points ticked by name, answers, a chime, a sign of life."""

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.web import scenes
from tests.web.conftest import Open, wait_for
from tests.web.fake_service import FakeService
from tests.web.test_look import violations
from tests.web.test_screen import SCREENS, overflow
from tests.web.test_sound import with_ears

CHIME_HERTZ = [523, 659]


def told(service: FakeService) -> list[tuple[str, str | None, str | None]]:
    """Return what was told, without repeats of one tap."""
    entries: dict[str, Any] = {body["id"]: body for path, body in service.posts if path == "/api/entries"}
    return [(body["what"], body["note"], body["who"]) for body in entries.values()]


def open_safety(page: Page) -> None:
    """Go to the sheet as a person does."""
    page.locator(".rail").get_by_role("button", name="Safety").click()
    expect(page.get_by_role("heading", name="For whoever stands at the fire")).to_be_visible()


def test_a_point_is_ticked_by_name_with_one_tap(service: FakeService, open_panel: Open) -> None:
    """Who was chosen once; the tap is shown as not yet stored until it is, then with the name."""
    service.post_status = 503
    service.snapshot = scenes.quiet(prompts=[scenes.handover()], help=scenes.help_card())
    page = open_panel()
    expect(page.locator(".strip")).to_contain_text("Handover of the watch")
    expect(page.locator(".strip")).to_contain_text("1 of 6 ticked")
    page.locator(".strip").get_by_role("button", name="Open").click()
    page.get_by_role("button", name="Rui").click()
    page.get_by_role("button", name="Water to drink stands ready").click()
    point = page.locator(".point").filter(has_text="Water to drink")
    expect(point).to_contain_text("not yet stored")
    service.post_status = 201
    wait_for(lambda: len(service.posts) > 1, 8, page)
    points = [scenes.PromptPoint("drink", "Water to drink stands ready", "Rui", 1.0)]
    service.frame(prompts=[scenes.handover(points=points)])
    expect(point).to_contain_text("Rui")

    assert told(service) == [("ticked", "handover/drink", "Rui")]


def test_a_question_is_answered_on_the_first_screen(service: FakeService, open_panel: Open) -> None:
    """One tap on the strip, which goes when the service says so."""
    service.post_status = 201
    service.snapshot = scenes.quiet(prompts=[scenes.closed_up_question()])
    page = open_panel(who="Ana")
    page.locator(".strip").get_by_role("button", name="No, we fire on").click()
    wait_for(lambda: bool(service.posts), page=page)
    service.frame(prompts=[])
    expect(page.locator(".strip")).to_have_count(0)

    assert told(service) == [("answered", "phase/still-fired", "Ana")]


def test_i_am_here_is_a_sign_of_life(service: FakeService, open_panel: Open) -> None:
    """The answer to "Are you there?" is an entry of its own, taken also with an alarm on the screen."""
    service.post_status = 201
    service.snapshot = scenes.falling(prompts=[scenes.sign_of_life(), scenes.handover()])
    page = open_panel()
    key = page.get_by_role("button", name="I am here")
    expect(key).to_be_in_viewport()
    key.click()
    wait_for(lambda: bool(service.posts), page=page)

    assert told(service) == [("present", None, None)]
    expect(page.locator(".strip").get_by_role("button", name="All 2")).to_be_visible()


def test_a_prompt_that_asks_for_it_chimes_once(service: FakeService, open_panel: Open) -> None:
    """Two short rising notes when it comes, none for the others and none again."""
    page = open_panel(prepare=with_ears)
    expect(page.locator(".sound")).to_have_count(0)
    service.frame(prompts=[scenes.handover()])
    expect(page.locator(".strip")).to_be_visible()
    silent = page.evaluate("window.starts.length")
    service.frame(prompts=[scenes.sign_of_life(), scenes.handover()])
    expect(page.get_by_role("button", name="I am here")).to_be_visible()
    service.frame(prompts=[scenes.sign_of_life()])
    expect(page.locator(".strip").get_by_role("button", name="All 2")).to_have_count(0)

    assert silent == 0
    assert [round(hertz) for hertz, _ in page.evaluate("window.starts")] == CHIME_HERTZ


@pytest.mark.parametrize("size", SCREENS)
def test_prompts_have_room_and_large_keys(size: tuple[int, int], service: FakeService, open_panel: Open) -> None:
    """Nothing runs over the edge; keys are as high as the others of this screen; axe finds nothing."""
    service.snapshot = scenes.quiet(prompts=[scenes.closed_up_question(), scenes.handover()])
    page = open_panel(size, look="night")
    expect(page.locator(".strip")).to_be_visible()
    found = [overflow(page), violations(page)]
    heights = [box["height"] for key in page.locator(".strip .key").all() if (box := key.bounding_box())]
    open_safety(page)
    found += [overflow(page), violations(page)]

    assert found == [[], [], [], []]
    assert min(heights) * SCREENS[size] >= (10 if size == (390, 844) else 20)
