"""Day and night look, first paint, blinking, and the rules of WCAG that a machine can check."""

import base64
import json
import struct
import zlib
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, Route, expect

from tests.web import scenes
from tests.web.conftest import Open
from tests.web.fake_service import FakeService

AXE = Path(__file__).parents[2] / "web" / "node_modules" / "axe-core" / "axe.min.js"
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
# Okabe and Ito, "Color Universal Design", jfly.uni-koeln.de/color: vermillion, yellow, sky blue.
OKABE_ITO = {1: "rgb(213, 94, 0)", 2: "rgb(240, 228, 66)", 3: "rgb(86, 180, 233)"}


def lines_of(png: bytes) -> tuple[list[bytearray], int]:
    """Return the lines of an 8-bit PNG without interlace, and how many channels a point has."""
    width, _, depth, colour = struct.unpack(">IIBB", png[16:26])
    assert depth == 8
    channels = {2: 3, 6: 4}[colour]
    at, packed = 8, b""
    while at < len(png):
        (length,) = struct.unpack(">I", png[at : at + 4])
        packed += png[at + 8 : at + 8 + length] if png[at + 4 : at + 8] == b"IDAT" else b""
        at += 12 + length
    raw, stride = zlib.decompress(packed), width * channels
    lines = [bytearray(stride)]
    for start in range(0, len(raw), stride + 1):
        lines.append(unfiltered(raw[start], raw[start + 1 : start + 1 + stride], lines[-1], channels))
    return lines[1:], channels


def brightest(png: bytes) -> int:
    """Return the highest value of any colour channel."""
    lines, channels = lines_of(png)
    return max(max(line[channel::channels]) for line in lines for channel in range(3))


