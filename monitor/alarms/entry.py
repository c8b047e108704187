"""What the book remembers of one alarm, in a form that can be saved."""

import msgspec

from monitor.alarms.state import ACTIVE, State
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
    runs. `order` numbers activations. Other fields as in `monitor.model.Alarm`.
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
        active=entry.state in ACTIVE or entry.state is State.SUPPRESSED,
        acked=entry.state in {State.NORMAL, State.ACKED},
        no_data=entry.no_data,
        since=entry.since,
        cleared=entry.cleared,
        acked_at=entry.acked_at,
        acked_by=entry.acked_by,
        shelved_until=entry.shelved_until,
        suppressed_by=entry.suppressed_by,
        sensor=entry.sensor,
        text=entry.text,
    )
