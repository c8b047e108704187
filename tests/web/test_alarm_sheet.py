"""All alarms with their words: putting off with a reason, taking back, what came first, what was carried further."""

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.web import scenes
from tests.web.conftest import Open, wait_for
from tests.web.fake_service import FakeService
from tests.web.test_screen import SCREENS, overflow


def open_alarms(page: Page) -> None:
    """Go to the list as a person does."""
    page.locator(".bar .more").click()
    expect(page.get_by_role("heading", name="All alarms")).to_be_visible()


def told(service: FakeService) -> list[tuple[str, Any]]:
    """Return what was asked of alarms."""
    return [(path, body) for path, body in service.posts if path.startswith("/api/alarms/")]


def test_an_alarm_is_put_off_with_time_reason_and_name(service: FakeService, open_panel: Open) -> None:
    """Two taps after the key: for how long, within what is allowed, and why; the name is the one chosen before."""
    service.snapshot = scenes.falling()
    page = open_panel(who="Ana")
    open_alarms(page)
    page.get_by_role("button", name="Put off … Temperature falling").click()
    steps = page.locator(".sheet .key[aria-pressed]").filter(has_text="for ")
    offered = steps.all_inner_texts()
    page.get_by_role("button", name="for 15 min").click()
    page.get_by_role("button", name="being worked on").click()
    wait_for(lambda: bool(told(service)), page=page)

    assert offered == ["for 5 min", "for 15 min"]
    assert told(service) == [
        ("/api/alarms/fall/shelve", {"for_s": 900, "why": "being worked on", "who": "Ana"}),
    ]
    expect(page.get_by_text("For how long, and why?")).to_have_count(0)


def test_another_reason_can_be_typed(service: FakeService, open_panel: Open) -> None:
    """Where none of the reasons fits."""
    service.snapshot = scenes.falling()
    page = open_panel(who="Ana")
    open_alarms(page)
    page.get_by_role("button", name="Put off … Front and back drift apart").click()
    page.get_by_label("Other reason").fill("shelves were moved")
    page.get_by_role("button", name="Enter").click()
    wait_for(lambda: bool(told(service)), page=page)

    assert told(service)[0][1] == {"for_s": 300, "why": "shelves were moved", "who": "Ana"}


def test_what_is_never_put_off_says_why(service: FakeService, open_panel: Open) -> None:
    """No key, but the reason."""
    service.snapshot = scenes.falling()
    page = open_panel()
    open_alarms(page)
    row = page.locator(".sheet li").filter(has_text="Sensor failed")

    expect(row).to_contain_text("Never put off: it is about people or not seeing the kiln.")
    expect(row.get_by_role("button", name="Put off")).to_have_count(0)


def test_what_is_put_off_stays_listed_and_can_be_taken_back(service: FakeService, open_panel: Open) -> None:
    """Quiet with one put off: who, why, how much longer; one tap takes it back."""
    service.snapshot = scenes.quiet(alarms=[scenes.put_off()])
    page = open_panel()
    expect(page.locator(".bar .quiet")).to_have_text("Quiet")
    expect(page.locator(".bar .more")).to_have_text("1 put off")
    open_alarms(page)
    row = page.locator(".sheet li")
    expect(row).to_contain_text("by Ines: known and harmless")
    expect(row).to_contain_text("Put off for another 2")
    page.get_by_role("button", name="Take back: Front and back drift apart").click()
    wait_for(lambda: bool(told(service)), page=page)

    assert told(service) == [("/api/alarms/spread/unshelve", {"who": None})]


def test_what_the_service_refuses_is_said(service: FakeService, open_panel: Open) -> None:
    """409 with its reason stands in the sheet."""
    service.snapshot = scenes.falling()
    page = open_panel()
    open_alarms(page)
    service.post_status, service.post_words = 409, {"detail": "this alarm is never put off"}
    page.get_by_role("button", name="Put off … Temperature falling").click()
    page.get_by_role("button", name="wanted so").click()

    expect(page.locator(".sheet").get_by_role("status")).to_have_text("Not taken: this alarm is never put off.")


def test_what_came_first_and_what_was_carried_further_is_said(service: FakeService, open_panel: Open) -> None:
    """First of several; unseen for a minute: louder."""
    service.snapshot = scenes.quiet(alarms=[scenes.fall(first=True), scenes.broken_sensor()])
    page = open_panel()
    service.frame(alarms=[scenes.fall(first=True, escalation=1), scenes.broken_sensor()])
    expect(page.locator(".bar")).to_contain_text("unseen for a minute: louder")
    service.frame(alarms=[scenes.fall(first=True, escalation=2), scenes.broken_sensor()])
    expect(page.locator(".bar")).to_contain_text("call the next person")
    open_alarms(page)

    expect(page.locator(".sheet li").first).to_contain_text("came first")


@pytest.mark.parametrize("size", SCREENS)
def test_putting_off_has_room_and_large_keys(size: tuple[int, int], service: FakeService, open_panel: Open) -> None:
    """Nothing runs over the edge; keys are as high as the others of this screen."""
    service.snapshot = scenes.falling(help=scenes.help_card())
    page = open_panel(size)
    open_alarms(page)
    page.get_by_role("button", name="Put off … Front and back drift apart").click()
    expect(page.get_by_role("button", name="for 8 h 00")).to_be_visible()
    heights = [box["height"] for key in page.locator(".sheet .key").all() if (box := key.bounding_box())]

    assert overflow(page) == []
    assert min(heights) * SCREENS[size] >= (10 if size == (390, 844) else 20)
