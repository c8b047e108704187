"""What the Now screen shows, how large, and that nothing runs over its edge."""

import re
from itertools import pairwise

import msgspec
import pytest
from playwright.sync_api import Page, expect

from tests.web import scenes
from tests.web.conftest import Open
from tests.web.fake_service import FakeService

# Millimetres of one CSS pixel: 10.1-inch tablet of 1280 px; 10.9-inch tablet at 132 px an inch; 7-inch display,
# 154.1 mm wide; telephone at 153 px an inch. From the makers' diagonal and resolution, from memory.
SCREENS = {(1280, 800): 0.170, (1180, 820): 0.1924, (800, 480): 0.1926, (390, 844): 0.166}
NUREG_0700_CAP_MM_AT_3_M = 19.2
"""Cap height for 22 arcmin at 3 m: 2 * 3000 * tan(11 arcmin); NUREG-0700 prefers 20 to 22 arcmin."""
NUREG_0700_LEAST_MM_AT_3_M = 14.0
"""Cap height for 16 arcmin at 3 m, the least of NUREG-0700."""
TABLETS = [(1280, 800), (1180, 820)]

DIGIT_HEIGHT = """figure => {
  const style = getComputedStyle(figure);
  const context = document.createElement("canvas").getContext("2d");
  context.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
  return context.measureText("H").actualBoundingBoxAscent;
}"""


def overflow(page: Page) -> list[str]:
    """Name every element that is wider than the room it has, and the page if it scrolls sideways."""
    return page.evaluate(
        """() => {
          const wide = [...document.querySelectorAll("#panel *:not(.unseen):not(canvas)")].filter(
            one => one.scrollWidth > one.clientWidth + 1 && one.clientWidth > 0
              && getComputedStyle(one).overflowX === "visible" && getComputedStyle(one).display !== "inline"
              && !one.closest("svg") && !one.closest(".chart"));
          const over = [...document.querySelectorAll("#panel *")].filter(
            one => one.getBoundingClientRect().right > innerWidth + 1 && !one.closest(".scroll"));
          const page = document.documentElement.scrollWidth > innerWidth ? ["page"] : [];
          return [...page, ...[...wide, ...over].map(one => `${one.tagName}.${one.className}: ${one.textContent}`)];
        }"""
    )


@pytest.mark.parametrize("size", TABLETS)
def test_the_guides_number_is_readable_from_three_metres(size: tuple[int, int], open_panel: Open) -> None:
    """The cap height on a tablet is at least what 22 arcmin ask for at 3 m, the other sensors' at least 16 arcmin."""
    page = open_panel(size)
    figures = page.locator("[data-figure]")
    expect(figures).to_have_count(4)
    heights_mm = [one.evaluate(DIGIT_HEIGHT) * SCREENS[size] for one in figures.all()]

    assert heights_mm[0] >= NUREG_0700_CAP_MM_AT_3_M
    assert min(heights_mm[1:]) >= NUREG_0700_LEAST_MM_AT_3_M
    assert figures.all_inner_texts() == ["1014", "1104", "1043", "968"]


@pytest.mark.parametrize(
    ("size", "wide_mm", "high_mm"),
    [((1280, 800), 24.9, 24.9), ((1180, 820), 24.9, 24.9), ((800, 480), 20, 20), ((390, 844), 20, 10)],
)
def test_keys_are_large_enough_for_a_hand(
    size: tuple[int, int], wide_mm: float, high_mm: float, service: FakeService, open_panel: Open
) -> None:
    """Keys are 25 mm on a tablet, 20 mm on a small display and wide on a telephone (Ergonomics 2004 47(13): 20 mm)."""
    service.snapshot = scenes.falling()
    page = open_panel(size)
    expect(page.get_by_role("button", name="Seen: Temperature falling")).to_be_visible()
    boxes = [key.bounding_box() for key in page.locator(".key").all()]

    assert len(boxes) == 6
    for box in boxes:
        assert box is not None
        assert box["width"] * SCREENS[size] >= wide_mm
        assert box["height"] * SCREENS[size] >= high_mm


@pytest.mark.parametrize("size", TABLETS)
def test_keys_of_the_right_hand_stand_apart_and_off_the_edge(size: tuple[int, int], open_panel: Open) -> None:
    """Keys lie 4.9 mm apart and 7.9 mm from the right edge or more: own starting values for a gloved hand."""
    page = open_panel(size)
    expect(page.locator(".sound")).to_have_count(0)
    expect(page.locator(".rail .key")).to_have_count(4)
    boxes = [box for box in (key.bounding_box() for key in page.locator(".rail .key").all()) if box]
    gaps = [below["y"] - above["y"] - above["height"] for above, below in pairwise(boxes)]

    assert min(gaps) * SCREENS[size] >= 4.9
    assert (size[0] - max(box["x"] + box["width"] for box in boxes)) * SCREENS[size] >= 7.9


