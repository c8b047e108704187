"""The card for emergencies: one tap from everywhere, also while the link is dead and after a reload."""

import pytest
from playwright.sync_api import expect

from tests.web import scenes
from tests.web.conftest import Open
from tests.web.fake_service import FakeService
from tests.web.test_look import violations
from tests.web.test_screen import SCREENS, overflow

TELLS = ["112", "Rua do Forno 3, Vale Claro", "Behind the chapel", "Ines", "+351 000 000 002", "Go two together"]


@pytest.mark.parametrize("sheet", ["now", "alarms", "curves", "reminders", "heat", "log"])
def test_it_is_one_tap_away_on_every_sheet(sheet: str, service: FakeService, open_panel: Open) -> None:
    """Number, address, way to the shed, who else, and what to do; the number is a link that dials."""
    service.snapshot = scenes.falling(help=scenes.help_card())
    page = open_panel(sheet=sheet)
    page.get_by_role("button", name="Emergency").click()
    for words in TELLS:
        expect(page.locator(".sheet")).to_contain_text(words)

    expect(page.get_by_role("link", name="112")).to_have_attribute("href", "tel:112")


def test_it_needs_no_service(service: FakeService, open_panel: Open) -> None:
    """After a reload at which the service says nothing the card is what it was, and it is not hatched."""
    service.snapshot = scenes.quiet(help=scenes.help_card())
    page = open_panel()
    expect(page.locator(".quiet")).to_be_visible()
    service.is_mute = True
    page.reload()
    expect(page.locator(".late")).to_be_visible(timeout=8000)
    page.get_by_role("button", name="Emergency").click()
    for words in TELLS:
        expect(page.locator(".sheet")).to_contain_text(words)

    expect(page.locator("main.past")).to_have_count(0)


def test_where_the_site_says_nothing_it_says_what_to_write(service: FakeService, open_panel: Open) -> None:
    """And what to do stands there all the same."""
    page = open_panel()
    page.get_by_role("button", name="Emergency").click()

    expect(page.locator(".sheet")).to_contain_text("Write in kiln.toml: [emergency] with number, address, directions")
    expect(page.locator(".sheet")).to_contain_text("Go two together")


@pytest.mark.parametrize("size", SCREENS)
@pytest.mark.parametrize("look", ["day", "night"])
def test_it_has_room(size: tuple[int, int], look: str, service: FakeService, open_panel: Open) -> None:
    """Nothing runs over the edge, axe finds nothing, its key is 7 mm high or more (WCAG 2.5.8 asks for 24 px)."""
    service.snapshot = scenes.quiet(help=scenes.help_card())
    page = open_panel(size, look=look)
    key = page.get_by_role("button", name="Emergency").bounding_box()
    page.get_by_role("button", name="Emergency").click()
    expect(page.get_by_role("link", name="112")).to_be_in_viewport()

    assert overflow(page) == []
    assert violations(page) == []
    assert key is not None
    assert key["height"] * SCREENS[size] >= 7
