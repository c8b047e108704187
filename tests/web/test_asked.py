"""What is asked of people, what they put off, and whom to call: prompts, choices, and the emergency card."""

import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.web import scenes
from tests.web.conftest import Open, wait_for
from tests.web.fake_service import FakeService
from tests.web.test_look import violations
from tests.web.test_screen import SCREENS, overflow

LOOKS = ("day", "night")


def told(service: FakeService) -> list[dict[str, Any]]:
    """Return what was told as entries, each once."""
    entries = {body["id"]: body for path, body in service.posts if path == "/api/entries"}
    return list(entries.values())


def to_safety(page: Page) -> None:
    """Go to the sheet as a person does."""
    page.locator(".rail").get_by_role("button", name="Safety").click()
    expect(page.get_by_role("heading", name="Emergency")).to_be_visible()


def to_asked(page: Page) -> None:
    """Go to what is asked as a person does."""
    page.get_by_role("button", name="Asked of you").click()
    expect(page.get_by_role("heading", name="Asked of you now")).to_be_visible()


def test_the_most_pressing_prompt_stands_on_the_screen(service: FakeService, open_panel: Open) -> None:
    """One tap leads to it, one more answers it; it goes when the service says so."""
    service.snapshot, service.post_status = scenes.asked(), 201
    page = open_panel()
    page.get_by_role("button", name="Asked of you: Are you there?").click()
    page.get_by_role("button", name="I am here").click()
    wait_for(lambda: bool(told(service)), page=page)
    service.frame(prompts=[scenes.handover()])
    expect(page.get_by_role("heading", name="Are you there?")).to_have_count(0)

    (body,) = told(service)
    assert (body["what"], body["note"], body["door"]) == ("answered", "sign-of-life/here", None)


def test_points_are_ticked_by_name(service: FakeService, open_panel: Open) -> None:
    """Whoever ticks says who they are, once; what others ticked is shown with their names."""
    service.snapshot, service.post_status = scenes.asked(), 201
    page = open_panel()
    to_asked(page)
    expect(page.locator(".prompt")).to_contain_text(["", "Who is here, who sleeps, and where · Ana"])
    page.get_by_label("Your name").fill("Rui")
    page.get_by_label("Your name").blur()
    page.get_by_role("button", name="Water to drink").click()
    wait_for(lambda: bool(told(service)), page=page)

    (body,) = told(service)
    assert (body["what"], body["note"], body["who"]) == ("ticked", "handover/drink", "Rui")


def test_a_tick_that_the_host_did_not_keep_says_so(service: FakeService, open_panel: Open) -> None:
    """It is sent again under its id, as every tap is."""
    service.snapshot, service.post_status = scenes.asked(), 503
    page = open_panel()
    to_asked(page)
    page.get_by_role("button", name="Water to drink").click()
    expect(page.get_by_role("button", name="Water to drink")).to_contain_text("not yet stored")
    service.post_status = 201
    wait_for(lambda: len(service.posts) > 1, 8, page)

    assert len(told(service)) == 1


def test_an_alarm_is_put_off_for_a_reason_and_a_time(service: FakeService, open_panel: Open) -> None:
    """Two taps; no longer than it may be; it is listed with who and why, and taken back with one."""
    spread = scenes.spread(acked=True, shelve_most_s=3600.0)
    service.snapshot = scenes.falling(alarms=[scenes.fall(first=True), spread])
    page = open_panel()
    page.get_by_role("button", name="1 more alarm").click()
    row = page.locator(".sheet li").nth(1)
    row.get_by_role("button", name="Put off").click()
    row.get_by_role("button", name="It is being worked on").click()
    expect(row.locator("fieldset").get_by_role("button")).to_have_text(["5 min", "15 min", "60 min", "Do not put off"])
    row.get_by_role("button", name="15 min").click()
    wait_for(lambda: bool(service.posts), page=page)
    off = {"shelved_s": 900.0, "shelved_by": "Ana", "shelved_why": "It is being worked on"}
    service.frame(alarms=[scenes.fall(first=True), scenes.spread(acked=True, **off)])
    expect(row).to_contain_text(re.compile("put off for 1[45] min by Ana: It is being worked on"))
    row.get_by_role("button", name="Sound again").click()
    wait_for(lambda: len(service.posts) > 1, page=page)

    assert service.posts == [
        ("/api/alarms/spread/shelve", {"who": None, "for_s": 900, "why": "It is being worked on"}),
        ("/api/alarms/spread/unshelve", {"who": None}),
    ]


