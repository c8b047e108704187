"""The alarm load: per watch against what a person can take, shares, the most frequent, and the journal."""

import pytest
from playwright.sync_api import expect

from tests.web import scenes
from tests.web.conftest import Open
from tests.web.fake_service import FakeService
from tests.web.test_look import violations
from tests.web.test_screen import SCREENS, overflow

REPORT = {
    "hours": 8.0, "alarms": 20, "per_hour_most": 7, "in_10_min_most": 4, "share": {"1": 1, "2": 3, "3": 16},
    "most_frequent": [["spread", "Front and back drift apart", 12], ["fall", "Temperature falling", 3]],
    "watches": [
        {"begun": scenes.LIT, "ended": scenes.CLOCK - 14400, "alarms": 5, "per_hour_most": 2, "in_10_min_most": 1},
        {"begun": scenes.CLOCK - 14400, "ended": scenes.CLOCK, "alarms": 15, "per_hour_most": 7, "in_10_min_most": 4},
    ],
}  # fmt: skip


@pytest.mark.parametrize("size", SCREENS)
def test_the_load_of_each_watch_is_told(size: tuple[int, int], service: FakeService, open_panel: Open) -> None:
    """A watch over the aim stands out by weight and length of its bar; the journal is one tap away."""
    service.report = REPORT
    page = open_panel(size, sheet="alarms")
    page.get_by_role("button", name="Alarm load").click()
    sheet = page.locator(".sheet")
    expect(sheet).to_contain_text("15, at most 7 an hour, 4 in 10 min")
    expect(sheet).to_contain_text("Front and back drift apart: 12")
    expect(sheet).to_contain_text("Priority 3: 16")
    expect(sheet.locator(".over")).to_have_count(1)
    widths = [box["width"] for bar in sheet.locator("i").all() if (box := bar.bounding_box())]

    assert widths[0] < widths[1]
    expect(page.get_by_role("link", name="Journal")).to_have_attribute("href", "/api/alarms/journal")
    assert overflow(page) == []
    assert violations(page) == []


def test_a_report_that_cannot_be_had_is_no_report(service: FakeService, open_panel: Open) -> None:
    """It says so."""
    service.report_status = 503
    page = open_panel(sheet="alarms")
    page.get_by_role("button", name="Alarm load").click()

    expect(page.locator(".sheet")).to_contain_text("Not fetched yet.")
