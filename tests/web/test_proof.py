"""Trying the sounds at handover: each is played here, and whether it was heard is stored."""

from typing import Any

from playwright.sync_api import expect

from monitor.publish.messages import EntryLine
from tests.web import scenes
from tests.web.conftest import Open, wait_for
from tests.web.fake_service import FakeService
from tests.web.test_look import violations
from tests.web.test_sound import with_ears


def test_each_sound_is_played_and_the_answer_stored(service: FakeService, open_panel: Open) -> None:
    """Nothing is asked before a sound was tried; each has its own notes; "Yes" is an entry with the name."""
    service.post_status = 201
    page = open_panel(prepare=with_ears, who="Ana", sheet="reminders")
    page.get_by_role("button", name="Try sounds").click()
    expect(page.locator(".sound")).to_have_count(0)
    expect(page.get_by_text("Heard here")).to_have_count(0)
    notes: dict[str, Any] = {}
    for name in ("Priority 1", "Priority 2", "Priority 3", "Prompt"):
        page.evaluate("window.starts.length = 0")
        page.get_by_role("button", name=name).click()
        notes[name] = sorted({round(hertz) for hertz, _ in page.evaluate("window.starts")})
    page.get_by_role("button", name="Yes").click()
    wait_for(lambda: bool(service.posts), page=page)
    ((_, body),) = service.posts
    service.frame(entries=[EntryLine(body["id"], scenes.CLOCK, "heard", None, "Ana", "panel/yes")])
    expect(page.locator(".sheet")).to_contain_text("Last heard: 21:26 Ana")

    assert notes == {"Priority 1": [660, 880], "Priority 2": [700], "Priority 3": [520], "Prompt": [523, 659]}
    assert (body["what"], body["note"], body["who"]) == ("heard", "panel/yes", "Ana")
    assert violations(page) == []


def test_not_heard_is_stored_too(service: FakeService, open_panel: Open) -> None:
    """A no is no confirmation."""
    service.post_status = 201
    page = open_panel(sheet="proof")
    page.get_by_role("button", name="Priority 1").click()
    page.get_by_role("button", name="No", exact=True).click()
    wait_for(lambda: bool(service.posts), page=page)

    assert service.posts[0][1]["note"] == "panel/no"
    expect(page.locator(".sheet")).to_contain_text("Not heard yet.")
