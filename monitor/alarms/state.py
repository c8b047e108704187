"""The states of one alarm as a table, and the step that walks it.

Theory of operation. What the world does is first filtered by on- and off-delay (`judge.py`); what remains are the
events below. The names are those of OPC 10000-9 (Alarms & Conditions): Active, Acked, Suppressed, Shelved, Latched.
An alarm that is over and was seen is NORMAL. One that ended before anyone saw it is CLEARED: silent, listed until seen.
One that somebody put off is SHELVED: silent and listed, whatever its condition does meanwhile, until its time is over
or it is taken back or grows worse; then it sounds again if its condition holds. A pair that is not in the table
changes nothing.
"""

from enum import StrEnum


class State(StrEnum):
    """Where one alarm stands."""

    NORMAL = "normal"  # Inactive, Acked
    SUPPRESSED = "suppressed"  # its condition holds, but another alarm explains it; never announced so far
    UNACKED = "unacked"  # Active, Unacked: this sounds
    ACKED = "acked"  # Active, Acked
    CLEARED = "cleared"  # Inactive, Unacked
    LATCHED = "latched"  # condition over, held Active and sounding until seen
    SHELVED = "shelved"  # TimedShelved: put off by somebody for a time


class Event(StrEnum):
    """What can happen to one alarm."""

    ACTIVE = "active"
    INACTIVE = "inactive"
    RESOLVE = "resolve"  # inactive, in a row that can only end by somebody's doing
    LATCH = "latch"  # inactive, in a row that latches
    SUPPRESS = "suppress"
    WORSE = "worse"
    ACKNOWLEDGE = "acknowledge"
    SHELVE = "shelve"
    UNSHELVE = "unshelve"  # taken back or its time over, and its condition holds
    UNSHELVE_OVER = "unshelve-over"  # the same, and its condition is over
    REMIND = "remind"  # seen by whoever pressed one button for all, and not better after the time to act


class Reason(StrEnum):
    """What was decided and why; the change words of the journal."""

    NO_CHANGE = "no-change"
    BEGAN = "began"  # became active
    ENDED_UNSEEN = "ended-unseen"  # returned to normal, nobody has seen it yet
    ENDED = "ended"  # returned to normal after it was seen
    LATCHED = "latched"
    SUPPRESSED = "suppressed"
    UNSUPPRESSED = "unsuppressed"
    WORSE = "worse"
    ACKNOWLEDGED = "acknowledged"
    SHELVED = "shelved"
    UNSHELVED = "unshelved"
    REMINDED = "reminded"  # not better since it was seen: it sounds again
    ESCALATED = "escalated"  # priority 1 and still not seen: louder, then others are called
    SILENCED = "silenced"  # all sound was switched off for a short while
    NO_DATA = "no-data"  # can no longer be judged: held
    DATA_BACK = "data-back"
    OVER = "over"  # put off, and its condition does not hold for now
    BACK = "back"  # put off, and its condition holds again
    RENAMED = "renamed"  # the same alarm, told in other words
    ALREADY_ACKNOWLEDGED = "already-acknowledged"
    NO_SUCH_ALARM = "no-such-alarm"
    NEVER_SHELVED = "never-shelved"  # this row may not be put off
    TOO_LONG = "too-long"  # not for so long


SOUNDING = frozenset({State.UNACKED, State.LATCHED})
ACTIVE = frozenset({State.UNACKED, State.ACKED, State.LATCHED})
ANNOUNCED = ACTIVE | {State.CLEARED, State.SHELVED}
"""What a person must be shown: active, not yet seen, or put off."""

TRANSITIONS: dict[tuple[State, Event], tuple[State, Reason]] = {
    (State.NORMAL, Event.ACTIVE): (State.UNACKED, Reason.BEGAN),
    (State.NORMAL, Event.SUPPRESS): (State.SUPPRESSED, Reason.SUPPRESSED),
    (State.SUPPRESSED, Event.ACTIVE): (State.UNACKED, Reason.BEGAN),
    (State.SUPPRESSED, Event.INACTIVE): (State.NORMAL, Reason.UNSUPPRESSED),
    (State.SUPPRESSED, Event.LATCH): (State.NORMAL, Reason.UNSUPPRESSED),
    (State.UNACKED, Event.INACTIVE): (State.CLEARED, Reason.ENDED_UNSEEN),
    (State.UNACKED, Event.RESOLVE): (State.NORMAL, Reason.ENDED),
    (State.ACKED, Event.RESOLVE): (State.NORMAL, Reason.ENDED),
    (State.SUPPRESSED, Event.RESOLVE): (State.NORMAL, Reason.UNSUPPRESSED),
    (State.UNACKED, Event.LATCH): (State.LATCHED, Reason.LATCHED),
    (State.UNACKED, Event.WORSE): (State.UNACKED, Reason.WORSE),
    (State.UNACKED, Event.ACKNOWLEDGE): (State.ACKED, Reason.ACKNOWLEDGED),
    (State.ACKED, Event.INACTIVE): (State.NORMAL, Reason.ENDED),
    (State.ACKED, Event.LATCH): (State.NORMAL, Reason.ENDED),
    (State.ACKED, Event.WORSE): (State.UNACKED, Reason.WORSE),
    (State.ACKED, Event.ACKNOWLEDGE): (State.ACKED, Reason.ALREADY_ACKNOWLEDGED),
    (State.CLEARED, Event.ACTIVE): (State.UNACKED, Reason.BEGAN),
    (State.CLEARED, Event.ACKNOWLEDGE): (State.NORMAL, Reason.ACKNOWLEDGED),
    (State.LATCHED, Event.ACTIVE): (State.UNACKED, Reason.BEGAN),
    (State.LATCHED, Event.ACKNOWLEDGE): (State.NORMAL, Reason.ACKNOWLEDGED),
    (State.UNACKED, Event.SHELVE): (State.SHELVED, Reason.SHELVED),
    (State.ACKED, Event.SHELVE): (State.SHELVED, Reason.SHELVED),
    (State.LATCHED, Event.SHELVE): (State.SHELVED, Reason.SHELVED),
    (State.SHELVED, Event.SHELVE): (State.SHELVED, Reason.SHELVED),
    (State.SHELVED, Event.WORSE): (State.UNACKED, Reason.WORSE),
    (State.SHELVED, Event.UNSHELVE): (State.UNACKED, Reason.UNSHELVED),
    (State.SHELVED, Event.UNSHELVE_OVER): (State.NORMAL, Reason.ENDED),
    (State.SHELVED, Event.ACKNOWLEDGE): (State.SHELVED, Reason.ALREADY_ACKNOWLEDGED),
    (State.ACKED, Event.REMIND): (State.UNACKED, Reason.REMINDED),
    (State.NORMAL, Event.ACKNOWLEDGE): (State.NORMAL, Reason.NO_SUCH_ALARM),
    (State.SUPPRESSED, Event.ACKNOWLEDGE): (State.SUPPRESSED, Reason.NO_SUCH_ALARM),
    (State.NORMAL, Event.SHELVE): (State.NORMAL, Reason.NO_SUCH_ALARM),
    (State.SUPPRESSED, Event.SHELVE): (State.SUPPRESSED, Reason.NO_SUCH_ALARM),
    (State.CLEARED, Event.SHELVE): (State.CLEARED, Reason.NO_SUCH_ALARM),
}


def walk(state: State, event: Event) -> tuple[State, Reason]:
    """Return the state after `event`, and why."""
    return TRANSITIONS.get((state, event), (state, Reason.NO_CHANGE))
