"""The parts that all sources share."""

import logging

import pytest

from monitor.sources.source import Backoff, SourceState


def test_pauses_double_up_to_the_longest() -> None:
    """A line that stays away is tried after 0.2 s, then ever more seldom, at most every 4 s."""
    backoff = Backoff()

    assert [backoff.pause_s(0.0) for _ in range(7)] == [0.2, 0.4, 0.8, 1.6, 3.2, 4.0, 4.0]


@pytest.mark.parametrize(("up_for_s", "pause_s"), [(4.9, 4.0), (5.0, 0.2)])
def test_line_that_stayed_up_is_tried_again_at_once(up_for_s: float, pause_s: float) -> None:
    """A line that only flickered keeps its pause, so that nothing spins."""
    backoff = Backoff()
    for _ in range(6):
        backoff.pause_s(0.0)

    assert backoff.pause_s(up_for_s) == pause_s


def test_state_is_logged_when_it_changes(caplog: pytest.LogCaptureFixture) -> None:
    """The same trouble is told once, however often it is met."""
    caplog.set_level(logging.INFO)
    state = SourceState("shed", "serial")
    for _ in range(3):
        state.fall("not there")
    state.fall("in use")
    state.rise()
    state.rise()
    state.fall("not there")

    assert caplog.messages == ["shed: not there", "shed: in use", "shed: connected", "shed: not there"]
    assert (state.connected, state.error, state.counts) == (False, "not there", {"connections": 1})