@pytest.mark.parametrize("size", [*SCREENS, (1600, 1000), (320, 640)])
def test_nothing_runs_over_the_edge(size: tuple[int, int], service: FakeService, open_panel: Open) -> None:
    """No sheet scrolls sideways and no text is wider than its place, in degF, marked TEST, with three alarms."""
    service.snapshot = scenes.falling(test="simulator", speed=60.0)
    page = open_panel(size, unit="F")
    expect(page.locator(".bar .title")).to_have_text("Temperature falling")
    page.wait_for_timeout(150)
    found = {"now": overflow(page)}
    for key in ("2 more alarms", "larger", "Log", "Safety"):
        page.get_by_role("button", name=key).click()
        expect(page.locator(".sheet")).to_be_visible()
        found[key] = overflow(page)
        page.locator(".rail").get_by_role("button", name="Back").click()

    assert found == {"now": [], "2 more alarms": [], "larger": [], "Log": [], "Safety": []}


@pytest.mark.parametrize("size", [(1280, 800), (390, 844)])
def test_one_to_twelve_sensors_have_room(size: tuple[int, int], service: FakeService, open_panel: Open) -> None:
    """One probe gets a whole screen, twelve still have a number each, and a tablet shows them all at once."""
    page = open_panel(size)
    expect(page.locator("[data-figure]")).to_have_count(4)
    for count in (1, 2, 5, 6, 8, 12):
        service.say(scenes.crowd(count))
        expect(page.locator("[data-figure]")).to_have_count(count)
        page.wait_for_timeout(100)

        assert overflow(page) == []
        assert size == (390, 844) or page.evaluate("document.documentElement.scrollHeight") <= size[1]


@pytest.mark.parametrize("size", TABLETS)
def test_a_tablet_shows_everything_at_once(size: tuple[int, int], service: FakeService, open_panel: Open) -> None:
    """With four sensors nothing lies below the edge, in quiet and in alarm: nobody has to scroll at night."""
    page = open_panel(size)
    expect(page.locator(".sound")).to_have_count(0)
    heights = [page.evaluate("document.documentElement.scrollHeight")]
    service.say(scenes.falling())
    expect(page.locator(".bar .title")).to_be_visible()
    heights.append(page.evaluate("document.documentElement.scrollHeight"))

    assert max(heights) <= size[1]


def test_climb_is_told_in_a_word_with_its_uncertainty(service: FakeService, open_panel: Open) -> None:
    """The guide's climb is a word and a number that changes with the service's; unknown is said to be unknown."""
    page = open_panel()
    guide = page.locator(".guide")
    expect(guide).to_contain_text("climbing")
    expect(guide).to_contain_text("+32 ± 3 °C/h")
    service.frame(values=[scenes.value("middle", 1013.0, 1.2)])
    expect(guide).to_contain_text("standing")
    service.frame(values=[scenes.value("middle", 1012.0, -9.0)])
    expect(guide).to_contain_text("falling")
    service.frame(values=[scenes.value("middle", 1011.0, None)])

    expect(guide).to_contain_text("climb not known yet")
    expect(guide).to_contain_text("1011")


@pytest.mark.parametrize("said", ["", "Your safety before the pots. "])
def test_priority_one_puts_people_first_and_says_it_once(said: str, service: FakeService, open_panel: Open) -> None:
    """The first line of a priority 1 alarm is about people, whether the alarm's own words begin with it or not."""
    service.snapshot = scenes.quiet(alarms=[scenes.fall(action=f"{said}Stand aside.")])
    page = open_panel()

    expect(page.locator(".bar .action")).to_have_text("Your safety before the pots. Stand aside.")


def test_plan_and_last_stoke_stand_beside_the_guide(open_panel: Open) -> None:
    """The plan at this moment is between its points: 800 + 13/48 of 480 = 930 degC."""
    page = open_panel()

    expect(page.locator(".guide")).to_contain_text("plan 930 °C")
    expect(page.locator(".guide")).to_contain_text("Stoked 5 min ago")


def test_fahrenheit_is_only_shown(service: FakeService, open_panel: Open) -> None:
    """One tap shows degF, rates by 1.8 without 32 (NIST SP 811), and it stays through a reload."""
    page = open_panel()
    page.get_by_role("button", name="Show °F").click()
    for _ in range(2):
        expect(page.locator(".guide [data-figure]")).to_have_text("1856")
        expect(page.locator(".guide")).to_contain_text("+58 ± 6 °F/h")
        expect(page.locator(".guide")).to_contain_text("plan 1706 °F")
        page.reload()

    expect(page.get_by_role("button", name="Show °C")).to_be_visible()


def test_a_fault_is_told_in_words_not_as_a_number(service: FakeService, open_panel: Open) -> None:
    """A broken wire shows its words and no temperature."""
    service.snapshot = scenes.falling()
    page = open_panel()
    back = page.get_by_role("button", name="Back").filter(has=page.locator("[data-figure]"))

    expect(back).to_contain_text("wire open")
    expect(back.locator("[data-figure]")).to_have_text("\u2013")


