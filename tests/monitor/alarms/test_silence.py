"""Silence: 60 s without sound, broken by what is new or worse."""

import pytest

from monitor.alarms.records import AlarmChange
from monitor.alarms.silence import BREAKS_SILENCE, Silence
from monitor.alarms.state import Reason
from monitor.model import Alarm

ALARM = Alarm("fall", "temperature-falling", 2, True, False, False, 0.0, None, None, None, None, None, "front", "...")


def change(reason: Reason) -> AlarmChange:
    """Return a change for `reason`."""
    return AlarmChange("fall", reason, 0.0, None, ALARM)


def test_silence_lasts_its_length_and_no_longer() -> None:
    """Sound is off for 60 s of the host's clock."""
    silence = Silence(60.0)
    silence.start(1000.0)

    assert [silence.remaining_s(t) for t in (1000.0, 1059.0, 1060.0, 1059.0)] == [60.0, 1.0, 0.0, 0.0]


def test_without_a_press_there_is_no_silence() -> None:
    """Nothing is silenced by itself."""
    assert Silence(60.0).remaining_s(0.0) == 0.0


def test_a_second_press_begins_anew() -> None:
    """Pressing again counts from that press and does not add up."""
    silence = Silence(60.0)
    silence.start(0.0)
    silence.start(30.0)

    assert silence.remaining_s(30.0) == 60.0


@pytest.mark.parametrize("reason", [Reason.BEGAN, Reason.WORSE, Reason.REMINDED, Reason.UNSHELVED])
def test_what_begins_to_sound_breaks_the_silence(reason: Reason) -> None:
    """Silence hides only what was heard already."""
    silence = Silence(60.0)
    silence.start(0.0)

    assert silence.hear([change(Reason.ENDED), change(reason)])
    assert silence.remaining_s(1.0) == 0.0


@pytest.mark.parametrize("reason", sorted(set(Reason) - BREAKS_SILENCE))
def test_other_changes_leave_the_silence(reason: Reason) -> None:
    """An end, an acknowledgement or a loss of data breaks no silence."""
    silence = Silence(60.0)
    silence.start(0.0)

    assert not silence.hear([change(reason)])
    assert silence.remaining_s(1.0) == 59.0


def test_nothing_to_break_is_no_break() -> None:
    """A new alarm while sound is on ends no silence."""
    assert not Silence(60.0).hear([change(Reason.BEGAN)])


def test_a_clock_set_back_makes_silence_no_longer() -> None:
    """However the clock moves, no more than one length remains."""
    silence = Silence(60.0)
    silence.start(1000.0)

    assert silence.remaining_s(0.0) == 60.0
