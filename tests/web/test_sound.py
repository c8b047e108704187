"""Sound: honest about being off, the right pattern for each priority, silence, and "seen"."""

from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.web import scenes
from tests.web.conftest import Open, wait_for
from tests.web.fake_service import FakeService

EARS = """
  window.starts = [];
  const start = OscillatorNode.prototype.start;
  OscillatorNode.prototype.start = function (at) {
    window.starts.push([this.frequency.value, at - this.context.currentTime]);
    return start.call(this, at);
  };
  const connect = AudioNode.prototype.connect;
  AudioNode.prototype.connect = function (target, ...rest) {
    if (target === this.context.destination) {
      window.ear = new AnalyserNode(this.context, {fftSize: 8192});
      connect.call(this, window.ear);
      window.memory = [0, 0.6, 1.2, 1.8, 2.4, 3.0].map((delayTime) => {
        const late = new DelayNode(this.context, {delayTime, maxDelayTime: 3});
        const analyser = new AnalyserNode(this.context, {fftSize: 32768});
        connect.call(this, late);
        connect.call(late, analyser);
        return analyser;
      });
    }
    return connect.call(this, target, ...rest);
  };
"""
LOUDNESS = """() => {
  if (!window.ear) return 0;
  const wave = new Float32Array(window.ear.fftSize);
  window.ear.getFloatTimeDomainData(wave);
  return Math.sqrt(wave.reduce((sum, one) => sum + one * one, 0) / wave.length);
}"""
REMEMBER = """
  window.loudest = 0;
  setInterval(() => {
    for (const memory of window.memory ?? []) {
      const wave = new Float32Array(memory.fftSize);
      memory.getFloatTimeDomainData(wave);
      window.loudest = wave.reduce((peak, one) => Math.max(peak, Math.abs(one)), window.loudest);
    }
  }, 250);
"""
"""Keeps the highest peak: it asks four times a second for the last 3.6 s, so that a pulse outlives a busy machine."""


def with_ears(page: Page) -> None:
    """Let the test hear what the page plays."""
    page.add_init_script(EARS)
    page.add_init_script(REMEMBER)


def hears(page: Page) -> bool:
    """Tell whether anything can be heard just now (the last 170 ms)."""
    return float(page.evaluate(LOUDNESS)) > 0.01


def has_heard(page: Page) -> bool:
    """Tell whether anything was heard since the page opened: a single pulse may fall between two questions."""
    return float(page.evaluate("window.loudest")) > 0.02


