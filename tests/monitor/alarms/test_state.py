"""The state table of one alarm.

The moves are those of the alarm state diagram of ANSI/ISA-18.2 and the state machines of OPC 10000-9 (from memory):
normal, unacknowledged, acknowledged, returned to normal unacknowledged, suppressed, latched.
"""

import pytest

from monitor.alarms.state import ACTIVE, ANNOUNCED, SOUNDING, TRANSITIONS, Event, Reason, State, walk

MOVES = [
    (State.NORMAL, Event.ACTIVE, State.UNACKED, Reason.BEGAN),
    (State.UNACKED, Event.ACKNOWLEDGE, State.ACKED, Reason.ACKNOWLEDGED),
    (State.ACKED, Event.INACTIVE, State.NORMAL, Reason.ENDED),
    (State.UNACKED, Event.INACTIVE, State.CLEARED, Reason.ENDED_UNSEEN),
    (State.CLEARED, Event.ACKNOWLEDGE, State.NORMAL, Reason.ACKNOWLEDGED),
    (State.CLEARED, Event.ACTIVE, State.UNACKED, Reason.BEGAN),
    (State.UNACKED, Event.LATCH, State.LATCHED, Reason.LATCHED),
    (State.LATCHED, Event.ACKNOWLEDGE, State.NORMAL, Reason.ACKNOWLEDGED),
    (State.ACKED, Event.WORSE, State.UNACKED, Reason.WORSE),
    (State.NORMAL, Event.SUPPRESS, State.SUPPRESSED, Reason.SUPPRESSED),
    (State.SUPPRESSED, Event.INACTIVE, State.NORMAL, Reason.UNSUPPRESSED),
    (State.SUPPRESSED, Event.ACTIVE, State.UNACKED, Reason.BEGAN),
    (State.UNACKED, Event.SHELVE, State.SHELVED, Reason.SHELVED),
    (State.ACKED, Event.SHELVE, State.SHELVED, Reason.SHELVED),
    (State.SHELVED, Event.SHELVE, State.SHELVED, Reason.SHELVED),
    (State.SHELVED, Event.UNSHELVE, State.UNACKED, Reason.UNSHELVED),
    (State.SHELVED, Event.UNSHELVE_OVER, State.NORMAL, Reason.ENDED),
    (State.SHELVED, Event.WORSE, State.UNACKED, Reason.WORSE),
    (State.ACKED, Event.REMIND, State.UNACKED, Reason.REMINDED),
    (State.UNACKED, Event.RESOLVE, State.NORMAL, Reason.ENDED),
]
STAYS = [
    (State.NORMAL, Event.INACTIVE),
    (State.UNACKED, Event.ACTIVE),
    (State.UNACKED, Event.SUPPRESS),
    (State.ACKED, Event.SUPPRESS),
    (State.ACKED, Event.ACTIVE),
    (State.CLEARED, Event.INACTIVE),
    (State.CLEARED, Event.SUPPRESS),
    (State.LATCHED, Event.INACTIVE),
    (State.LATCHED, Event.LATCH),
    (State.SHELVED, Event.ACTIVE),
    (State.SHELVED, Event.INACTIVE),
    (State.SHELVED, Event.SUPPRESS),
    (State.UNACKED, Event.REMIND),
]


@pytest.mark.parametrize(("state", "event", "after", "reason"), MOVES)
def test_a_listed_event_moves_the_alarm(state: State, event: Event, after: State, reason: Reason) -> None:
    """Each move of the state diagram leads where the standard says, with its reason."""
    assert walk(state, event) == (after, reason)


@pytest.mark.parametrize(("state", "event"), STAYS)
def test_an_event_without_meaning_changes_nothing(state: State, event: Event) -> None:
    """A pair that is not in the table leaves the alarm as it is."""
    assert walk(state, event) == (state, Reason.NO_CHANGE)


@pytest.mark.parametrize("state", sorted(SOUNDING))
def test_what_sounds_falls_silent_only_by_being_seen_or_ending(state: State) -> None:
    """From a sounding state only a person or the end of the condition leads to a silent one."""
    ways_out = {event for event in Event if walk(state, event)[0] not in SOUNDING}

    assert ways_out <= {Event.ACKNOWLEDGE, Event.INACTIVE, Event.RESOLVE, Event.SHELVE}


def test_what_was_announced_leaves_the_list_only_when_seen_and_over() -> None:
    """Off the list leads only what was seen or put off and is over, or ended by somebody's doing; suppression never."""
    gone = {(state, event) for state in ANNOUNCED for event in Event if walk(state, event)[0] not in ANNOUNCED}

    assert gone == {
        (State.UNACKED, Event.RESOLVE),
        (State.ACKED, Event.RESOLVE),
        (State.SHELVED, Event.UNSHELVE_OVER),
        (State.ACKED, Event.INACTIVE),
        (State.ACKED, Event.LATCH),
        (State.CLEARED, Event.ACKNOWLEDGE),
        (State.LATCHED, Event.ACKNOWLEDGE),
    }


def test_every_state_can_be_reached_and_left() -> None:
    """The table has no dead end and no state that nothing leads to."""
    reached = {after for (before, _), (after, _) in TRANSITIONS.items() if after is not before}
    left = {before for (before, _), (after, _) in TRANSITIONS.items() if after is not before}

    assert reached == left == set(State)


def test_acknowledging_twice_says_so() -> None:
    """A second acknowledgement changes nothing and is told why."""
    assert walk(State.ACKED, Event.ACKNOWLEDGE) == (State.ACKED, Reason.ALREADY_ACKNOWLEDGED)
    assert walk(State.NORMAL, Event.ACKNOWLEDGE) == (State.NORMAL, Reason.NO_SUCH_ALARM)
    assert walk(State.SUPPRESSED, Event.ACKNOWLEDGE) == (State.SUPPRESSED, Reason.NO_SUCH_ALARM)


def test_sounding_is_part_of_active_is_part_of_announced() -> None:
    """The groups of states contain one another."""
    assert SOUNDING < ACTIVE < ANNOUNCED
