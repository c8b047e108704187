"""The practice: what a person is told and can do at a simulated kiln, and that it stands in the way of nothing."""

import re
from itertools import pairwise
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from monitor.publish.messages import Snapshot
from monitor.wire.practice import Lead, Sight
from tests.web import scenes
from tests.web.conftest import Open, wait_for
from tests.web.fake_service import FakeService
from tests.web.test_look import violations
from tests.web.test_screen import SCREENS, TABLETS, overflow

LEAST_MM = 20.0
"""Side of a key for a bare hand (Ergonomics 2004 47(13), as for the other keys)."""
GAP_MM = 4.9


def quiet(**other: Any) -> Snapshot:
    """Tell a calm moment at a kiln to practise on."""
    return scenes.quiet(**({"test": "simulator", "speed": 20.0, "practice": scenes.practice()} | other))


def open_practice(page: Page) -> None:
    """Go to the sheet as a person does."""
    page.get_by_role("button", name="Practise").click()
    expect(page.locator(".practice")).to_be_visible()


def test_a_real_kiln_offers_no_practice(service: FakeService, open_panel: Open) -> None:
    """No key for it, and a sheet that was chosen elsewhere shows the kiln instead."""
    page = open_panel(sheet="practice")
    expect(page.locator(".guide")).to_be_visible()

    expect(page.get_by_role("button", name="Practise")).to_have_count(0)
    expect(page.locator(".rail .key")).to_have_count(4)


def test_before_taking_over_it_says_what_it_is(service: FakeService, open_panel: Open) -> None:
    """A test, at which pace, and nothing to do but to take over."""
    service.snapshot = quiet(practice=scenes.watched())
    page = open_panel()
    open_practice(page)
    sheet = page.locator(".practice")

    expect(sheet).to_contain_text("Nothing here reaches a real kiln")
    expect(sheet).to_contain_text("20 times as fast as life: 180 s for an hour")
    expect(sheet.get_by_role("button")).to_have_count(0)
    page.get_by_role("button", name="Take over").click()
    wait_for(lambda: bool(service.posts), page=page)
    assert service.posts == [("/api/practice", {"what": "take-over"})]


def test_the_eye_is_told_in_words(service: FakeService, open_panel: Open) -> None:
    """Flame, smoke, embers with how old the look is, last stoke, what the lead wants, and the guide."""
    service.snapshot = quiet(speed=1.0)
    page = open_panel()
    open_practice(page)
    sight = page.locator(".sight")

    for words in (
        "Middle 1014 °C", "+32 °C/h", "Stoked 2 min ago", "a stoke every 4 min, 2.6",
        "side: 6 min, Front, Middle, Back", "climb +20 °C/h",
        "Spyholes long flame", "Flue short flame", "Smoke grey", "Embers deep, 2 min ago",
    ):  # fmt: skip
        expect(sight).to_contain_text(words)
    expect(page.locator(".top")).to_contain_text("Yours for 30 min · 7 stokes · 32")
    expect(page.get_by_role("status")).to_contain_text("Side stoke middle, 1.8")
    service.frame(practice=scenes.practice(sight=Sight("none", "none", "clear", None, None)))
    for words in ("Spyholes no flame", "Flue no flame", "Smoke clear", "Embers not looked yet"):
        expect(sight).to_contain_text(words)


def test_closed_up_the_lead_wants_no_stoking(service: FakeService, open_panel: Open) -> None:
    """An interval of none is not a number."""
    service.snapshot = quiet(practice=scenes.practice(lead=Lead("cooling", 0.0, 0.0, 2.0, 0.0, ())))
    page = open_panel()
    open_practice(page)

    expect(page.locator(".sight")).to_contain_text("The lead wants: no more stoking; climb 0 °C/h")


@pytest.mark.parametrize(
    ("key", "order"),
    [
        ("Stoke small", {"what": "stoke", "armful": "small"}),
        ("Stoke usual", {"what": "stoke", "armful": "usual"}),
        ("Stoke big", {"what": "stoke", "armful": "big"}),
        ("Side back", {"what": "side-stoke", "zone": "back"}),
        ("Rake", {"what": "rake"}),
        ("Look in", {"what": "look"}),
        ("Close damper to 65 %", {"what": "damper", "to": 0.65}),
        ("Open damper to 100 %", {"what": "damper", "to": 1.0}),
        ("Open air below to 40 %", {"what": "primary", "to": 0.4}),
        ("Close air below to 20 %", {"what": "primary", "to": 0.2}),
        ("Close air above to 80 %", {"what": "secondary", "to": 0.8}),
        ("Give back", {"what": "give-back"}),
        ("How it goes", {"what": "report"}),
    ],
)
def test_each_key_gives_its_order(key: str, order: dict[str, Any], service: FakeService, open_panel: Open) -> None:
    """One tap, one order; a setting goes to the next notch, wherever it was found."""
    service.snapshot = quiet()
    page = open_panel()
    open_practice(page)
    page.get_by_role("button", name=key, exact=True).click()
    wait_for(lambda: bool(service.posts), page=page)

    assert service.posts == [("/api/practice", order)]