def stays_silent(page: Page, for_ms: int = 1500) -> bool:
    """Listen for a while and tell whether nothing was heard."""
    return not any(hears(page) for _ in range(for_ms // 100) if page.wait_for_timeout(100) is None)


def test_the_bar_says_sound_is_off_until_a_touch(
    service: FakeService, open_panel: Open, touch_first_browser: Browser
) -> None:
    """Before a touch the bar is there and the service is told "off"; one touch anywhere on it and both know better."""
    page = open_panel(within=touch_first_browser)
    wait_for(lambda: bool(service.reports), page=page)
    page.wait_for_timeout(1500)
    before = {report.sound for report in service.reports}
    bar = page.locator(".sound")
    expect(bar).to_have_text("Sound is off: tap here")
    box = bar.bounding_box()
    page.mouse.click(640, 20)
    expect(bar).to_have_count(0, timeout=2000)
    wait_for(lambda: service.reports[-1].sound == "running", 2, page)

    assert before == {"off"}
    assert box is not None
    assert box["width"] == 1280


@pytest.mark.parametrize(
    "failure",
    [
        "Object.defineProperty(AudioContext.prototype, 'currentTime', {get: () => 1})",
        "Object.defineProperty(AudioContext.prototype, 'state', {get: () => 'interrupted'})",
    ],
)
def test_the_bar_comes_back_when_the_audio_clock_stands_still(
    failure: str, service: FakeService, open_panel: Open
) -> None:
    """A context that says "running" with a still clock, or is interrupted, is off: screen and service know in 2 s."""
    page = open_panel()
    expect(page.locator(".sound")).to_have_count(0)
    wait_for(lambda: service.reports[-1].sound == "running", page=page)
    page.evaluate(failure)

    expect(page.locator(".sound")).to_be_visible(timeout=2000)
    wait_for(lambda: service.reports[-1].sound == "off", 2, page)


def test_a_page_that_nobody_sees_tells_the_service(service: FakeService, open_panel: Open) -> None:
    """Visibility is reported within 2 s of its change."""
    page = open_panel()
    wait_for(lambda: bool(service.reports) and service.reports[-1].visible, page=page)
    page.evaluate(
        """() => {
          Object.defineProperty(document, "visibilityState", {get: () => "hidden"});
          document.dispatchEvent(new Event("visibilitychange"));
        }"""
    )

    wait_for(lambda: not service.reports[-1].visible, 2, page)


@pytest.mark.parametrize(("priority", "hertz"), [(1, {660.0, 880.0}), (2, {700.0}), (3, {520.0})])
def test_an_unseen_alarm_sounds_in_the_pattern_of_its_priority(
    priority: int, hertz: set[float], service: FakeService, open_panel: Open
) -> None:
    """The frequencies are those of the priority, put on the audio clock 90 s ahead, and they are heard."""
    page = open_panel(prepare=with_ears)
    expect(page.locator(".sound")).to_have_count(0)
    service.frame(alarms=[scenes.fall(priority=priority)])
    wait_for(lambda: has_heard(page), 3, page)
    starts = page.evaluate("window.starts")

    assert {at for at, _ in starts} == hertz
    assert abs(min(ahead for _, ahead in starts)) < 0.5  # the first tone is due at once, not after a period
    assert max(ahead for _, ahead in starts) > 58
    assert max(ahead for _, ahead in starts) < 91


def test_quiet_is_quiet(service: FakeService, open_panel: Open) -> None:
    """Nothing sounds without an alarm, for a seen alarm, or for one that is over."""
    alarms = [scenes.fall(acked=True), scenes.spread(active=False)]
    service.snapshot = scenes.quiet(alarms=alarms)
    page = open_panel(prepare=with_ears)
    expect(page.locator(".bar")).to_contain_text("over, not yet seen")

    assert page.evaluate("window.starts") == []


def test_silence_stops_all_sound_for_sixty_seconds(service: FakeService, open_panel: Open) -> None:
    """One tap: at once no sound, the service is asked, the alarm stays; after 60 s it sounds again."""
    service.snapshot = scenes.quiet(alarms=[scenes.fall()])

    def prepare(page: Page) -> None:
        with_ears(page)
        page.clock.install()

    page = open_panel(prepare=prepare)
    wait_for(lambda: hears(page), page=page)
    page.get_by_role("button", name="Silence 60 s").click()
    page.wait_for_timeout(250)
    was_silent = stays_silent(page)
    expect(page.locator(".bar")).to_contain_text("Silent for")
    expect(page.locator(".bar .title")).to_have_text("Temperature falling")
    for _ in range(11):
        service.beat()
        page.wait_for_timeout(30)
        page.clock.fast_forward(4_000)
    still_silent = stays_silent(page, 600)
    page.clock.fast_forward(15_000)
    wait_for(lambda: hears(page), 3, page)

    assert was_silent
    assert still_silent
    assert service.posts == [("/api/silence", {"who": None})]


@pytest.mark.parametrize("first", [[], [scenes.spread()]])
def test_a_new_alarm_breaks_the_silence(first: list[Any], service: FakeService, open_panel: Open) -> None:
    """Silence covers what sounds now; a new alarm is heard at once, also where the silence was asked for elsewhere."""
    service.snapshot = scenes.quiet(alarms=first)
    page = open_panel(prepare=with_ears)
    expect(page.locator(".sound")).to_have_count(0)
    service.frame(silenced_s=60.0)
    page.wait_for_timeout(700)
    was_silent = stays_silent(page, 500)
    service.frame(alarms=[*first, scenes.fall()])
    wait_for(lambda: hears(page), 3, page)

    assert was_silent


def test_the_same_alarm_grown_worse_breaks_the_silence(service: FakeService, open_panel: Open) -> None:
    """From priority 2 to 1 is worse."""
    service.snapshot = scenes.quiet(alarms=[scenes.fall(priority=2)])
    page = open_panel(prepare=with_ears)
    page.get_by_role("button", name="Silence 60 s").click()
    page.wait_for_timeout(700)
    was_silent = stays_silent(page, 500)
    service.frame(alarms=[scenes.fall(priority=1)])
    wait_for(lambda: hears(page), 3, page)

    assert was_silent


def test_seen_is_asked_of_the_service_and_shown_when_it_is_stored(service: FakeService, open_panel: Open) -> None:
    """A tap posts; the screen changes and the sound ends when the service says so, with who it was."""
    service.snapshot = scenes.quiet(alarms=[scenes.fall(), scenes.broken_sensor()])
    page = open_panel(prepare=with_ears)
    page.get_by_role("button", name="Seen: Temperature falling").click()
    wait_for(lambda: service.posts == [("/api/alarms/fall/seen", {"who": None})], page=page)
    expect(page.locator(".bar .title")).to_have_text("Temperature falling")
    service.frame(alarms=[scenes.fall(acked=True, acked_by="Ines"), scenes.broken_sensor()])
    expect(page.locator(".bar .title")).to_have_text("Sensor failed")
    page.get_by_role("button", name="1 more alarm").click()

    expect(page.locator(".sheet li").nth(1)).to_contain_text("seen by Ines")
    page.locator(".sheet").get_by_role("button", name="Seen: Sensor failed").click()
    wait_for(lambda: service.posts[-1] == ("/api/alarms/sensor:back/seen", {"who": None}), page=page)


def test_a_tap_that_was_not_stored_is_said(service: FakeService, open_panel: Open) -> None:
    """When the service refuses or is away the screen says so: nobody believes an alarm seen that is not."""
    service.snapshot = scenes.quiet(alarms=[scenes.fall()])
    service.post_status = 503
    page = open_panel()
    page.get_by_role("button", name="Seen: Temperature falling").click()

    expect(page.get_by_role("status")).to_have_text("Not stored: the host did not answer. Tap again.")