def test_what_may_not_be_put_off_offers_nothing(service: FakeService, open_panel: Open) -> None:
    """And says so; what came first and what nobody has seen for minutes is marked."""
    service.snapshot = scenes.falling(alarms=[scenes.fall(first=True, escalation=2), scenes.broken_sensor()])
    page = open_panel()
    page.get_by_role("button", name="1 more alarm").click()
    row = page.locator(".sheet li").first

    expect(row).to_contain_text("This one is never put off.")
    expect(row).to_contain_text("came first · not seen for 3 min: call the next person")
    expect(row.get_by_role("button", name="Put off")).to_have_count(0)


def test_what_is_put_off_leaves_the_screen_calm(service: FakeService, open_panel: Open) -> None:
    """No alarm stands there as if it called; how many are put off does, one tap from the list."""
    off = {"acked": True, "shelved_s": 900.0, "shelved_by": "Ana", "shelved_why": "x"}
    service.snapshot = scenes.quiet(alarms=[scenes.fall(**off)])
    page = open_panel()

    expect(page.locator(".bar")).to_contain_text("1 alarm is put off")
    page.get_by_role("button", name="1 alarm is put off").click()
    expect(page.locator(".sheet li")).to_contain_text(re.compile("put off for 1[45] min by Ana: x"))


def test_whom_to_call_is_one_tap_away_also_without_a_service(service: FakeService, open_panel: Open) -> None:
    """Number, address, way and people; kept through a reload while the host is silent."""
    service.snapshot = scenes.asked()
    page = open_panel()
    to_safety(page)
    card = page.locator(".help")
    expect(card.get_by_role("link", name="112")).to_have_attribute("href", "tel:112")
    expect(card).to_contain_text("Old Mill Lane 3")
    expect(card.get_by_role("link", name="+351 555 0101")).to_have_attribute("href", "tel:+3515550101")
    service.accepts = False
    page.reload()

    expect(page.locator(".help")).to_contain_text("Old Mill Lane 3")


def test_a_site_that_says_nothing_says_what_to_write(open_panel: Open) -> None:
    """An empty card would be taken for one."""
    page = open_panel()
    to_safety(page)

    expect(page.locator(".help")).to_contain_text("No emergency number is set")
    expect(page.locator(".help")).to_contain_text("[emergency] in kiln.toml")


@pytest.mark.parametrize("size", SCREENS)
@pytest.mark.parametrize("look", LOOKS)
def test_nothing_runs_over_its_edge_and_axe_finds_no_violation(
    look: str, size: tuple[int, int], service: FakeService, open_panel: Open
) -> None:
    """On each size and in both looks: the bar with a prompt, the sheet of prompts, and the choices of putting off."""
    service.snapshot = scenes.asked()
    page = open_panel(size, look=look)
    found = overflow(page) + violations(page)
    for go in (to_safety, to_asked):
        go(page)
        found += overflow(page) + violations(page)
        page.get_by_role("button", name="Back").click()
    service.frame(alarms=[scenes.fall(shelve_most_s=900.0), scenes.spread(acked=True, shelve_most_s=28800.0)])
    page.get_by_role("button", name="1 more alarm").click()
    page.locator(".sheet li").first.get_by_role("button", name="Put off").click()
    page.get_by_role("button", name="It is wanted so").click()
    found += overflow(page) + violations(page)

    assert found == []