def test_a_setting_at_its_end_goes_no_further(service: FakeService, open_panel: Open) -> None:
    """The key says so and gives no order."""
    service.snapshot = quiet()
    page = open_panel()
    open_practice(page)
    page.get_by_role("button", name="Air above: no further").click()
    page.wait_for_timeout(200)

    assert service.posts == []


@pytest.mark.parametrize(
    ("status", "words", "said"),
    [
        (409, {"detail": "full"}, "No room for more wood there"),
        (409, {"detail": "watch-has-it"}, "take over first"),
        (503, {"detail": "no-answer"}, "does not answer"),
        (500, None, "does not answer"),
    ],
)
def test_what_was_not_done_is_said(status: int, words: Any, said: str, service: FakeService, open_panel: Open) -> None:
    """Why not, in words, where a moment ago the last deed was; the next deed that works takes it away."""
    service.snapshot = quiet()
    page = open_panel()
    open_practice(page)
    service.post_status, service.post_words = status, words
    page.get_by_role("button", name="Stoke usual").click()
    expect(page.get_by_role("status")).to_contain_text(said)
    service.post_status = 200
    page.get_by_role("button", name="Rake").click()

    expect(page.get_by_role("status")).not_to_contain_text(said)


def test_a_double_tap_is_one_stoke(service: FakeService, open_panel: Open) -> None:
    """While one order is on its way a second tap does nothing."""
    service.snapshot = quiet()
    page = open_panel()
    open_practice(page)
    page.get_by_role("button", name="Stoke usual").dblclick(delay=0)
    page.wait_for_timeout(300)

    assert len(service.posts) == 1


def test_two_panels_see_the_same(service: FakeService, open_panel: Open) -> None:
    """Whoever gave the order: both tell it, and both tell that the kiln was given back."""
    service.snapshot = quiet(practice=scenes.watched())
    pages = [open_panel(), open_panel((390, 844))]
    for page in pages:
        open_practice(page)
        expect(page.get_by_role("button", name="Take over")).to_be_visible()
    service.frame(practice=scenes.practice())
    for page in pages:
        expect(page.get_by_role("status")).to_contain_text("Side stoke middle")
        expect(page.get_by_role("button", name="Stoke big")).to_be_visible()
    service.frame(practice=scenes.watched(report=scenes.report()))
    for page in pages:
        expect(page.locator(".practice")).to_contain_text("Longest gap")
        expect(page.get_by_role("button", name="Stoke big")).to_have_count(0)


def test_how_it_went_is_told_in_numbers(service: FakeService, open_panel: Open) -> None:
    """On request while it goes on, with the way back to the kiln."""
    service.snapshot = quiet(practice=scenes.practice(report=scenes.report()))
    page = open_panel(unit="F")
    open_practice(page)
    page.get_by_role("button", name="How it goes").click()
    sheet = page.locator(".sheet")
    for words in (
        "Kiln time 30 min", "7 front, 2 side, 32", "4.6 min, agreed 4.0 min", "9.5 min", "Falls 1", "Stalls 0",
        "1834 °F to 1857 °F", "Front, 1868 °F", "Back, 1774 °F", "Kept nowhere",
    ):  # fmt: skip
        expect(sheet).to_contain_text(words)
    page.get_by_role("button", name="Back", exact=True).click()

    expect(page.get_by_role("button", name="Stoke usual")).to_be_visible()


@pytest.mark.parametrize("size", SCREENS)
def test_work_keys_are_large_enough_and_apart(size: tuple[int, int], service: FakeService, open_panel: Open) -> None:
    """20 mm wide and, but for a telephone, high; 4.9 mm apart where gloves are worn."""
    service.snapshot = quiet()
    page = open_panel(size)
    expect(page.locator(".sound")).to_have_count(0)
    expect(page.locator(".rail .key")).to_have_count(5)
    boxes = [key.bounding_box() for key in page.locator(".rail .key").all()]
    open_practice(page)
    boxes += [key.bounding_box() for key in page.locator(".practice .key").all()]
    wide_mm = 10.0 if size == (390, 844) else LEAST_MM

    assert len(boxes) == 5 + 8 + 6
    for box in boxes:
        assert box is not None
        assert box["width"] * SCREENS[size] >= wide_mm
        assert box["height"] * SCREENS[size] >= (10.0 if size == (390, 844) else LEAST_MM)


@pytest.mark.parametrize("size", TABLETS)
def test_work_keys_stand_apart(size: tuple[int, int], service: FakeService, open_panel: Open) -> None:
    """4.9 mm or more between any two in a row and between rows, the rail of five keys as well."""
    service.snapshot = quiet()
    page = open_panel(size)
    expect(page.locator(".sound")).to_have_count(0)
    expect(page.locator(".rail .key")).to_have_count(5)
    rail = [box for box in (key.bounding_box() for key in page.locator(".rail .key").all()) if box]
    open_practice(page)
    keys = [box for box in (key.bounding_box() for key in page.locator(".practice .key").all()) if box]
    lefts = sorted({round(box["x"]): box for box in keys[:4]}.items())
    gaps = [b["y"] - a["y"] - a["height"] for a, b in pairwise(rail)]
    gaps += [right[1]["x"] - left[1]["x"] - left[1]["width"] for left, right in pairwise(lefts)]
    gaps += [keys[4]["y"] - keys[0]["y"] - keys[0]["height"], keys[8]["y"] - keys[4]["y"] - keys[4]["height"]]
    gaps += [keys[n + 1]["x"] - keys[n]["x"] - keys[n]["width"] for n in range(8, 13)]

    assert min(gaps) * SCREENS[size] >= GAP_MM


