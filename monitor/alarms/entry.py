"""What the book remembers of one alarm, in a form that can be saved."""

import msgspec

from monitor.alarms.circumstance import Circumstance
from monitor.alarms.state import ACTIVE, SOUNDING, State
from monitor.model import Alarm


class OpenCause(msgspec.Struct):
    """One open condition behind an alarm; `begun` is epoch seconds of record time."""

    begun: float
    text: str
    sensor: str | None


class Entry(msgspec.Struct):
    """One alarm with its memory.

    `subject` is the sensor or node that the alarm is about, None for the whole kiln. `open` holds what is true now, by
    fault ("" where there is only one). `gone_since` is when the condition was last seen to be over, while the off-delay
    runs. `blind` says that a sign could not be known, `shelved_for` how many seconds of record time it was put off.
    `held` says whether the condition held when it could last be judged, `circumstances` what made it worse then.
    `unseen_since` is when the alarm last began to sound, `remind_since` when one button for all has seen it. `order`
    numbers activations. Other fields as in `monitor.model.Alarm`.
    """

    key: str
    row: str
    subject: str | None
    priority: int
    state: State = State.NORMAL
    open: dict[str, OpenCause] = {}
    gone_since: float | None = None
    no_data: bool = False
    since: float = 0.0
    cleared: float | None = None
    acked_at: float | None = None
    acked_by: str | None = None
    shelved_until: float | None = None
    shelved_by: str | None = None
    shelved_why: str | None = None
    shelved_for: float = 0.0
    held: bool = False
    blind: bool = False
    unseen_since: float = 0.0
    escalation: int = 0
    remind_since: float | None = None
    circumstances: frozenset[Circumstance] = frozenset()
    suppressed_by: str | None = None
    sensor: str | None = None
    text: str = ""
    order: int = 0


def alarm_of(entry: Entry) -> Alarm:
    """Return the alarm as others see it; one that is suppressed counts as active and not seen."""
    return Alarm(
        key=entry.key,
        row=entry.row,
        priority=entry.priority,
        active=entry.held if entry.state is State.SHELVED else entry.state in ACTIVE | {State.SUPPRESSED},
        acked=entry.state in {State.NORMAL, State.ACKED, State.SHELVED},
        no_data=entry.no_data,
        since=entry.since,
        cleared=entry.cleared,
        acked_at=entry.acked_at,
        acked_by=entry.acked_by,
        shelved_until=entry.shelved_until if entry.state is State.SHELVED else None,
        shelved_by=entry.shelved_by if entry.state is State.SHELVED else None,
        shelved_why=entry.shelved_why if entry.state is State.SHELVED else None,
        suppressed_by=entry.suppressed_by,
        sensor=entry.sensor,
        text=entry.text,
        escalation=entry.escalation if entry.state in SOUNDING else 0,
    )