def mean_level(png: bytes) -> float:
    """Return the mean of the green channel, 0 to 255."""
    lines, channels = lines_of(png)
    return sum(sum(line[1::channels]) for line in lines) / sum(len(line) // channels for line in lines)


def unfiltered(kind: int, line: bytes, above: bytearray, step: int) -> bytearray:
    """Undo the filter of one PNG line (PNG specification, clause 9)."""
    out = bytearray(line)
    for at in range(len(out)):
        left = out[at - step] if at >= step else 0
        corner = above[at - step] if at >= step else 0
        if kind == 1:
            out[at] = (out[at] + left) & 255
        elif kind == 2:
            out[at] = (out[at] + above[at]) & 255
        elif kind == 3:
            out[at] = (out[at] + (left + above[at]) // 2) & 255
        elif kind == 4:
            guess = left + above[at] - corner
            nearest = min(
                (abs(guess - left), 0, left), (abs(guess - above[at]), 1, above[at]), (abs(guess - corner), 2, corner)
            )
            out[at] = (out[at] + nearest[2]) & 255
    return out


@pytest.mark.parametrize("slow", ["**/look.js", "**/*.css", "**/assets/*.js"])
def test_no_white_flash_at_night(slow: str, open_panel: Open) -> None:
    """A night screen that is loaded again stays dark in every frame the browser draws, whatever comes late."""
    page = open_panel((390, 844), look="night")
    expect(page.locator(".guide")).to_be_visible()
    frames: list[bytes] = []
    devtools = page.context.new_cdp_session(page)

    def keep(frame: dict[str, Any]) -> None:
        frames.append(base64.b64decode(frame["data"]))
        devtools.send("Page.screencastFrameAck", {"sessionId": frame["sessionId"]})

    def delay(route: Route) -> None:
        page.wait_for_timeout(300)
        route.continue_()

    devtools.on("Page.screencastFrame", keep)
    devtools.send("Page.startScreencast", {"format": "png", "maxWidth": 65, "maxHeight": 140, "everyNthFrame": 1})
    page.route(slow, delay)
    page.reload()
    expect(page.locator(".guide")).to_be_visible()
    page.wait_for_timeout(300)
    devtools.send("Page.stopScreencast")

    assert len(frames) >= 2
    assert max(mean_level(frame) for frame in frames) < 70


def test_a_white_frame_would_be_seen(open_panel: Open) -> None:
    """The measure is alive: the day look is bright, a night screen dark."""
    levels = {}
    for look in ("day", "night"):
        page = open_panel((200, 300), look=look)
        expect(page.locator("html")).to_have_attribute("data-look", look)
        levels[look] = mean_level(page.screenshot())

    assert levels["night"] < 70
    assert levels["day"] > 130


def test_night_is_dim_without_red(service: FakeService, open_panel: Open) -> None:
    """At night text is an off-white on near black: no grey tone is brighter than the dimmed text, none is red."""
    page = open_panel((390, 844), look="night")
    expect(page.locator(".guide")).to_be_visible()
    page.wait_for_timeout(1200)
    ink = page.evaluate("getComputedStyle(document.body).color")

    assert ink == "rgb(203, 199, 191)"
    assert brightest(page.screenshot()) <= 203 + 4


@pytest.mark.parametrize("look", ["day", "night"])
def test_an_alarm_field_has_its_colour_with_black_text(look: str, service: FakeService, open_panel: Open) -> None:
    """Vermillion, yellow and sky blue carry black text in both looks; shape and number say the same without colour."""
    page = open_panel(look=look)
    bar = page.locator(".bar")
    expect(page.locator(".quiet")).to_be_visible()
    for priority, shape in ((1, "rect"), (2, "path"), (3, "circle")):
        service.frame(alarms=[scenes.fall(priority=priority)])

        expect(bar).to_have_css("background-color", OKABE_ITO[priority])
        expect(bar.locator(".title")).to_have_css("color", "rgb(0, 0, 0)")
        expect(bar.locator(f".symbol {shape}")).to_have_count(1)
        expect(bar.locator(".symbol text")).to_have_text(str(priority))
        expect(bar.get_by_role("img", name=f"Priority {priority}")).to_be_visible()


@pytest.mark.parametrize("look", ["day", "night"])
def test_without_alarm_the_screen_has_no_colour(look: str, open_panel: Open) -> None:
    """Every colour of text, field, border and line is a grey: its channels are within 14 of each other."""
    page = open_panel(look=look)
    expect(page.locator(".guide")).to_be_visible()
    colours = page.evaluate(
        """() => [...new Set([...document.querySelectorAll("body, #panel *")].flatMap(one => {
          const style = getComputedStyle(one);
          return [style.color, style.backgroundColor, style.borderTopColor, style.fill];
        }))]"""
    )
    channels = [
        [float(part) for part in colour[colour.index("(") + 1 : -1].replace(",", " ").replace("/", " ").split()[:3]]
        for colour in colours
        if "(" in colour
    ]

    assert len(channels) > 4
    assert all(max(rgb) - min(rgb) <= 14 for rgb in channels)


def test_only_the_symbol_of_an_unseen_alarm_blinks(service: FakeService, open_panel: Open) -> None:
    """It blinks once a second (WCAG 2.3.1: not over three), nothing else moves, and a seen alarm stands still."""
    service.snapshot = scenes.quiet(alarms=[scenes.fall()])
    page = open_panel()
    expect(page.locator(".bar .symbol")).to_be_visible()
    moving = page.evaluate(
        "document.getAnimations().map(a => [a.effect.target.classList[0], a.effect.getTiming().duration])"
    )
    service.frame(alarms=[scenes.fall(acked=True, acked_by="Ines")])
    expect(page.locator(".bar")).to_contain_text("seen by Ines")

    assert moving == [["symbol", 1000]]
    assert page.evaluate("document.getAnimations().length") == 0


def test_nothing_blinks_for_those_who_asked_for_no_motion(service: FakeService, open_panel: Open) -> None:
    """With reduced motion asked for, an unseen alarm stands still."""
    service.snapshot = scenes.quiet(alarms=[scenes.fall()])
    page = open_panel(prepare=lambda page: page.emulate_media(reduced_motion="reduce"))
    expect(page.locator(".bar .symbol")).to_be_visible()

    assert page.evaluate("document.getAnimations().length") == 0


def violations(page: Page) -> list[str]:
    """Run axe and name what it finds."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE.read_text())
    found = page.evaluate("tags => axe.run(document, {runOnly: {type: 'tag', values: tags}})", TAGS)
    return [
        f"{rule['id']}: {json.dumps(rule['nodes'][0]['target'])} {rule['nodes'][0]['failureSummary']}"
        for rule in found["violations"]
    ]


@pytest.mark.parametrize("look", ["day", "night"])
@pytest.mark.parametrize("size", [(1280, 800), (390, 844)])
def test_axe_finds_no_violation(look: str, size: tuple[int, int], service: FakeService, open_panel: Open) -> None:
    """axe-core, WCAG 2.0 to 2.2 A and AA, finds nothing on any sheet in either look, in quiet and in alarm."""
    service.snapshot = scenes.quiet(test="simulator")
    page = open_panel(size, look=look, prepare=lambda page: page.emulate_media(reduced_motion="reduce"))
    expect(page.locator(".quiet")).to_be_visible()
    found = {"quiet": violations(page)}
    service.frame(alarms=scenes.falling().alarms, values=scenes.falling().values)
    expect(page.locator(".bar .title")).to_be_visible()
    found["alarm"] = violations(page)
    for key in ("2 more alarms", "larger", "Log", "Safety"):
        page.get_by_role("button", name=key).click()
        expect(page.locator(".sheet")).to_be_visible()
        found[key] = violations(page)
        page.locator(".rail").get_by_role("button", name="Back").click()

    assert found == {"quiet": [], "alarm": [], "2 more alarms": [], "larger": [], "Log": [], "Safety": []}


def test_axe_would_find_a_violation(open_panel: Open) -> None:
    """The check is alive: a picture without text is found."""
    page = open_panel()
    expect(page.locator(".guide")).to_be_visible()
    page.evaluate("document.body.append(document.createElement('img'))")

    assert any(one.startswith("image-alt") for one in violations(page))


def test_an_alarm_is_announced_once(service: FakeService, open_panel: Open) -> None:
    """The live region holds title and action and does not change with each second's age."""
    page = open_panel()
    expect(page.get_by_role("alert")).to_have_text("")
    service.frame(alarms=[scenes.fall()])
    alert = page.get_by_role("alert")
    expect(alert).to_contain_text("Temperature falling. Stand aside")
    before = alert.inner_text()
    page.wait_for_timeout(1500)

    assert alert.inner_text() == before
