"""The link: late, dead, back again, resumed or begun anew, and nothing lost, doubled or cleared by silence."""

import re
from datetime import datetime
from typing import Any

import msgspec
import pytest
from playwright.sync_api import Page, WebSocketRoute, expect

from monitor.publish.messages import Frame
from tests.web import scenes
from tests.web.conftest import Open, wait_for
from tests.web.fake_service import FakeService
from tests.web.test_sound import hears, stays_silent, with_ears


def with_clock(page: Page) -> None:
    """Let the test move the page's clock, and hear."""
    with_ears(page)
    page.clock.install()


def picture_of(page: Page) -> dict[str, Any]:
    """Read what a person reads: figures, climb, alarm."""
    return {
        "figures": page.locator("[data-figure]").all_inner_texts(),
        "climb": page.locator(".guide .climb").inner_text(),
        "alarm": page.locator(".bar .title, .bar .quiet").all_inner_texts(),
    }


def test_a_silent_service_is_late_then_dead_then_heard(service: FakeService, open_panel: Open) -> None:
    """Late at 5 s; at 15 s hatched with an alarm of the panel's own; its sound only at 30 s; priority 1 at 5 min."""
    page = open_panel(prepare=with_clock)
    expect(page.locator(".head")).to_contain_text("Firing for 61 h 00")
    service.is_mute = True
    service.beat()
    body, late = page.locator(".body"), page.locator(".late")
    page.clock.fast_forward(3_000)
    expect(late).to_have_count(0)
    page.clock.fast_forward(2_000)
    expect(late).to_contain_text("Late: nothing heard for")
    expect(body).not_to_have_class(re.compile("past"))
    page.clock.fast_forward(10_000)
    expect(body).to_have_class(re.compile("past"))
    expect(page.locator(".bar .title")).to_have_text("Picture stands still")
    expect(page.locator(".bar .symbol")).to_have_class(re.compile("p2"))
    early = stays_silent(page, 400)
    page.clock.fast_forward(15_000)
    wait_for(lambda: hears(page), 12, page)
    page.clock.fast_forward(270_000)
    expect(page.locator(".bar .symbol")).to_have_class(re.compile("p1"))

    assert early
    assert page.locator("[data-figure]").first.inner_text() == "1014"


def test_a_dead_link_clears_no_alarm(service: FakeService, open_panel: Open) -> None:
    """What was wrong when the picture stood still is still told, and its seen state with it."""
    service.snapshot = scenes.quiet(alarms=[scenes.fall(acked=True, acked_by="Ines")])
    page = open_panel(prepare=with_clock)
    expect(page.locator(".bar .title")).to_have_text("Temperature falling")
    service.is_mute = True
    page.clock.fast_forward(20_000)
    page.get_by_role("button", name="Seen: Picture stands still").click()

    expect(page.locator(".bar")).to_contain_text("1 more alarm")
    assert service.posts == []


def test_quiet_is_not_claimed_of_a_silent_service(service: FakeService, open_panel: Open) -> None:
    """While late the bar says that there was no alarm when last heard, not that nothing is wrong."""
    page = open_panel(prepare=with_clock)
    expect(page.locator(".bar")).to_contain_text("Nothing calls for action.")
    service.is_mute = True
    page.clock.fast_forward(6_000)

    expect(page.locator(".bar")).to_contain_text("No alarm when last heard.")


def test_any_frame_is_a_sign_of_life(service: FakeService, open_panel: Open) -> None:
    """The picture is right again as soon as something is heard, by a resume of the same epoch."""
    page = open_panel(prepare=with_clock)
    expect(page.locator(".guide")).to_be_visible()
    service.is_mute = True
    page.clock.fast_forward(16_000)
    expect(page.locator(".body")).to_have_class(re.compile("past"))
    service.is_mute = False
    wait_for(lambda: len(service.hellos) > 1, page=page)
    service.frame(values=[scenes.value("middle", 1020.0)])

    expect(page.locator(".body")).not_to_have_class(re.compile("past"), timeout=2000)
    expect(page.locator(".bar")).to_contain_text("Quiet")
    expect(page.locator(".guide [data-figure]")).to_have_text("1020")
    assert (service.hellos[-1].epoch, service.hellos[-1].seq) == ("one", 100)


def test_frames_that_never_arrive_raise_no_event_and_are_noticed(service: FakeService, open_panel: Open) -> None:
    """A link that swallows everything keeps its socket open; the page counts the silence itself."""
    routes: list[WebSocketRoute] = []

    def swallow(route: WebSocketRoute) -> None:
        routes.append(route)
        server = route.connect_to_server()
        server.on_message(lambda message: route.send(message) if len(routes) == 1 and not swallowing else None)

    swallowing: list[bool] = []

    def prepare(page: Page) -> None:
        page.clock.install()
        page.route_web_socket("**/live", swallow)

    page = open_panel(prepare=prepare)
    expect(page.locator(".guide")).to_be_visible()
    swallowing.append(True)
    page.clock.fast_forward(16_000)

    expect(page.locator(".body")).to_have_class(re.compile("past"))
    wait_for(lambda: len(routes) == 2, page=page)