@pytest.mark.parametrize("size", TABLETS)
def test_a_tablet_shows_the_whole_practice_at_once(
    size: tuple[int, int], service: FakeService, open_panel: Open
) -> None:
    """Nothing lies below the edge, on the first screen and on the sheet."""
    service.snapshot = quiet()
    page = open_panel(size)
    expect(page.locator(".sound")).to_have_count(0)
    heights = [page.evaluate("document.documentElement.scrollHeight")]
    open_practice(page)
    heights.append(page.evaluate("document.documentElement.scrollHeight"))

    assert max(heights) <= size[1]


@pytest.mark.parametrize("size", [*SCREENS, (1600, 1000), (320, 640)])
def test_nothing_of_the_practice_runs_over_the_edge(
    size: tuple[int, int], service: FakeService, open_panel: Open
) -> None:
    """In hand, given back and reported, in degF, with three alarms."""
    alarms = scenes.falling().alarms
    service.snapshot = quiet(alarms=alarms, practice=scenes.practice(report=scenes.report()))
    page = open_panel(size, unit="F")
    open_practice(page)
    page.wait_for_timeout(150)
    found = {"in hand": overflow(page)}
    page.get_by_role("button", name="How it goes").click()
    expect(page.locator(".sheet")).to_be_visible()
    found["report"] = overflow(page)
    page.get_by_role("button", name="Back", exact=True).click()
    service.frame(practice=scenes.watched(report=scenes.report()))
    expect(page.get_by_role("button", name="Take over")).to_be_visible()
    found["given back"] = overflow(page)
    service.frame(practice=scenes.watched())
    expect(page.locator(".intro")).to_contain_text("It is a test")
    found["watched"] = overflow(page)

    assert found == {"in hand": [], "report": [], "given back": [], "watched": []}


@pytest.mark.parametrize("size", SCREENS)
def test_an_alarm_stays_in_sight_however_far_one_scrolls(
    size: tuple[int, int], service: FakeService, open_panel: Open
) -> None:
    """Marked TEST above; the alarm with its keys is on the screen at the last key of the work too."""
    service.snapshot = quiet(alarms=scenes.falling().alarms)
    page = open_panel(size)
    open_practice(page)
    expect(page.locator(".test")).to_contain_text("TEST")
    page.locator(".practice .key").last.scroll_into_view_if_needed()
    page.evaluate("scrollTo(0, document.documentElement.scrollHeight)")

    expect(page.locator(".bar .title")).to_be_in_viewport(ratio=1)
    expect(page.get_by_role("button", name="Seen: Temperature falling")).to_be_in_viewport(ratio=1)


@pytest.mark.parametrize("look", ["day", "night"])
@pytest.mark.parametrize("size", [(1280, 800), (390, 844)])
def test_axe_finds_no_violation_in_a_practice(
    look: str, size: tuple[int, int], service: FakeService, open_panel: Open
) -> None:
    """axe-core, WCAG 2.0 to 2.2 A and AA, in hand, reported and given back, in both looks."""
    service.snapshot = quiet()
    page = open_panel(size, look=look)
    open_practice(page)
    found = {"in hand": violations(page)}
    page.get_by_role("button", name="How it goes").click()
    service.frame(practice=scenes.practice(report=scenes.report()))
    expect(page.locator(".sheet")).to_contain_text("Falls")
    found["report"] = violations(page)
    page.get_by_role("button", name="Back", exact=True).click()
    service.frame(practice=scenes.watched())
    expect(page.locator(".intro")).to_be_visible()
    found["watched"] = violations(page)

    assert found == {"in hand": [], "report": [], "watched": []}


@pytest.mark.parametrize("look", ["day", "night"])
def test_the_practice_has_no_colour(look: str, service: FakeService, open_panel: Open) -> None:
    """Flame and smoke are drawn in greys: colour is for alarms."""
    service.snapshot = quiet(practice=scenes.practice(sight=Sight("long", "long", "dark", "choking", scenes.CLOCK)))
    page = open_panel(look=look)
    open_practice(page)
    fills = page.evaluate(
        "() => [...document.querySelectorAll('.practice svg *')].flatMap(one => {"
        "  const style = getComputedStyle(one); return [style.fill, style.stroke]; })"
    )
    greys = [[int(part) for part in re.findall(r"\d+", fill)[:3]] for fill in fills if fill.startswith("rgb")]

    assert len(greys) > 4
    assert all(max(grey) - min(grey) <= 14 for grey in greys)