def test_an_age_is_shown_past_five_seconds_only(service: FakeService, open_panel: Open) -> None:
    """A number that was not renewed says how old it is, and is hatched at fifteen seconds, whatever the others do."""
    values = [scenes.value("firebox", 1104.2, age_s=16.0), scenes.value("front", 1042.0, age_s=6.0)]
    fresh = service.snapshot.values[2:]
    service.snapshot = msgspec.structs.replace(service.snapshot, values=[*values, *fresh])
    page = open_panel()
    firebox, front, back = (page.locator(".sensor").nth(n) for n in range(3))

    expect(firebox).to_contain_text(re.compile(r"1[67] s old"))
    expect(firebox).to_have_class(re.compile("past"))
    expect(front).to_contain_text(re.compile(r"[67] s old"))
    expect(front).not_to_have_class(re.compile("past"))
    expect(back).not_to_contain_text("old")


def test_tapping_a_sensor_makes_its_curve_bold(open_panel: Open) -> None:
    """The guide is chosen at first; a tap chooses another, and the picture changes."""
    page = open_panel()
    # The place, not the canvas in it: that is another one after each change of size while the page settles.
    picture = page.locator(".curve .chart")
    expect(page.get_by_role("img", name=re.compile("^Last 6 h: Firebox from"))).to_be_visible()
    expect(page.locator(".guide")).to_have_attribute("aria-pressed", "true")
    page.wait_for_timeout(400)
    before = picture.screenshot()
    page.locator(".sensor").first.click()
    expect(page.locator(".sensor").first).to_have_attribute("aria-pressed", "true")
    expect(page.locator(".guide")).to_have_attribute("aria-pressed", "false")
    page.wait_for_timeout(200)

    assert picture.screenshot() != before


def test_curves_are_told_in_words_and_numbers(open_panel: Open) -> None:
    """The canvas has a text, and the larger picture a table with the same figures."""
    page = open_panel()
    expect(page.get_by_role("img", name=re.compile("^Last 6 h: Firebox from"))).to_be_visible()
    page.get_by_role("button", name="Last 6 h: larger").click()
    page.get_by_role("button", name="Last hour").click()

    expect(page.get_by_role("img", name=re.compile("^Last hour: Firebox from"))).to_be_visible()
    expect(page.locator("tbody tr")).to_have_count(9)
    expect(page.locator("tbody tr").last).to_contain_text("°C")


def test_a_test_is_marked_on_every_screen(service: FakeService, open_panel: Open) -> None:
    """A simulator says TEST on the screen and in the title; a real kiln does not."""
    service.snapshot = scenes.falling(test="simulator", speed=60.0)
    page = open_panel()
    mark = page.locator(".test")
    expect(mark).to_contain_text("TEST No real fire, 60 times as fast as life")
    for key in ("2 more alarms", "larger", "Log", "Safety"):
        page.get_by_role("button", name=key).click()
        expect(page.locator(".sheet")).to_be_visible()
        expect(mark).to_be_in_viewport()
        page.locator(".rail").get_by_role("button", name="Back").click()

    expect(page).to_have_title("TEST: Demo kiln")


def test_a_real_kiln_is_not_marked(open_panel: Open) -> None:
    """No mark where none belongs, or nobody will believe it."""
    page = open_panel()
    expect(page).to_have_title("Demo kiln")

    expect(page.locator(".test")).to_have_count(0)


def test_cautions_are_always_there_and_one_tap_from_more(open_panel: Open) -> None:
    """A short line stands on the screen; one tap shows the reminders, which defer to codes and certified alarms."""
    page = open_panel()
    expect(page.locator("footer")).to_contain_text("This is no CO or fire alarm")
    page.get_by_role("button", name="Safety").click()
    sheet = page.locator(".sheet")

    for words in ("Certified alarms", "local codes", "licensed trades", "personal CO monitor", "Nobody is alone"):
        expect(sheet).to_contain_text(words)
    page.get_by_role("button", name="Back").click()
    expect(page.locator(".guide")).to_be_visible()


def test_a_reload_restores_the_same_screen(service: FakeService, open_panel: Open) -> None:
    """Look, unit, span, chosen sensor and sheet are this screen's own and survive a reload within 3 s."""
    page = open_panel()
    page.locator(".sensor").nth(1).click()
    page.get_by_role("button", name="Night look").click()
    page.get_by_role("button", name="larger").click()
    page.get_by_role("button", name="Whole firing").click()
    page.reload()

    expect(page.locator("html")).to_have_attribute("data-look", "night", timeout=3000)
    expect(page.get_by_role("heading", name="Curves: Whole firing")).to_be_visible(timeout=3000)
    page.get_by_role("button", name="Back").click()
    expect(page.locator(".sensor").nth(1)).to_have_attribute("aria-pressed", "true")


def test_the_panel_works_on_plain_http_under_a_name(
    service: FakeService, open_panel: Open, touch_first_browser: object
) -> None:
    """A LAN name over http is no secure context; everything still shows and nothing fails."""
    page = open_panel(address=f"http://kiln.test:{service.port}/", within=touch_first_browser)
    expect(page.locator(".guide [data-figure]")).to_have_text("1014")

    assert page.evaluate("isSecureContext") is False