@pytest.mark.parametrize("is_new_epoch", [False, True])
def test_what_was_missed_is_there_after_the_link_returns(
    is_new_epoch: bool, service: FakeService, open_panel: Open
) -> None:
    """An alarm that began, one that ended and a stoke in the gap: the same picture as a fresh load."""
    service.snapshot = scenes.quiet(alarms=[scenes.spread()])
    page = open_panel()
    expect(page.locator(".bar .title")).to_have_text("Front and back drift apart")
    service.accepts = False
    service.cut()
    service.frame(values=[scenes.value("middle", 1001.0, -20.0)], alarms=[scenes.fall(), scenes.spread()])
    service.frame(alarms=[scenes.fall()], last_stoke=scenes.CLOCK - 30)
    if is_new_epoch:
        service.snapshot = msgspec.structs.replace(service.snapshot, epoch="two", seq=3)
    service.accepts = True
    expect(page.locator(".bar .title")).to_have_text("Temperature falling", timeout=8000)
    expect(page.locator(".guide")).to_contain_text("Stoked 3")
    fresh = open_panel()
    expect(fresh.locator(".bar .title")).to_have_text("Temperature falling")

    assert picture_of(page) == picture_of(fresh)
    assert (service.hellos[1].epoch, service.hellos[1].seq) == ("one", 100)


def test_a_lost_frame_is_asked_for_again(service: FakeService, open_panel: Open) -> None:
    """A number that was skipped means something is missing: the page asks for a snapshot rather than guess."""
    page = open_panel()
    expect(page.locator(".guide")).to_be_visible()
    service.is_mute = True
    service.frame(values=[scenes.value("middle", 1111.0)])
    service.is_mute = False
    service.frame(values=[scenes.value("back", 777.0)])

    expect(page.locator(".guide [data-figure]")).to_have_text("1111")
    expect(page.locator("[data-figure]").last).to_have_text("777")
    assert service.hellos[-1].epoch is None


def test_a_page_that_was_away_trusts_nothing(service: FakeService, open_panel: Open) -> None:
    """Visible again: late at once, a fresh snapshot asked for, right within 2 s."""
    page = open_panel()
    expect(page.locator(".guide")).to_be_visible()
    service.is_mute = True
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    expect(page.locator(".late")).to_be_visible()
    wait_for(lambda: len(service.hellos) == 2, page=page)
    service.is_mute = False
    service.snapshot = msgspec.structs.replace(service.snapshot, values=[scenes.value("middle", 1200.0)])
    page.evaluate("dispatchEvent(new Event('online'))")

    expect(page.locator(".guide [data-figure]")).to_have_text("1200", timeout=2000)
    expect(page.locator(".late")).to_have_count(0)
    assert service.hellos[-1].epoch is None


def test_a_broken_message_stops_nothing(service: FakeService, open_panel: Open) -> None:
    """What cannot be read is counted and passed over; the next message counts again."""
    page = open_panel()
    expect(page.locator(".guide")).to_be_visible()
    bad = msgspec.structs.replace(service.snapshot.values[0], celsius="hot")
    service.say(Frame(epoch="one", seq=101, clock=scenes.CLOCK, values=[bad]))
    service.frame(values=[scenes.value("middle", 1050.0)])

    expect(page.locator(".guide [data-figure]")).to_have_text("1050")


@pytest.mark.parametrize("wrong", [datetime(2026, 1, 1), datetime(2030, 6, 1)])  # noqa: DTZ001 (a wrong clock is the point)
def test_the_tablets_own_clock_does_not_matter(wrong: datetime, service: FakeService, open_panel: Open) -> None:
    """Ages and times come from the service and the monotonic clock, months off or not."""
    page = open_panel(prepare=lambda page: page.clock.install(time=wrong))

    expect(page.locator(".head")).to_contain_text("Firing for 61 h 00")
    expect(page.locator(".clock")).to_have_text("21:26")
    expect(page.locator(".late")).to_have_count(0)


def test_a_page_without_service_says_so(service: FakeService, open_panel: Open) -> None:
    """Before the first word there is no number and no claim of quiet."""
    service.accepts = False
    page = open_panel(prepare=with_clock)
    expect(page.locator(".wait")).to_have_text("Waiting for the first word from the kiln.")
    page.clock.fast_forward(16_000)

    expect(page.locator(".bar .title")).to_have_text("Picture stands still")
    expect(page.locator("[data-figure]")).to_have_count(0)
