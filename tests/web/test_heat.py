"""The sheet of heat work and forecast: what it says, what it asks for, and that it can be read and touched."""

import pytest
from playwright.sync_api import Page, expect

from tests.web import scenes
from tests.web.conftest import Open, wait_for
from tests.web.fake_service import FakeService
from tests.web.test_look import violations
from tests.web.test_screen import SCREENS, overflow


def open_heat(page: Page) -> None:
    """Go to the sheet as a person does: by way of the curves."""
    page.get_by_role("button", name="larger").click()
    page.locator(".rail").get_by_role("button", name="Heat work").click()
    expect(page.get_by_role("heading", name="Heat work and what is ahead")).to_be_visible()


def test_it_tells_cones_with_their_doubt_and_that_the_kiln_decides(open_panel: Open) -> None:
    """About which cone, between which; the next one; gaps; a probe in doubt is not to be gone by."""
    page = open_panel()
    open_heat(page)
    sheet = page.locator(".sheet")

    expect(sheet).to_contain_text("The cones in the kiln decide.")
    rows = sheet.locator("li")
    expect(rows).to_have_count(4)
    expect(rows.nth(2)).to_contain_text("Middle about cone 3 (2 to 4)")
    expect(rows.nth(2)).to_contain_text("worth 1165 °C")
    expect(rows.nth(2)).to_contain_text("cone 4 here in 21 min")
    expect(rows.nth(2)).to_contain_text("between 15 min and 32 min from now")
    expect(rows.nth(2)).to_contain_text("7 % of it guessed over gaps")
    expect(rows.nth(3)).to_contain_text("probe in doubt: do not go by this")
    expect(rows.nth(3)).not_to_contain_text("cone 01 here")


def test_it_tells_evenness_and_the_plans_points(open_panel: Open) -> None:
    """Hottest against coldest beside what probes alone explain; each point of the plan with its interval."""
    page = open_panel(unit="F")
    open_heat(page)
    sheet = page.locator(".sheet")

    expect(sheet).to_contain_text("Front is 121 °F hotter than Back. New probes alone differ by up to 26 °F.")
    expect(sheet).to_contain_text("This firing goes 92 % as fast as its plan.")
    expect(sheet).to_contain_text("2192 °F, planned Mon 24 15:30: in 40 min, 16:40 between 25 min and 85 min from now")
    expect(sheet).to_contain_text("an open end")


def test_a_person_asks_for_a_temperature_and_a_cone(service: FakeService, open_panel: Open) -> None:
    """From the plan's top by tens of degrees, from cone 10 cone by cone; the choice survives a reload."""
    page = open_panel()
    open_heat(page)
    wait_for(lambda: service.outlooks_asked == [("1280", "10")])
    page.get_by_role("button", name="Temperature: less").click()
    expect(page.locator(".sheet")).to_contain_text("Guide at 1270 °C: in 40 min")
    page.get_by_role("button", name="Cone: more").click()
    expect(page.locator(".sheet")).to_contain_text("Cone 11, Front")
    wait_for(lambda: service.outlooks_asked[-1] == ("1270", "11"))
    page.reload()

    expect(page.locator(".sheet")).to_contain_text("Cone 11, Front")
    wait_for(lambda: service.outlooks_asked[-1] == ("1270", "11"))


def test_nothing_judged_and_nothing_answered_are_told_apart(service: FakeService, open_panel: Open) -> None:
    """Too early is no trouble; an old estimate says that it is old."""
    service.outlook_status = 404
    page = open_panel(sheet="heat")
    expect(page.locator("main")).to_contain_text("Too early")
    service.outlook_status = 200
    page.get_by_role("button", name="Curves").click()
    page.get_by_role("button", name="Heat work").click()
    expect(page.locator(".sheet")).to_contain_text("about cone 3")
    service.outlook_status = 500
    page.get_by_role("button", name="Cone: less").click()

    expect(page.locator(".sheet").get_by_role("status")).to_contain_text("could not be fetched")


def test_hours_over_several_days_are_shown(service: FakeService, open_panel: Open) -> None:
    """The same hour of two days stands twice on the scale; nothing fails."""
    service.outlook["points"][-1]["planned"] = service.outlook["at"] + 68 * 3600.0
    page = open_panel(sheet="heat")

    expect(page.locator(".sheet .axis").last).to_contain_text("Wed 26")
    expect(page.locator(".sheet")).to_contain_text("planned Thu 27 12:00")


def test_a_cold_and_a_closed_kiln_are_told_in_words(service: FakeService, open_panel: Open) -> None:
    """No scale before the first cone; nothing is expected once the kiln is closed up."""
    for sensor in service.outlook["sensors"]:
        sensor |= {"equivalent_c": None, "cone": None, "next_at": None, "wanted_at": None, "wanted_cone_at": None}
    service.outlook["points"] = []
    page = open_panel(sheet="heat")

    expect(page.locator(".sheet")).to_contain_text("No probe has reached the lowest cone yet.")
    expect(page.locator(".sheet")).to_contain_text("The kiln is closed up: nothing more is expected.")


@pytest.mark.parametrize("size", [*SCREENS, (1600, 1000), (320, 640)])
def test_nothing_of_it_runs_over_the_edge(size: tuple[int, int], service: FakeService, open_panel: Open) -> None:
    """In degF, marked TEST, with three alarms."""
    service.snapshot = scenes.falling(test="simulator", speed=60.0)
    page = open_panel(size, unit="F", sheet="heat")
    expect(page.locator(".sheet li")).to_have_count(4)
    page.wait_for_timeout(150)

    assert overflow(page) == []


@pytest.mark.parametrize("look", ["day", "night"])
@pytest.mark.parametrize("size", [(1280, 800), (390, 844)])
def test_axe_finds_no_violation_on_it(look: str, size: tuple[int, int], open_panel: Open) -> None:
    """axe-core, WCAG 2.0 to 2.2 A and AA."""
    page = open_panel(size, look=look, sheet="heat")
    expect(page.locator(".sheet li")).to_have_count(4)

    assert violations(page) == []
